// The outline is found about a registration that is off, in uneven light.
#include "identify/outline_trace.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "identify/drawings.h"

namespace cutface {
namespace {

constexpr double kRadius = 120;

// A disc of radius 120 px with a lumen beside its middle, in a picture whose light falls by half.
cv::Mat1f Picture(double radius, PointPx middle, float body, float potting, float lumen) {
  cv::Mat1f tone(480, 480, potting);
  const auto disc = [&](PointPx at, double r, float value) {
    cv::circle(tone, {static_cast<int>(16 * at.x), static_cast<int>(16 * at.y)},
               static_cast<int>(16 * r), cv::Scalar(value), cv::FILLED, cv::LINE_8, 4);
  };
  disc(middle, radius, body);
  disc({middle.x + 30, middle.y}, 0.55 * kRadius, lumen);
  cv::GaussianBlur(tone, tone, cv::Size(), 1.2);
  for (int y = 0; y < tone.rows; ++y) {
    for (int x = 0; x < tone.cols; ++x) tone(y, x) *= 1 - 0.5f * static_cast<float>(x) / 480;
  }
  return tone;
}

// One px a micrometre.
SectionDesign Drawing() {
  return drawings::Drawn(drawings::Round(0, 0, 2e-3 * kRadius),
                         {{"wash", drawings::Round(0.03, 0, 1.1e-3 * kRadius)}})
      .sections.front();
}

double WorstDistance(const OutlineTrace& trace, PointPx middle, double radius) {
  double worst = 0;
  for (PointPx p : trace.points) worst = std::max(worst, std::abs(Distance(p, middle) - radius));
  return worst;
}

TEST(TraceOutline, FollowsAFaceThatLiesATwelfthOfItsRadiusOffInUnevenLight) {
  const SectionDesign plane = Drawing();
  const LabelScore score(plane);
  for (const float body : {0.6f, 0.95f}) {
    const cv::Mat1f picture = Picture(kRadius, {240, 240}, body, 0.8f, 0.1f);
    Warp warp;
    warp.shift = {240 + kRadius / 12, 240 - kRadius / 24};
    EXPECT_LT(WorstDistance(TraceOutline(picture, warp, plane, score, 0.10), {240, 240}, kRadius),
              2.5)
        << body;
  }
}

TEST(TraceOutline, SearchesWiderWhenTheFaceLiesBeyondItsReach) {
  const SectionDesign plane = Drawing();
  const LabelScore score(plane);
  const cv::Mat1f picture = Picture(1.06 * kRadius, {240, 240}, 0.5f, 0.8f, 0.1f);
  Warp warp;
  warp.shift = {240 + 0.1 * kRadius, 240};
  EXPECT_LT(
      WorstDistance(TraceOutline(picture, warp, plane, score, 0.10), {240, 240}, 1.06 * kRadius),
      2.5);
}

}  // namespace
}  // namespace cutface
