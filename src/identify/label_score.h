// How much of the picture's tone variance the drawing's labels explain at a given registration.
//
// Correlation ratio (Roche, Malandain, Pennec & Ayache 1998) with a quadratic light field fitted
// along with the label means: no polarity needed, missing lumens cost little, uneven light costs
// nothing.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/design.h"
#include "identify/warp.h"

namespace cutface {

class LabelScore {
 public:
  // `detail`: little of the drawing may lie in the picture, and what explains more of it counts for
  // more: explained = 1 - (1 - share explained)^(share of the drawing that is seen).
  explicit LabelScore(const SectionDesign& plane, bool detail = false);
  ~LabelScore();

  static constexpr int kOutside = 0;
  static constexpr int kBody = 1;
  static constexpr int kFirstLumen = 2;

  struct Fit {
    double explained = 0;         // share of variance beyond the light field, 0..1
    std::vector<double> mean;     // per label, without the light
    double light[3] = {0, 0, 0};  // x, y, r^2 - 0.5 in outline radii about the outline's centroid
  };
  // `warp` goes to px of `image`; every `stride`-th sample is looked at (1, 2, 4 or 8).
  Fit Explain(const cv::Mat1f& image, const Warp& warp, int stride = 1) const;
  double operator()(const cv::Mat1f& image, const Warp& warp, int stride = 1) const {
    return Explain(image, warp, stride).explained;
  }

  // Label at a design point (raster of 1/110 of the outline's radius); outside beyond the raster.
  int LabelAt(PointUm p) const;
  double LightAt(const Fit& fit, PointUm p) const;
  // Rings' insides and liners: neither outside nor outermost body nor lumen.
  bool IsLayer(int label) const { return label >= first_layer_; }
  double radius_um() const { return radius_um_; }

 private:
  static constexpr int kLight = 3;  // x, y, r^2 beside the constants that the labels carry
  static constexpr int kStrides = 4;
  struct Sample {
    PointUm at;
    double lx = 0, ly = 0, lr = 0;  // the light field's terms here
  };
  struct Block {  // the samples of one label
    int label = 0;
    std::size_t begin = 0, end = 0;
    double weight = 1;  // of each
  };
  struct Sums;
  void TakeSamples(int label, const cv::Mat1f& depth, int most, double total_weight);
  void PrepareWhole();
  // Share of the drawing that lies in the picture; 0 where that is too little.
  double Collect(const cv::Mat1f& image, const Warp& warp, int stride,
                 std::vector<Sums>& sums) const;

  bool detail_ = false;
  double radius_um_ = 1;
  PointUm middle_;
  int labels_ = 2;
  int first_layer_ = 2;  // label of what lies within the outermost ring
  cv::Mat1s raster_;
  double pixel_um_ = 1;
  PointUm origin_;
  std::vector<Sample> samples_;
  std::vector<Block> blocks_;
  ContourUm hull_;                     // of all samples
  std::vector<Sums> whole_[kStrides];  // by block, of the places alone, when all lie in the picture
};

}  // namespace cutface
