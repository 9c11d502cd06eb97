// Where the part is: closed outlines proposed by grey levels and scored by their edges.
#pragma once

#include <opencv2/core.hpp>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface::segment {

struct OutlineFound {
  ContourPx contour;  // pixels of `work`, runs outside where the frame cuts the part
  int way = 1;        // +1: the part is brighter than what it lies in, -1: darker
  double inside = 0;  // tones on its two sides
  double outside = 0;
  double score = 0;  // 0..1
  bool cut_by_frame = false;
};

// Candidates, the likeliest first: the outermost credible one, then the rest by score; not empty.
// Errors: kNoSection.
Result<std::vector<OutlineFound>> FindOutlines(const cv::Mat1f& work);

// How many of the others lie beside the part, as large and as clear as it (0: it is alone).
int OutlinesBeside(const OutlineFound& part, const std::vector<OutlineFound>& all);

}  // namespace cutface::segment
