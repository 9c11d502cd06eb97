// The light of the empty field, and gamma from an exposure pair.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <opencv2/core.hpp>

#include "cutface/calibration_keeping.h"
#include "cutface/stats.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr int kWidth = 400, kHeight = 300;

using Light = std::function<double(double, double)>;

// Camera: tone = light^(1/gamma), 8 bits, Gaussian noise of `noise` full scales.
Micrograph Camera(const Light& light, double gamma, double noise, unsigned seed) {
  cv::Mat tone(kHeight, kWidth, CV_8UC1);
  cv::RNG random(seed);
  for (int y = 0; y < kHeight; ++y) {
    for (int x = 0; x < kWidth; ++x) {
      const double value = std::pow(light(x, y), 1 / gamma) + random.gaussian(noise);
      tone.at<std::uint8_t>(y, x) =
          static_cast<std::uint8_t>(std::lround(255 * std::clamp(value, 0.0, 1.0)));
    }
  }
  return MicrographFromPixels(tone, 8, "made.png");
}

// A lamp off the middle whose light falls off as cos^4 (35 % in the far corner).
double Lamp(double x, double y) {
  const double r2 = (std::pow(x - 150, 2) + std::pow(y - 120, 2)) / (520.0 * 520.0);
  return 0.8 / ((1 + r2) * (1 + r2));
}

double Dust(double x, double y) {
  for (const auto& [cx, cy, r] : {std::tuple(60.0, 50.0, 9.0), std::tuple(300.0, 220.0, 14.0)}) {
    if (std::hypot(x - cx, y - cy) < r) return 0.6;
  }
  return 1;
}

// Greatest share by which the surface is off the true light, over the field.
double WorstShare(const FlatField& field) {
  double most = 0;
  const double top = Lamp(150, 120);
  for (int y = 0; y < kHeight; y += 10) {
    for (int x = 0; x < kWidth; x += 10)
      most = std::max(most, std::abs(field.LightAt(x, y) / (Lamp(x, y) / top) - 1));
  }
  return most;
}

TEST(FlatFieldOfABlank, FollowsTheLampAndNotDustOrNoise) {
  for (const double gamma : {1.0, 2.2}) {
    const auto blank =
        Camera([](double x, double y) { return Lamp(x, y) * Dust(x, y); }, gamma, 0.02, 7);
    const auto field = FlatField::FromBlank(blank, gamma);
    ASSERT_THAT(field, IsOk());
    // Noise of 2 % in 120 000 px and 28 terms: 0.02 * sqrt(28 / 120000) = 0.03 %, several fold in a
    // corner and 2.2 fold by gamma, more where a sample of the blocks is taken; the rest is what a
    // polynomial of order 6 leaves of cos^4.
    EXPECT_LT(WorstShare(*field), 0.01) << gamma;
    EXPECT_NEAR(field->unevenness(), 1 - Lamp(399, 299) / Lamp(150, 120), 0.02);
  }
}

TEST(FlatFieldOfABlank, EvensOutAPictureInLinearLight) {
  const double gamma = 2.2;
  const auto scene = [](double x, double) { return x < 200 ? 0.9 : 0.3; };
  const auto field = FlatField::FromBlank(Camera(Lamp, gamma, 0.01, 3), gamma);
  ASSERT_THAT(field, IsOk());
  const auto picture =
      Camera([&](double x, double y) { return scene(x, y) * Lamp(x, y); }, gamma, 0, 1);
  const auto even = field->Apply(picture);
  ASSERT_THAT(even, IsOk());
  EXPECT_EQ(even->sha256, picture.sha256);
  for (const int from : {5, 205}) {
    double least = 1, greatest = 0, before_least = 1, before_greatest = 0;
    for (int y = 5; y < kHeight; y += 10) {
      for (int x = from; x < from + 190; x += 10) {
        least = std::min<double>(least, even->At(x, y));
        greatest = std::max<double>(greatest, even->At(x, y));
        before_least = std::min<double>(before_least, picture.At(x, y));
        before_greatest = std::max<double>(before_greatest, picture.At(x, y));
      }
    }
    EXPECT_LT(greatest / least, 1.02);  // half a grey level of 100 is 0.5 %, field 0.5 %
    EXPECT_GT(before_greatest / before_least, 1.1);  // there was something to do
  }
}

TEST(FlatFieldOfABlank, LeavesClippedAndBlackPixelsWhatTheyAre) {
  const auto field = FlatField::FromBlank(Camera(Lamp, 1, 0.01, 3), 1);
  ASSERT_THAT(field, IsOk());
  const auto picture = Camera([](double x, double) { return x < 200 ? 0.0 : 1.5; }, 1, 0, 1);
  const auto even = field->Apply(picture);
  ASSERT_THAT(even, IsOk());
  EXPECT_EQ(even->At(10, 10), 0.0f);
  EXPECT_EQ(even->At(390, 290), 1.0f);
  // And what was not clipped does not become so.
  const auto bright = Camera([](double, double) { return 0.99; }, 1, 0, 1);
  double greatest = 0;
  cv::minMaxLoc(field->Apply(bright)->tone, nullptr, &greatest);
  EXPECT_LT(greatest, 65535);
}

TEST(FlatFieldOfABlank, BlanksThatTellNothingAreRefused) {
  const auto refused = [](const Light& light) {
    return FlatField::FromBlank(Camera(light, 1, 0, 1), 1);
  };
  EXPECT_THAT(refused([](double, double) { return 0.01; }), FailsWith(Code::kCalibrationInvalid));
  EXPECT_THAT(refused([](double, double) { return 2.0; }), FailsWith(Code::kCalibrationInvalid));
  EXPECT_THAT(refused([](double x, double) { return int(x / 50) % 2 ? 0.3 : 0.8; }),
              FailsWith(Code::kCalibrationInvalid));
  const auto field = refused(Lamp);
  ASSERT_THAT(field, IsOk());
  EXPECT_THAT(field->Apply(MicrographFromPixels(cv::Mat::zeros(10, 10, CV_8UC1), 8, "small.png")),
              FailsWith(Code::kCalibrationMismatch));
}

TEST(ExposurePair, TellsTheCamerasGamma) {
  for (const double gamma : {1.0, 1.8, 2.2}) {
    const auto scene = [](double x, double y) { return Lamp(x, y) * (x < 200 ? 0.9 : 0.35); };
    const auto dark = Camera([&](double x, double y) { return 0.5 * scene(x, y); }, gamma, 0.01, 5);
    const auto bright = Camera(scene, gamma, 0.01, 6);
    const auto found = GammaFromExposures(dark, bright, 2.0);
    ASSERT_THAT(found, IsOk());
    EXPECT_NEAR(found->gamma, gamma, 3 * found->u) << gamma;
    EXPECT_NEAR(found->gamma, gamma, 0.03 * gamma);
  }
}

TEST(ExposurePair, ThatIsNoneIsRefused) {
  const auto picture = Camera(Lamp, 1, 0.01, 5);
  EXPECT_THAT(GammaFromExposures(picture, picture, 2), FailsWith(Code::kCalibrationInvalid));
  EXPECT_THAT(GammaFromExposures(picture, picture, 1), FailsWith(Code::kUsage));
  // A dark level that was not taken off is no power of the light: 1.5 fold bright, 1.2 fold dim.
  const auto with_dark_level = [](double share) {
    return Camera(
        [&](double x, double y) { return 0.2 + share * Lamp(x, y) * (x < 200 ? 0.9 : 0.2); }, 1, 0,
        1);
  };
  const auto dark = with_dark_level(0.3), bright = with_dark_level(0.6);
  EXPECT_THAT(GammaFromExposures(dark, bright, 2), FailsWith(Code::kCalibrationInvalid));
}

}  // namespace
}  // namespace cutface
