// How much of the picture's tone variance the drawing's labels explain at a given registration.
//
// Correlation ratio (Roche, Malandain, Pennec & Ayache 1998) with a quadratic light field fitted along
// with the label means: no polarity needed, missing lumens cost little, uneven light costs nothing.
#pragma once

#include <vector>

#include <opencv2/core.hpp>

#include "cutface/design.h"
#include "identify/warp.h"

namespace cutface {

class LabelScore {
 public:
  explicit LabelScore(const SectionDesign& plane);

  // Share of variance explained beyond the light field, 0..1. `warp` goes to px of `image`.
  double operator()(const cv::Mat1f& image, const Warp& warp) const;
  // Fitted label means at the last evaluation are not kept: this function returns them.
  std::vector<double> LabelMeans(const cv::Mat1f& image, const Warp& warp) const;

  static constexpr int kOutside = 0;
  static constexpr int kBody = 1;
  static constexpr int kFirstLumen = 2;

 private:
  struct Sample {
    PointUm at;
    int label = 0;
    double weight = 1;
  };
  double radius_um_ = 1;
  PointUm middle_;
  int labels_ = 2;
  std::vector<Sample> samples_;
};

}  // namespace cutface
