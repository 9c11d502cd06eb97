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

// A jacket's tone lies between those of core and potting, and none of them differ by much.
TEST(TraceOutline, GoesToTheEndOfAJacketThatLiesBeyondItsReachInWeakLight) {
  SectionDesign plane = Drawing();
  RingDesign jacket;
  jacket.name = "jacket";
  jacket.inner.kind = Shape::Kind::kCircle;
  for (int k = 0; k < 360; ++k) {
    const double a = k * kPi / 180;
    jacket.inner.contour.push_back({0.8 * kRadius * std::cos(a), 0.8 * kRadius * std::sin(a)});
  }
  plane.rings.push_back(jacket);
  const LabelScore score(plane);
  cv::Mat1f picture(480, 480, 0.30f);
  const auto disc = [&](double r, double x, float tone) {
    cv::circle(picture, {240 + static_cast<int>(x), 240}, static_cast<int>(r), cv::Scalar(tone),
               cv::FILLED);
  };
  disc(kRadius, 0, 0.38f);
  disc(0.8 * kRadius, 0, 0.46f);
  disc(0.5 * kRadius, 17, 0.05f);
  cv::GaussianBlur(picture, picture, cv::Size(), 1.2);
  Warp warp;
  warp.shift = {240 + 0.13 * kRadius, 240};
  const OutlineTrace trace = TraceOutline(picture, warp, plane, score, 0.10);
  EXPECT_LT(WorstDistance(trace, {240, 240}, kRadius), 2.5);
}

TEST(TraceOutline, KeepsOffAHolderThatLiesJustBeyondThePart) {
  const SectionDesign plane = Drawing();
  const LabelScore score(plane);
  for (const float holder : {0.05f, 1.0f}) {
    cv::Mat1f picture = Picture(kRadius, {240, 240}, 0.6f, 0.8f, 0.1f);
    cv::rectangle(picture, {0, 0}, {480, 240 - static_cast<int>(kRadius) - 5}, cv::Scalar(holder),
                  cv::FILLED);
    Warp warp;
    warp.shift = {240, 240 - kRadius / 20};
    const OutlineTrace trace = TraceOutline(picture, warp, plane, score, 0.10);
    EXPECT_LT(WorstDistance(trace, {240, 240}, kRadius), 3.5) << holder;
  }
}

TEST(TraceOutline, TakesNoEdgeWhereTheBodyRunsUpToTheFrame) {
  const SectionDesign plane = Drawing();
  const LabelScore score(plane);
  const cv::Mat1f whole = Picture(kRadius, {240, 240}, 0.6f, 0.8f, 0.1f);
  // 12 px of the part lie beyond the left side.
  const int cut = 240 - static_cast<int>(kRadius) + 12;
  const cv::Mat1f picture = whole(cv::Rect(cut, 0, 480 - cut, 480)).clone();
  Warp warp;
  warp.shift = {240.0 - cut + 2, 240};
  const OutlineTrace trace = TraceOutline(picture, warp, plane, score, 0.10);
  int hidden = 0;
  for (std::size_t i = 0; i < trace.points.size(); ++i) {
    const double off = std::abs(Distance(trace.points[i], {240.0 - cut, 240}) - kRadius);
    if (trace.visible[i] && trace.points[i].x > 6) {
      EXPECT_LT(off, 3.0) << i;
    }
    hidden += trace.visible[i] ? 0 : 1;
  }
  // The arc beyond the frame: 2 acos(1 - 12 / 120) of the circle, less what is within 6 px of it.
  EXPECT_GT(hidden, 0.08 * static_cast<double>(trace.points.size()));
}

// The wall is thinner than the registration is off: nothing drawn as body shows the body.
TEST(TraceOutline, FindsTheBodyOfAThinWallBesideItsDrawnPlace) {
  const SectionDesign plane = drawings::Drawn(drawings::Round(0, 0, 2e-3 * kRadius),
                                              {{"wash", drawings::Round(0, 0, 1.92e-3 * kRadius)}})
                                  .sections.front();
  const LabelScore score(plane);
  cv::Mat1f picture(480, 480, 0.3f);
  cv::circle(picture, {240, 240}, static_cast<int>(0.96 * kRadius), cv::Scalar(0.6), cv::FILLED);
  cv::circle(picture, {240, 240}, static_cast<int>(0.91 * kRadius), cv::Scalar(0.3), cv::FILLED);
  cv::GaussianBlur(picture, picture, cv::Size(), 1.0);
  cv::Mat1f noise(picture.size());
  cv::RNG random(7);
  random.fill(noise, cv::RNG::NORMAL, 0, 0.01);
  picture += noise;
  Warp warp;
  warp.shift = {241, 240};
  const OutlineTrace trace = TraceOutline(picture, warp, plane, score, 0.10);
  EXPECT_LT(WorstDistance(trace, {240, 240}, 0.96 * kRadius), 2.5);
  EXPECT_LT(trace.unlike, 0.05);
}

TEST(TraceOutline, SaysWhereTheTonesAreNotTheExpectedOnes) {
  const SectionDesign plane = Drawing();
  const LabelScore score(plane);
  cv::Mat1f picture = Picture(kRadius, {240, 240}, 0.6f, 0.8f, 0.1f);
  // Something lies over a third of the part's edge.
  cv::circle(picture, {240, 120}, 110, cv::Scalar(0.2), cv::FILLED);
  Warp warp;
  warp.shift = {240, 240};
  EXPECT_GT(TraceOutline(picture, warp, plane, score, 0.10).unlike, 0.1);
  EXPECT_LT(
      TraceOutline(Picture(kRadius, {240, 240}, 0.6f, 0.8f, 0.1f), warp, plane, score, 0.10).unlike,
      0.02);
}

}  // namespace
}  // namespace cutface
