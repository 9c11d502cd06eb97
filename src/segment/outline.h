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

// Errors: kNoSection, kTwoParts.
Result<OutlineFound> FindOutline(const cv::Mat1f& work);

}  // namespace cutface::segment
