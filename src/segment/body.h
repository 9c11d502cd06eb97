// The body's light field, and the picture relative to it.
#pragma once

#include <opencv2/core.hpp>

#include "cutface/edge.h"
#include "segment/outline.h"

namespace cutface::segment {

struct Body {
  LightField light;     // pixels of `work`
  cv::Mat1b inside;     // 255 within the outline
  cv::Mat1f depth;      // to the outline, pixels of `work`; 0 outside
  cv::Mat1f fine;       // work / light, hardly smoothed
  cv::Mat1f relative;   // work / light, smoothed as much as its noise needs
  double noise = 0.01;  // of `relative` in the body
  double outside = 1;   // relative tone just outside
};

Body FindBody(const cv::Mat1f& work, const OutlineFound& outline);

}  // namespace cutface::segment
