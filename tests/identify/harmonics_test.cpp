#include "identify/harmonics.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kTwoPi = 2 * std::numbers::pi;

double Truth(double turn) {
  return 2 + 1.5 * std::cos(kTwoPi * turn) - 0.4 * std::sin(2 * kTwoPi * turn) +
         0.2 * std::cos(3 * kTwoPi * turn + 1);
}

// The belief in small high harmonics pulls by far less than this.
constexpr double kExact = 1e-3;

TEST(Harmonics, MeetASeriesOfTheirOrderWithOneArcHiddenAndOneWrong) {
  std::vector<HarmonicSample> samples;
  for (int i = 0; i < 120; ++i) {
    const double turn = i / 120.0;
    if (turn > 0.30 && turn < 0.42) continue;      // hidden
    const bool wrong = turn > 0.7 && turn < 0.76;  // another edge
    samples.push_back({turn, Truth(turn) + (wrong ? 3.0 : 0.0), 0.05});
  }
  const Harmonics fit(samples, 3);
  for (int i = 0; i < 360; ++i) EXPECT_NEAR(fit.At(i / 360.0), Truth(i / 360.0), kExact) << i;
  for (const HarmonicSample& s : samples)
    EXPECT_EQ(s.weight<0.2, s.turn> 0.7 && s.turn < 0.76) << s.turn;
}

TEST(Harmonics, SigmaIsWiderWhereNothingWasSeenAndCoversTheError) {
  Random random(5);
  int within = 0, all = 0;
  for (int face = 0; face < 40; ++face) {
    std::vector<HarmonicSample> samples;
    for (int i = 0; i < 120; ++i) {
      const double turn = i / 120.0;
      if (turn > 0.5 && turn < 0.62) continue;
      samples.push_back({turn, Truth(turn) + 0.1 * random.Normal(), 0.1});
    }
    const Harmonics fit(samples, 5);
    EXPECT_GT(fit.Sigma(0.56), 1.5 * fit.Sigma(0.1));
    for (const double turn : {0.1, 0.3, 0.56, 0.9}) {
      ++all;
      within += std::abs(fit.At(turn) - Truth(turn)) < 2 * fit.Sigma(turn) ? 1 : 0;
    }
  }
  // 95 % of 160, three standard deviations of the count off at most.
  EXPECT_GT(within, all * 0.95 - 3 * std::sqrt(all * 0.95 * 0.05));
}

TEST(Harmonics, TheBestOrderIsNoHigherThanTheSeries) {
  Random random(6);
  std::vector<HarmonicSample> samples;
  for (int i = 0; i < 200; ++i)
    samples.push_back({i / 200.0, Truth(i / 200.0) + 0.05 * random.Normal(), 0.05});
  const int orders[] = {1, 3, 8, 16};
  EXPECT_EQ(BestHarmonics(samples, orders).order(), 3);
}

}  // namespace
}  // namespace cutface
