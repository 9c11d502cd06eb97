// Quadratic light fields that outliers do not bend.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <vector>

namespace cutface::segment {

struct LightSample {
  double u, v, tone;  // u, v within about -1 .. 1
};

// 1, u, v, u^2, uv, v^2. Iteratively reweighted least squares (Tukey's biweight), starting from the
// median. REQUIRES: not empty.
std::array<double, 6> FitLight(const std::vector<LightSample>& samples);
double LightAt(const std::array<double, 6>& c, double u, double v);

// The picture divided by the light of its surroundings, fitted to a strip along the frame; the mean
// tone stays.
cv::Mat1f Flattened(const cv::Mat1f& image);

}  // namespace cutface::segment
