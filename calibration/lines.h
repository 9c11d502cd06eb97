// The numbered lines of a line scale.
#pragma once

#include <string>
#include <tl/expected.hpp>
#include <vector>

#include "calibration/strips.h"

namespace cutface::calibration {

struct LinePlace {
  double u = 0, v = 0;  // in Lines::frame
};

struct Line {
  long n = 0;
  std::vector<LinePlace> places;  // slice by slice along the line
  double sigma = 0;               // standard uncertainty of the mean place, from the slices
};

struct Lines {
  Frame frame;
  double period = 0;   // px, to about a percent
  double blur_px = 0;  // Gaussian sigma across the lines
  std::vector<Line> lines;
  std::vector<std::string> remarks;
};

// Finds the densest set of parallel, evenly spaced lines. The error says in words what is wrong.
tl::expected<Lines, std::string> FindLines(const Micrograph& picture, double strip_height_px);

}  // namespace cutface::calibration
