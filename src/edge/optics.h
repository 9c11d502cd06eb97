// Camera gamma, blur and rim of one picture, told from the profiles of all its arcs together.
#pragma once

#include <optional>
#include <vector>

#include "edge/profile.h"

namespace cutface {

struct OpticsArc {
  ProfileBins bins;
  double noise = 0.01;
  int contour = 0;
  double start = 0;
  bool bright_void = false;  // void side brighter than the polymer
};

struct Optics {
  OpticsState state;
  double gamma = 1;
  double u_gamma = 0.1;
  double score = 0;
  // Doubt about the place of each contour that the choice of optics leaves, px, by contour.
  std::vector<double> u_contour;
  // Where the weighted mean over all optics puts each contour, against the best one's place, px.
  std::vector<double> offset;
};

// `gamma` when the calibration record knows it. Never fails; few arcs give a plain step.
Optics FindOptics(const std::vector<OpticsArc>& arcs, int contours, std::optional<double> gamma);

}  // namespace cutface
