// Missing adhesive seen as what it is: painted arcs of exactly known ends.
#include "identify/dark_arcs.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "cutface/phantom.h"

namespace cutface {
namespace {

constexpr double kDegree = M_PI / 180;
constexpr PointPx kMiddle{200, 205};
constexpr double kInner_px = 140, kOuter_px = 152;  // the layer's seams as drawn

// Part of a ring about the middle, in degrees clockwise as drawn.
struct Painted {
  double from_deg = 0, to_deg = 0, inner = kInner_px, outer = kOuter_px;
};

ContourPx Round(PointPx middle, double radius) {
  ContourPx out;
  for (int k = 0; k < 720; ++k) {
    const double a = 0.5 * k * kDegree;
    out.push_back(middle + radius * PointPx{std::cos(a), std::sin(a)});
  }
  return out;
}

// Sampled four times finer, so that edges lie where they are said to.
Micrograph Picture(const std::vector<Painted>& arcs, const std::vector<ContourPx>& holes) {
  constexpr int kFine = 4, kSize = 410;
  cv::Mat1f fine(kFine * kSize, kFine * kSize, 180.0f);
  for (int y = 0; y < fine.rows; ++y) {
    for (int x = 0; x < fine.cols; ++x) {
      const PointPx p{(x + 0.5) / kFine - 0.5, (y + 0.5) / kFine - 0.5};
      const PointPx d = p - kMiddle;
      const double r = Norm(d), a = std::atan2(d.y, d.x) / kDegree;
      for (const Painted& arc : arcs) {
        const double after = std::fmod(a - arc.from_deg + 720, 360);
        if (r > arc.inner && r < arc.outer && after < arc.to_deg - arc.from_deg) fine(y, x) = 25;
      }
    }
  }
  cv::Mat1f small;
  cv::resize(fine, small, {kSize, kSize}, 0, 0, cv::INTER_AREA);
  for (int y = 0; y < kSize; ++y) {
    for (int x = 0; x < kSize; ++x) {
      for (const ContourPx& hole : holes) {
        if (Contains(hole, PointPx{1.0 * x, 1.0 * y})) small(y, x) = 20;
      }
    }
  }
  cv::GaussianBlur(small, small, {}, 1.2);
  cv::Mat1b stored;
  small.convertTo(stored, CV_8U);
  return MicrographFromPixels(stored, 8, "arcs");
}

std::vector<GapFound> Arcs(const Micrograph& picture, const std::vector<ContourPx>& bores = {}) {
  LightField light;
  light.c[0] = 180.0 / 255;
  return DarkArcs(ToneReader(picture, light), Round(kMiddle, kInner_px), Round(kMiddle, kOuter_px),
                  bores);
}

double Span(const GapFound& gap) {
  const double n = 2 * M_PI * kInner_px;
  return (gap.to - gap.from) / std::floor(n) * 360;
}

TEST(DarkArcs, AHoleOffTheDrawnSeamsIsFoundWithItsEndsAndWidth) {
  const std::vector<GapFound> gaps = Arcs(Picture({{20, 61, kInner_px + 8, kOuter_px + 8}}, {}));
  ASSERT_EQ(gaps.size(), 1u);
  EXPECT_NEAR(Span(gaps[0]), 41, 0.7);
  EXPECT_NEAR(gaps[0].width_px, 12, 0.4);
  // Area of the ring's part: half the angle times the difference of the radii's squares.
  const double area = 0.5 * 41 * kDegree * (160.0 * 160.0 - 148.0 * 148.0);
  EXPECT_NEAR(Area(std::span<const PointPx>(gaps[0].contour)), area, 0.05 * area);
}

TEST(DarkArcs, OneThatLiesWhereTheClockBeginsIsFoundOnceAndWhole) {
  const std::vector<GapFound> gaps = Arcs(Picture({{-15, 15}}, {}));
  ASSERT_EQ(gaps.size(), 1u);
  EXPECT_NEAR(Span(gaps[0]), 30, 0.7);
}

TEST(DarkArcs, TwoAreTwo) { EXPECT_EQ(Arcs(Picture({{10, 50}, {170, 200}}, {})).size(), 2u); }

TEST(DarkArcs, ALineAThickRingAVoidAndABoreAreNone) {
  EXPECT_TRUE(Arcs(Picture({{20, 80, kInner_px, kInner_px + 1.5}}, {})).empty()) << "line";
  EXPECT_TRUE(Arcs(Picture({{20, 80, kInner_px - 15, kOuter_px + 15}}, {})).empty()) << "thick";
  EXPECT_TRUE(Arcs(Picture({}, {Round(kMiddle + PointPx{146, 0}, 7)})).empty()) << "void";
  const ContourPx bore = Round(kMiddle + PointPx{0, 115}, 30);
  EXPECT_TRUE(Arcs(Picture({}, {bore}), {bore}).empty()) << "bore";
  EXPECT_TRUE(Arcs(Picture({}, {})).empty()) << "nothing";
}

}  // namespace
}  // namespace cutface
