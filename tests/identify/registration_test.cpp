// The score that finds rotation and names.
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/drawings.h"
#include "identify/label_score.h"

namespace cutface {
namespace {

using namespace drawings;

constexpr double kPxPerUm = 0.2;
const Eigen::Vector2d kMiddle(200.3, 199.6);

Warp Turned(double angle, double stretch = 1) {
  Warp warp;
  warp.linear = kPxPerUm * (Eigen::Rotation2Dd(angle).toRotationMatrix() *
                            Eigen::Vector2d(stretch, 1).asDiagonal());
  warp.shift = kMiddle;
  return warp;
}

// The drawing filled in with plain tones, slightly blurred: 0.5 body, 0.25 outside, 0.1 lumens.
cv::Mat1f Painted(const SectionDesign& plane, const Warp& warp) {
  cv::Mat1f image(400, 400, 0.25f);
  const auto fill = [&](const ContourUm& contour, double tone) {
    std::vector<cv::Point> points;
    for (const PointPx p : warp(contour))
      points.push_back(
          {static_cast<int>(std::lround(256 * p.x)), static_cast<int>(std::lround(256 * p.y))});
    cv::fillPoly(image, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(tone), cv::LINE_8,
                 8);
  };
  fill(plane.outline.contour, 0.5);
  for (const LumenDesign& lumen : plane.lumens) fill(lumen.shape.contour, 0.1);
  cv::GaussianBlur(image, image, {}, 0.8);
  return image;
}

class LabelScoreTest : public testing::Test {
 protected:
  const Design design_ = FourLumens();
  const SectionDesign& plane_ = design_.sections[0];
  const LabelScore score_{plane_};
  const Warp truth_ = Turned(0.4);
  const cv::Mat1f image_ = Painted(plane_, truth_);
};

// Only pixels at the edges are left unexplained; samples keep 1.6 raster px away from them.
TEST_F(LabelScoreTest, ExplainsNearlyAllAtTheTruth) { EXPECT_GT(score_(image_, truth_), 0.97); }

TEST_F(LabelScoreTest, DoesNotCareForPolarity) {
  cv::Mat1f inverted = image_.clone();
  for (float& tone : inverted) tone = 1 - tone;
  EXPECT_NEAR(score_(inverted, truth_), score_(image_, truth_), 1e-4);
  EXPECT_NEAR(score_(inverted, Turned(1.3)), score_(image_, Turned(1.3)), 1e-4);
}

TEST_F(LabelScoreTest, DoesNotCareForALightGradient) {
  cv::Mat1f lit = image_.clone();
  for (int y = 0; y < lit.rows; ++y) {
    for (int x = 0; x < lit.cols; ++x)
      lit(y, x) += static_cast<float>(6e-4 * (x - 200) - 4e-4 * (y - 200));
  }
  EXPECT_NEAR(score_(lit, truth_), score_(image_, truth_), 0.01);
  // The fit takes the light out rather than the labels: a fall of 0.24 over the picture.
  EXPECT_NEAR(score_.Explain(lit, truth_).light[0],
              // The gradient in the design's own axes, per outline radius.
              (6e-4 * std::cos(0.4) - 4e-4 * std::sin(0.4)) * kPxPerUm * score_.radius_um(), 0.01);
}

TEST_F(LabelScoreTest, DropsWhenTurnedShiftedOrMirrored) {
  const double best = score_(image_, truth_);
  EXPECT_LT(score_(image_, Turned(0.4 + 5 * kPi / 180)), best - 0.02);
  for (int k = 1; k < 12; ++k)
    EXPECT_LT(score_(image_, Turned(0.4 + 2 * kPi * k / 12)), best - 0.1) << 30 * k << " degrees";
  Warp shifted = truth_;
  shifted.shift.x() += 8;
  EXPECT_LT(score_(image_, shifted), best - 0.03);
  Warp mirrored = truth_;
  mirrored.linear.col(0) *= -1;
  EXPECT_LT(score_(image_, mirrored), best - 0.05);
}

TEST_F(LabelScoreTest, ExplainsNothingOfAFlatPicture) {
  EXPECT_NEAR(score_(cv::Mat1f(400, 400, 0.5f), truth_), 0, 1e-5);  // single precision
}

TEST_F(LabelScoreTest, LabelsAreThoseOfTheDrawing) {
  EXPECT_EQ(score_.LabelAt({0, 360}), LabelScore::kFirstLumen);
  EXPECT_EQ(score_.LabelAt({520, 260}), LabelScore::kFirstLumen + 3);
  EXPECT_EQ(score_.LabelAt({-600, 250}), LabelScore::kBody);
  EXPECT_EQ(score_.LabelAt({850, 0}), LabelScore::kOutside);
  EXPECT_EQ(score_.LabelAt({1e6, -1e6}), LabelScore::kOutside);
}

}  // namespace
}  // namespace cutface
