#include <gtest/gtest.h>

#include <cmath>

#include "calibration/targets.h"
#include "cutface/calibration.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using targets::Kind;
using targets::Target;

Target Plain(Kind kind) {
  Target t;
  t.kind = kind;
  t.width_px = 1000;
  t.height_px = 800;
  t.pitch_y_um = 2.41;
  t.shear = 1.5e-4;
  t.angle_rad = 0.04;
  t.division_um = 100;
  t.bar_um = kind == Kind::kDots ? 40 : 14;
  t.first = -20;
  t.last = 20;
  t.origin_x_um = 1200;
  t.origin_y_um = 960;
  return t;
}

Result<TargetFit> Fit(const Target& t, std::uint64_t seed) {
  TargetSpec spec;
  spec.kind = t.kind == Kind::kDots ? TargetKind::kDotGrid : TargetKind::kCrossGrid;
  spec.division_um = t.division_um;
  return FindGrid(MicrographFromPixels(targets::Render(t, seed), t.bits, "grid.png"), spec);
}

// A twentieth of the goal for the 95th percentile (0.05 %); clean pictures reach a hundredth.
constexpr double kError = 2.5e-5;

class Grid : public testing::TestWithParam<Kind> {};

TEST_P(Grid, TellsBothPitchesAndTheShear) {
  const Target t = Plain(GetParam());
  const auto fit = Fit(t, 1);
  ASSERT_TRUE(fit) << fit.error().message;
  EXPECT_NEAR(*fit->pitch_x_um / t.pitch_x_um, 1, kError);
  EXPECT_NEAR(*fit->pitch_y_um / t.pitch_y_um, 1, kError);
  EXPECT_NEAR(*fit->shear, t.shear, 2e-5);
  EXPECT_LT(fit->residual_rms_px, 0.05);
  EXPECT_FALSE(fit->k1_per_px2.has_value());
}

TEST_P(Grid, TellsDistortionWithinATenthWhereItMovesCorners) {
  Target t = Plain(GetParam());
  const double half = std::hypot(t.width_px, t.height_px) / 2;
  for (double corner : {1.5, -3.0}) {
    t.k1_per_px2 = corner / (half * half * half);
    const auto fit = Fit(t, 2);
    ASSERT_TRUE(fit) << fit.error().message;
    ASSERT_TRUE(fit->k1_per_px2.has_value()) << corner;
    EXPECT_NEAR(*fit->k1_per_px2 / t.k1_per_px2, 1, 0.1) << corner;
    EXPECT_NEAR(*fit->pitch_x_um / t.pitch_x_um, 1, kError) << corner;
  }
}

TEST_P(Grid, HiddenMarksAndDirtDoNotMisnumberIt) {
  Target t = Plain(GetParam());
  const auto side = static_cast<std::size_t>(t.last - t.first + 1);
  t.hidden.assign(side * side, false);
  for (std::size_t k = 0; k < t.hidden.size(); k += 23) t.hidden[k] = true;
  t.blobs = 30;
  t.scratches = 4;
  t.slope = 0.4;
  const auto fit = Fit(t, 3);
  ASSERT_TRUE(fit) << fit.error().message;
  EXPECT_NEAR(*fit->pitch_x_um / t.pitch_x_um, 1, 4 * kError);
  EXPECT_NEAR(*fit->pitch_y_um / t.pitch_y_um, 1, 4 * kError);
}

INSTANTIATE_TEST_SUITE_P(Kinds, Grid, testing::Values(Kind::kDots, Kind::kCrosses),
                         [](const auto& tested) {
                           return tested.param == Kind::kDots ? "Dots" : "Crosses";
                         });

TEST(GridPictures, WithoutAGridAreRefused) {
  Target t = Plain(Kind::kDots);
  t.first = 1;
  t.last = 0;
  EXPECT_THAT(Fit(t, 4), FailsWith(Code::kNoPattern));
  t.blobs = 150;
  EXPECT_THAT(Fit(t, 5), FailsWith(Code::kNoPattern));
  Target lines = Plain(Kind::kLines);
  TargetSpec spec;
  spec.kind = TargetKind::kDotGrid;
  spec.division_um = 50;
  EXPECT_THAT(FindGrid(MicrographFromPixels(targets::Render(lines, 6), 8, "lines.png"), spec),
              FailsWith(Code::kNoPattern));
}

TEST(GridPictures, ADotGridGivesAWholeRecord) {
  const Target t = Plain(Kind::kDots);
  const auto fit = Fit(t, 7);
  ASSERT_TRUE(fit);
  const std::vector<TargetFit> fits{*fit};
  TargetSpec spec;
  spec.kind = TargetKind::kDotGrid;
  spec.division_um = t.division_um;
  spec.certificate_u_um = 0.1;
  const auto made = CombineTargets(fits, spec);
  ASSERT_TRUE(made) << made.error().message;
  ASSERT_TRUE(made->record.pitch_x_um && made->record.pitch_y_um);
  EXPECT_NEAR(*made->record.pitch_x_um / t.pitch_x_um, 1, kError);
  EXPECT_NEAR(*made->record.pitch_y_um / t.pitch_y_um, 1, kError);
}

TEST(GridPictures, DotsTellGammaAndBlur) {
  for (double gamma : {1.0, 1.8}) {
    Target t = Plain(Kind::kDots);
    t.gamma = gamma;
    t.noise = 0.005;
    const auto fit = Fit(t, 8);
    ASSERT_TRUE(fit) << fit.error().message;
    ASSERT_TRUE(fit->gamma.has_value()) << gamma;
    EXPECT_NEAR(*fit->gamma, gamma, 3 * fit->u_gamma);
    EXPECT_LT(fit->u_gamma, 0.1 * gamma);
    // A pixel's own width is part of every edge: its variance is 1/12.
    EXPECT_NEAR(*fit->blur_px, std::sqrt(t.blur_px * t.blur_px + 1.0 / 12), 0.03);
  }
}

// The edge of a circle of 1000 um as a camera with these pitches sees it: exact places.
ContourPx CircleSeen(double px, double py, double shear) {
  ContourPx contour;
  for (int k = 0; k < 360; ++k) {
    const double a = k * M_PI / 180;
    const double y = 500 * std::sin(a) / py;
    contour.push_back({400 + (500 * std::cos(a) - shear * py * y) / px, 300 + y});
  }
  return contour;
}

TEST(CircleTarget, TellsBothPitchesAndShear) {
  const Micrograph picture = MicrographFromPixels(cv::Mat::zeros(600, 800, CV_8UC1), 8, "c.png");
  TargetSpec spec;
  spec.kind = TargetKind::kCircle;
  spec.diameter_um = 1000;
  for (double shear : {0.0, 2e-3, -2e-3}) {
    const CircleEdge edge{CircleSeen(2.5, 2.45, shear), 0.02, 0.05, 40};
    const auto fit = FitCircleTarget(edge, picture, spec);
    ASSERT_TRUE(fit) << fit.error().message;
    EXPECT_NEAR(*fit->pitch_x_um, 2.5, 1e-6);
    EXPECT_NEAR(*fit->pitch_y_um, 2.45, 1e-6);
    EXPECT_NEAR(*fit->shear, shear, 1e-6);
    // A common shift of the edge by 0.02 px of some 202 px of radius, and the lens's prior of 3 px
    // in a corner 500 px away: 3 * 202^2 / 500^3.
    EXPECT_NEAR(fit->u_q_relative, 0.02 / 202, 0.4 * 0.02 / 202);
    EXPECT_NEAR(fit->u_distortion_relative, 3.0 * 202 * 202 / 1.25e8, 2e-5);
    EXPECT_GT(fit->u_pitch_x_um / 2.5, fit->u_distortion_relative);
  }
  CircleEdge oval{CircleSeen(2.5, 2.0, 0), 0.02, 0.05, 40};
  EXPECT_THAT(FitCircleTarget(oval, picture, spec), FailsWith(Code::kNoPattern));
}

}  // namespace
}  // namespace cutface
