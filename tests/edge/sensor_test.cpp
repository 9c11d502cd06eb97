// The camera's noise against tone: pictures with read and shot noise of known shares, made here.
#include "edge/sensor.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"
#include "edge/profile.h"

namespace cutface {
namespace {

// Vertical stripes of even tone; noise of variance read + shot * light before encoding. (The linear
// law of the light is EMVA 1288's; the encoding is a power.)
Micrograph Stripes(double gamma, double read, double shot, std::uint64_t seed, bool smoothed) {
  constexpr double kTones[] = {0.2, 0.35, 0.5, 0.65, 0.8};
  constexpr int kWide = 96, kHigh = 320;
  Random random(seed);
  cv::Mat tone(kHigh, 5 * kWide, CV_16UC1);
  cv::Mat1d light(tone.size());
  for (int y = 0; y < tone.rows; ++y) {
    for (int x = 0; x < tone.cols; ++x) {
      const double l = std::pow(kTones[x / kWide], gamma);
      light(y, x) = l + std::sqrt(read + shot * l) * random.Normal();
    }
  }
  for (int y = 0; y < tone.rows; ++y) {
    for (int x = 0; x < tone.cols; ++x) {
      double l = light(y, x);
      if (smoothed) {  // as a compressed picture is: the highest frequencies are gone
        double sum = 0;
        for (int dy = 0; dy < 3; ++dy) {
          for (int dx = 0; dx < 3; ++dx)
            sum += light(std::min(y + dy, tone.rows - 1), std::min(x + dx, tone.cols - 1));
        }
        l = sum / 9;
      }
      const double stored = std::pow(std::clamp(l, 0.0, 1.0), 1 / gamma);
      tone.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(std::lround(65535 * stored));
    }
  }
  return MicrographFromPixels(tone, 16, "stripes");
}

double BestGamma(const SensorNoise& noise) {
  std::vector<double> gammas;
  for (double g = 1.0; g < 2.45; g += 0.1) gammas.push_back(g);
  const std::vector<double> costs = noise.GammaCosts(gammas);
  return gammas[static_cast<std::size_t>(std::min_element(costs.begin(), costs.end()) -
                                         costs.begin())];
}

TEST(SensorNoise, GammaIsToldFromNoiseAgainstTone) {
  for (const double gamma : {1.0, 1.4, 1.8, 2.2}) {
    const SensorNoise noise(Stripes(gamma, 4e-5, 1e-4, 5, false));
    ASSERT_TRUE(noise.known());
    EXPECT_NEAR(BestGamma(noise), gamma, 0.35) << "gamma " << gamma;
    if (gamma == 1.4) continue;  // a middle one has neighbours with other shares on both sides
    // The far end is not taken for it.
    const std::vector<double> costs = noise.GammaCosts({gamma, gamma > 1.5 ? 1.0 : 2.2});
    EXPECT_GT(costs[1] - costs[0], 6) << "gamma " << gamma;
  }
}

TEST(SensorNoise, TheLawsSharesAreFoundUnderTheRightGamma) {
  constexpr double kRead = 4e-5, kShot = 1e-4, kGamma = 1.8;
  const SensorLaw law = SensorNoise(Stripes(kGamma, kRead, kShot, 6, false)).LawFor(kGamma);
  for (const double tone : {0.35, 0.5, 0.8}) {
    const double light = std::pow(tone, kGamma);
    EXPECT_NEAR((law.a + law.b * light) / (kRead + kShot * light), 1, 0.12) << "tone " << tone;
  }
}

TEST(SensorNoise, ASmoothedPictureTellsNothing) {
  const SensorNoise noise(Stripes(1.8, 4e-5, 1e-4, 7, true));
  EXPECT_FALSE(noise.known());
  for (const double cost : noise.GammaCosts({1.0, 1.8})) EXPECT_EQ(cost, 0);
}

// The mean of max(0, level + noise), by Simpson's rule.
double RectifiedMean(double level, double deviation) {
  constexpr int kSteps = 4000;
  double sum = 0;
  const double from = std::max(0.0, level - 9 * deviation), to = level + 9 * deviation;
  for (int k = 0; k <= kSteps; ++k) {
    const double x = from + (to - from) * k / kSteps, z = (x - level) / deviation;
    const double value = x * std::exp(-0.5 * z * z) / (deviation * std::sqrt(2 * M_PI));
    sum += value * (k == 0 || k == kSteps ? 1 : k % 2 ? 4 : 2);
  }
  return sum * (to - from) / (3 * kSteps);
}

TEST(NoiseLaw, DarkPixelsAreSeenTooBrightAndPutBack) {
  NoiseLaw law;
  law.read = 4e-4;
  law.shot = 1e-3;
  for (const double level : {0.0, 0.005, 0.02, 0.05, 0.3, 1.0}) {
    EXPECT_NEAR(law.Seen(level), RectifiedMean(level, std::sqrt(law.Sensor(level))), 1e-6);
    EXPECT_NEAR(law.Unseen(law.Seen(level)), level, 1e-4) << "level " << level;
  }
}

}  // namespace
}  // namespace cutface
