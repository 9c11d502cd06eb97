#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "calibration/targets.h"
#include "cutface/calibration.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using targets::Kind;
using targets::Target;

Micrograph Picture(const Target& t, std::uint64_t seed) {
  return MicrographFromPixels(targets::Render(t, seed), t.bits, "target.png");
}

TargetSpec SpecOf(const Target& t) {
  TargetSpec spec;
  spec.division_um = t.division_um;
  spec.certificate_u_um = 0.1;
  return spec;
}

// True |q|: K^T of the unit normal over the division.
double TrueWave(const Target& t) {
  const double nx = std::cos(t.angle_rad) / t.division_um;
  const double ny = std::sin(t.angle_rad) / t.division_um;
  return std::hypot(t.pitch_x_um * nx, t.shear * t.pitch_y_um * nx + t.pitch_y_um * ny);
}

Target Plain() {
  Target t;
  t.origin_x_um = 1900;
  t.origin_y_um = 1000;
  return t;
}

// The goal for the 95th percentile is 0.05 %; a clean picture must do five times better.
constexpr double kCleanError = 1e-4;

TEST(LineScale, ACleanScaleTellsThePitchAcrossItsLines) {
  const Target t = Plain();
  const auto fit = FindLineScale(Picture(t, 1), SpecOf(t));
  ASSERT_TRUE(fit) << fit.error().message;
  EXPECT_NEAR(std::hypot(fit->qx_per_px, fit->qy_per_px) / TrueWave(t), 1, kCleanError);
  EXPECT_EQ(fit->lines_expected, t.last - t.first + 1);
  EXPECT_LT(fit->residual_rms_px, 0.03);
}

TEST(LineScale, RandomTargetsAreNeverMiscountedAndWithinAFewUncertainties) {
  for (std::uint64_t seed = 300; seed < 312; ++seed) {
    const Target t = targets::Draw(Kind::kLines, seed);
    const auto fit = FindLineScale(Picture(t, seed), SpecOf(t));
    ASSERT_TRUE(fit) << seed << ": " << fit.error().message;
    const double error = std::hypot(fit->qx_per_px, fit->qy_per_px) / TrueWave(t) - 1;
    // One line miscounted over 150 would be 0.7 %.
    EXPECT_LT(std::abs(error), 5e-4) << seed;
    EXPECT_LT(std::abs(error), 4 * std::hypot(fit->u_q_relative, fit->u_distortion_relative) + 1e-6)
        << seed;
  }
}

TEST(LineScale, HiddenLinesAreSkippedByNumber) {
  Target t = Plain();
  t.hidden.assign(61, false);
  for (std::size_t k : {20u, 21u, 33u, 50u}) t.hidden[k] = true;
  const auto fit = FindLineScale(Picture(t, 2), SpecOf(t));
  ASSERT_TRUE(fit) << fit.error().message;
  EXPECT_EQ(fit->lines_seen, 57);
  EXPECT_EQ(fit->lines_expected, 61);
  EXPECT_NEAR(std::hypot(fit->qx_per_px, fit->qy_per_px) / TrueWave(t), 1, kCleanError);
}

TEST(LineScale, TwoPicturesTellBothPitchesAndTheirBudget) {
  Target t = Plain();
  t.pitch_y_um = 2.41;
  Target turned = t;
  turned.angle_rad = M_PI / 2;
  turned.origin_y_um = 1400;
  turned.origin_x_um = 1900;
  const auto a = FindLineScale(Picture(t, 3), SpecOf(t));
  const auto b = FindLineScale(Picture(turned, 4), SpecOf(turned));
  ASSERT_TRUE(a && b);
  const std::vector<TargetFit> fits{*a, *b};
  const auto both = CombineTargets(fits, SpecOf(t));
  ASSERT_TRUE(both) << both.error().message;
  ASSERT_TRUE(both->record.pitch_x_um && both->record.pitch_y_um);
  EXPECT_NEAR(*both->record.pitch_x_um / t.pitch_x_um, 1, kCleanError);
  EXPECT_NEAR(*both->record.pitch_y_um / t.pitch_y_um, 1, kCleanError);
  ASSERT_FALSE(both->budget_x.empty());
  double square = 0;
  for (const auto& line : both->budget_x) square += line.u_relative * line.u_relative;
  // JCGM 100, 5.1.2: the combined uncertainty is the root of the sum of squares.
  EXPECT_NEAR(*both->record.pitch_u_x_um, std::sqrt(square) * *both->record.pitch_x_um, 1e-12);
  EXPECT_GT(both->coverage_factor_x, 1.95);
}

TEST(LineScale, OnePictureSaysWhatItCannotTell) {
  const Target t = Plain();
  const auto fit = FindLineScale(Picture(t, 5), SpecOf(t));
  ASSERT_TRUE(fit);
  const std::vector<TargetFit> fits{*fit};
  const auto one = CombineTargets(fits, SpecOf(t));
  ASSERT_TRUE(one) << one.error().message;
  EXPECT_TRUE(one->record.pitch_x_um.has_value());
  EXPECT_FALSE(one->record.pitch_y_um.has_value());
  ASSERT_FALSE(one->untold.empty());
  EXPECT_THAT(one->untold, testing::Contains(testing::HasSubstr("pitch along y")));
  CombineOptions square;
  square.square_pixels_u = 1e-4;
  const auto assumed = CombineTargets(fits, SpecOf(t), square);
  ASSERT_TRUE(assumed);
  EXPECT_TRUE(assumed->record.pitch_y_um.has_value());
}

TEST(LineScale, PicturesThatContradictOneAnotherAreRefused) {
  Target t = Plain();
  Target other = t;
  other.pitch_x_um *= 1.01;
  const auto a = FindLineScale(Picture(t, 6), SpecOf(t));
  const auto b = FindLineScale(Picture(other, 7), SpecOf(other));
  ASSERT_TRUE(a && b);
  const std::vector<TargetFit> fits{*a, *b};
  EXPECT_THAT(CombineTargets(fits, SpecOf(t)), FailsWith(Code::kCalibrationInvalid));
}

TEST(LineScale, APictureWithoutLinesIsRefused) {
  Target t = Plain();
  t.first = 1;
  t.last = 0;
  EXPECT_THAT(FindLineScale(Picture(t, 8), SpecOf(t)), FailsWith(Code::kNoPattern));
  t.blobs = 60;
  t.scratches = 8;
  EXPECT_THAT(FindLineScale(Picture(t, 9), SpecOf(t)), FailsWith(Code::kNoPattern));
}

TEST(LineScale, TooFewLinesAreRefused) {
  Target t = Plain();
  t.first = -2;
  t.last = 2;
  EXPECT_THAT(FindLineScale(Picture(t, 10), SpecOf(t)), FailsWith(Code::kNoPattern));
}

TEST(LineScale, ADefocusedScaleIsRefusedOrStillRight) {
  for (double blur : {6.0, 8.0, 12.0}) {
    Target t = Plain();
    t.blur_px = blur;
    const auto fit = FindLineScale(Picture(t, 11), SpecOf(t));
    if (fit) {
      EXPECT_NEAR(std::hypot(fit->qx_per_px, fit->qy_per_px) / TrueWave(t), 1, 5e-4) << blur;
    } else {
      EXPECT_TRUE(fit.error().code == Code::kOutOfFocus || fit.error().code == Code::kNoPattern);
    }
  }
}

TEST(LineScale, AWrongDivisionIsToldByTheObjectivesNominalPitch) {
  const Target t = Plain();
  const auto fit = FindLineScale(Picture(t, 12), SpecOf(t));
  ASSERT_TRUE(fit);
  const std::vector<TargetFit> fits{*fit};
  TargetSpec spec = SpecOf(t);
  spec.nominal_pitch_um = 2.4;
  const auto right = CombineTargets(fits, spec);
  ASSERT_TRUE(right);
  spec.nominal_pitch_um = 2.4 * 25.4 / 20;
  const auto wrong = CombineTargets(fits, spec);
  ASSERT_TRUE(wrong);
  EXPECT_EQ(wrong->warnings.size(), right->warnings.size() + 1);
}

TEST(LineScale, TheArtefactsTemperatureIsCorrected) {
  const Target t = Plain();
  const auto fit = FindLineScale(Picture(t, 13), SpecOf(t));
  ASSERT_TRUE(fit);
  const std::vector<TargetFit> fits{*fit};
  TargetSpec spec = SpecOf(t);
  const auto cold = CombineTargets(fits, spec);
  spec.temperature_c = 30;
  spec.artefact_expansion_per_k = 1e-5;
  const auto warm = CombineTargets(fits, spec);
  ASSERT_TRUE(cold && warm);
  // 10 K at 1e-5 per K make every division 0.01 % longer than the certificate says at 20 C.
  EXPECT_NEAR(*warm->record.pitch_x_um / *cold->record.pitch_x_um, 1.0001, 1e-9);
}

// Light alone is symmetric about a blurred edge; the encoding is what bends it.
TEST(LineScale, BlackAndWhiteTellGammaAndBlur) {
  for (double gamma : {1.0, 1.4, 2.2}) {
    Target t = Plain();
    t.gamma = gamma;
    t.noise = 0.005;
    const auto fit = FindLineScale(Picture(t, 21), SpecOf(t));
    ASSERT_TRUE(fit) << fit.error().message;
    ASSERT_TRUE(fit->gamma.has_value()) << gamma;
    EXPECT_NEAR(*fit->gamma, gamma, 3 * fit->u_gamma);
    EXPECT_LT(fit->u_gamma, 0.1 * gamma);
    // A pixel's own width is part of every edge: its variance is 1/12.
    EXPECT_NEAR(*fit->blur_px, std::sqrt(t.blur_px * t.blur_px + 1.0 / 12), 0.03);
    const std::vector<TargetFit> fits{*fit};
    CombineOptions square;
    square.square_pixels_u = 1e-4;
    const auto made = CombineTargets(fits, SpecOf(t), square);
    ASSERT_TRUE(made) << made.error().message;
    ASSERT_TRUE(made->record.gamma && made->record.gamma_u && made->record.blur_px);
    EXPECT_NEAR(*made->record.gamma, *fit->gamma, 1e-12);
  }
}

TEST(LineScale, ClippedWhiteTellsNoGamma) {
  Target t = Plain();
  t.bright = 1.3;
  const auto fit = FindLineScale(Picture(t, 22), SpecOf(t));
  ASSERT_TRUE(fit) << fit.error().message;
  EXPECT_FALSE(fit->gamma.has_value());
  EXPECT_TRUE(std::any_of(fit->remarks.begin(), fit->remarks.end(), [](const std::string& r) {
    return r.find("cut off by the camera") != std::string::npos;
  }));
}

// ASTM B487 (5.9): the distance of the lines known to 0.2 um or 0.1 %, whichever is greater.
TEST(LineScale, ACertificateThatIsTooCoarseForCoatingsIsTold) {
  const Target t = Plain();
  const auto fit = FindLineScale(Picture(t, 23), SpecOf(t));
  ASSERT_TRUE(fit) << fit.error().message;
  const std::vector<TargetFit> fits{*fit};
  const double used = fit->span_px * 2.4;  // um, some 3 mm: 0.1 % is the larger of the two
  ASSERT_GT(1e-3 * used, 0.2);
  const auto warned = [&](double u) {
    TargetSpec spec = SpecOf(t);
    spec.certificate_u_um = u;
    const auto made = CombineTargets(fits, spec);
    return made &&
           std::any_of(made->warnings.begin(), made->warnings.end(),
                       [](const std::string& w) { return w.find("B487") != std::string::npos; });
  };
  EXPECT_FALSE(warned(0.45e-3 * used));
  EXPECT_TRUE(warned(0.55e-3 * used));
}

TEST(LineScale, ARecordNamesEveryPicture) {
  Target t = Plain();
  TargetFit x = *FindLineScale(Picture(t, 24), SpecOf(t));
  t.angle_rad = M_PI / 2;
  TargetFit y = *FindLineScale(Picture(t, 25), SpecOf(t));
  x.image_file = "x.png";
  y.image_file = "y.png";
  x.image_sha256 = std::string(64, 'a');
  y.image_sha256 = std::string(64, 'b');
  const std::vector<TargetFit> fits{x, y};
  auto made = CombineTargets(fits, SpecOf(t));
  ASSERT_TRUE(made) << made.error().message;
  made->record.id = "two";
  const auto again = ParseCalibration(CalibrationToJson(made->record), "two");
  ASSERT_TRUE(again) << again.error().message;
  ASSERT_EQ(again->evidence_images.size(), 2u);
  EXPECT_EQ(again->evidence_images[1].file, "y.png");
  EXPECT_EQ(again->evidence_images[1].sha256, std::string(64, 'b'));
  EXPECT_EQ(again->evidence_image_sha256, std::string(64, 'a'));
}

}  // namespace
}  // namespace cutface
