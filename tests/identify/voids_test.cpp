#include "identify/voids.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kBlur = 1.2;

// A body of tone 1 within a disc, a lumen in it, both with blurred edges, and what a test adds.
struct Face {
  cv::Mat1f tone = cv::Mat1f(300, 300, 1.6f);
  cv::Mat1b inside = cv::Mat1b(300, 300, uchar{0});
  cv::Mat1b taken = cv::Mat1b(300, 300, uchar{0});

  Face() {
    cv::circle(inside, {150, 150}, 120, 255, cv::FILLED);
    cv::circle(taken, {150, 120}, 40, 255, cv::FILLED);
    tone.setTo(1.0f, inside);
    tone.setTo(0.2f, taken);
  }
  void Spot(PointPx at, double diameter, float value) {
    cv::circle(tone, {static_cast<int>(16 * at.x), static_cast<int>(16 * at.y)},
               static_cast<int>(8 * diameter), cv::Scalar(value), cv::FILLED, cv::LINE_8, 4);
  }
  std::vector<CoarseVoid> Voids(double noise) {
    cv::GaussianBlur(tone, tone, cv::Size(), kBlur);
    Random random(7);
    for (float& v : tone) v += static_cast<float>(noise * random.Normal());
    FaceTones tones;
    cv::GaussianBlur(tone, tones.relative, cv::Size(), 0.7);
    tones.smoothing_px = 0.7;
    tones.noise = 0.4 * noise;
    tones.typical_step = -0.8;
    return FindVoids(tones, 1, inside, taken);
  }
};

double Diameter(const CoarseVoid& v) {
  return 2 * std::sqrt(Area(std::span<const PointPx>(v.contour)) / M_PI);
}

TEST(Voids, NothingIsFoundInAPlainBody) { EXPECT_TRUE(Face().Voids(0.03).empty()); }

TEST(Voids, AVoidFourPixelsFromALumenIsFoundAtItsPlaceAndSize) {
  Face face;
  face.Spot({150, 168.5}, 9, 0.2f);  // its edge lies 4 px below the lumen's
  const auto voids = face.Voids(0.03);
  ASSERT_EQ(voids.size(), 1u);
  EXPECT_NEAR(Diameter(voids[0]), 9, 1);
  const PointPx centre = Centroid(std::span<const PointPx>(voids[0].contour));
  EXPECT_NEAR(centre.x, 150, 0.5);
  EXPECT_NEAR(centre.y, 168.5, 0.5);
  EXPECT_NEAR(voids[0].step, -0.8, 0.15);
}

TEST(Voids, VoidsOfSevenPixelsAreFoundAllOverTheBody) {
  Face face;
  for (int k = 0; k < 8; ++k) {
    const double a = 0.3 + k * M_PI / 4;
    face.Spot({150 + 100 * std::cos(a), 150 + 100 * std::sin(a)}, 7, 0.2f);
  }
  EXPECT_EQ(face.Voids(0.03).size(), 8u);
}

TEST(Voids, AScratchIsNoVoid) {
  Face face;
  cv::line(face.tone, {60, 190}, {240, 215}, cv::Scalar(0.4f), 2);
  EXPECT_TRUE(face.Voids(0.03).empty());
}

TEST(Voids, AWeakVoidBesideAStrongOneIsFoundToo) {
  Face face;
  face.Spot({150, 200}, 14, 0.1f);
  face.Spot({163, 200}, 8, 0.6f);
  EXPECT_EQ(face.Voids(0.01).size(), 2u);
}

TEST(Voids, OwnBlurTellsASharpPlaceFromASoftOne) {
  Face sharp, soft;
  sharp.Spot({150, 210}, 16, 0.2f);
  cv::Mat1f spot(300, 300, 0.0f);
  cv::circle(spot, {150, 210}, 12, cv::Scalar(-0.5f), cv::FILLED);
  cv::GaussianBlur(spot, spot, cv::Size(), 4.0);
  soft.tone += spot;
  const auto one = sharp.Voids(0.01), other = soft.Voids(0.01);
  ASSERT_EQ(one.size(), 1u);
  ASSERT_EQ(other.size(), 1u);
  EXPECT_NEAR(one[0].blur_px, kBlur, 0.5);
  EXPECT_NEAR(other[0].blur_px, std::hypot(kBlur, 4.0), 1.0);
}

}  // namespace
}  // namespace cutface
