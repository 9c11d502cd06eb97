// Small helpers on float pictures shared by the files of this room.
#pragma once

#include <opencv2/core.hpp>

#include "cutface/geometry.h"

namespace cutface {

// Bilinear sample; coordinates outside are clamped to the border.
inline float SampleAt(const cv::Mat1f& image, double x, double y) {
  x = std::clamp(x, 0.0, image.cols - 1.001);
  y = std::clamp(y, 0.0, image.rows - 1.001);
  const int xi = static_cast<int>(x), yi = static_cast<int>(y);
  const float fx = static_cast<float>(x - xi), fy = static_cast<float>(y - yi);
  const float* top = image.ptr<float>(yi) + xi;
  const float* bottom = image.ptr<float>(yi + 1) + xi;
  return (1 - fy) * ((1 - fx) * top[0] + fx * top[1]) +
         fy * ((1 - fx) * bottom[0] + fx * bottom[1]);
}

inline bool InsideImage(const cv::Mat1f& image, double x, double y, double margin = 0) {
  return x >= margin && y >= margin && x <= image.cols - 1 - margin && y <= image.rows - 1 - margin;
}

// Fills the contour with `value`.
void FillContour(cv::Mat& mask, std::span<const PointPx> contour, int value);

}  // namespace cutface
