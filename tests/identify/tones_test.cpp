// The body's tone is found where the wall is so thin that little of it lies where it is drawn.
#include "identify/tones.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "identify/drawings.h"

namespace cutface {
namespace {

TEST(FindTones, FindsTheBodyOfAThinWallBesideItsDrawnPlace) {
  constexpr double kRadius = 150, kBore = 143;
  const Design design = drawings::Drawn(drawings::Round(0, 0, 2e-3 * kRadius),
                                        {{"wash", drawings::Round(0, 0, 2e-3 * kBore)}});
  const SectionDesign& plane = design.sections.front();
  cv::Mat1f work(400, 400, 0.5f);
  const auto disc = [&](double x, double y, double r, float value) {
    cv::circle(work, {static_cast<int>(16 * x), static_cast<int>(16 * y)}, static_cast<int>(16 * r),
               cv::Scalar(value), cv::FILLED, cv::LINE_8, 4);
  };
  disc(200, 200, kRadius, 0.8f);
  disc(200, 200, kBore, 0.1f);
  cv::GaussianBlur(work, work, cv::Size(), 1.0);
  Pose pose;
  pose.warp.shift = {200, 200};
  pose.outline = pose.warp(plane.outline.contour);
  // The registration has the bore smaller and beside its place.
  pose.warp.linear *= 0.95;
  pose.warp.shift = {205, 200};
  const FaceTones tones = FindTones(work, 1, pose, plane);
  EXPECT_NEAR(tones.typical_step, 0.1 / 0.8 - 1, 0.08);
  EXPECT_NEAR(tones.body_tone, 0.8, 0.08);
  EXPECT_LT(tones.fine_noise, 0.12);
}

}  // namespace
}  // namespace cutface
