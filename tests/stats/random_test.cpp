#include <gtest/gtest.h>

#include <cmath>

#include "cutface/stats.h"
#include "cutface/stats_run.h"

namespace cutface {
namespace {

// Test vector of the public xoshiro256** reference implementation for the state 1, 2, 3, 4 (as used
// by several independent ports; from memory).
TEST(Random, FollowsTheReferenceSequenceOfXoshiro256StarStar) {
  Random random = Random::FromState({1, 2, 3, 4});
  for (const std::uint64_t expected :
       {std::uint64_t{11520}, std::uint64_t{0}, std::uint64_t{1509978240},
        std::uint64_t{1215971899390074240U}, std::uint64_t{1216172134540287360U},
        std::uint64_t{607988272756665600U}, std::uint64_t{16172922978634559625U},
        std::uint64_t{8476171486693032832U}, std::uint64_t{10595114339597558777U},
        std::uint64_t{2904607092377533576U}}) {
    EXPECT_EQ(random.Next(), expected);
  }
}

// First outputs of splitmix64 for seed 0, as published with the generator (from memory).
TEST(Random, IsSeededBySplitmix64) {
  Random seeded(0);
  Random expected = Random::FromState(
      {0xe220a8397b1dcdafU, 0x6e789e6aa1b965f4U, 0x06c45d188009454fU, 0xf88bb8a8724c81ecU});
  for (int i = 0; i < 10; ++i) EXPECT_EQ(seeded.Next(), expected.Next());
}

TEST(Random, SameSeedSameNumbersOtherSeedOtherNumbers) {
  Random a(42), b(42), c(43);
  bool differs = false;
  for (int i = 0; i < 100; ++i) {
    const double drawn = a.Normal();
    EXPECT_EQ(drawn, b.Normal());
    differs |= drawn != c.Normal();
  }
  EXPECT_TRUE(differs);
}

// Bounds are five standard errors wide; seeds are fixed, so this never flickers.
TEST(Random, UniformFillsItsRangeEvenly) {
  Random random(1);
  constexpr int kDraws = 100000;
  double sum = 0, squares = 0, least = 1, greatest = 0;
  for (int i = 0; i < kDraws; ++i) {
    const double u = random.Uniform();
    sum += u;
    squares += u * u;
    least = std::min(least, u);
    greatest = std::max(greatest, u);
  }
  EXPECT_GE(least, 0);
  EXPECT_LT(greatest, 1);
  EXPECT_NEAR(sum / kDraws, 0.5, 5 * 0.2887 / std::sqrt(kDraws));
  EXPECT_NEAR(squares / kDraws, 1.0 / 3, 5 * 0.298 / std::sqrt(kDraws));
  for (int i = 0; i < 1000; ++i) {
    const double u = random.Uniform(-3, 5);
    EXPECT_TRUE(u >= -3 && u < 5);
  }
}

TEST(Random, NormalHasMeanVarianceTailsAndNoMemory) {
  Random random(2);
  constexpr int kDraws = 200000;
  double sum = 0, squares = 0, fourth = 0, neighbours = 0, before = 0;
  int beyond = 0;
  for (int i = 0; i < kDraws; ++i) {
    const double z = random.Normal();
    sum += z;
    squares += z * z;
    fourth += z * z * z * z;
    neighbours += z * before;
    before = z;
    if (std::abs(z) > 1.959964) ++beyond;
  }
  const double root = std::sqrt(kDraws);
  EXPECT_NEAR(sum / kDraws, 0, 5 / root);
  EXPECT_NEAR(squares / kDraws, 1, 5 * std::sqrt(2) / root);
  EXPECT_NEAR(fourth / kDraws, 3, 5 * std::sqrt(96) / root);
  EXPECT_NEAR(neighbours / kDraws, 0, 5 / root);
  EXPECT_NEAR(beyond / static_cast<double>(kDraws), 0.05, 5 * 0.218 / root);
}

TEST(Random, IntegerHitsEveryValueAsOften) {
  Random random(3);
  std::array<int, 7> counts{};
  constexpr int kOfEach = 10000, kDraws = 7 * kOfEach;
  for (int i = 0; i < kDraws; ++i) ++counts.at(static_cast<std::size_t>(random.Integer(-3, 3) + 3));
  for (const int count : counts) EXPECT_NEAR(count, kOfEach, 5 * std::sqrt(kOfEach));
  EXPECT_EQ(random.Integer(5, 5), 5);
  const int any = random.Integer(std::numeric_limits<int>::min(), std::numeric_limits<int>::max());
  EXPECT_NE(any, random.Integer(std::numeric_limits<int>::min(), std::numeric_limits<int>::max()));
}

TEST(Random, PoissonHasEqualMeanAndVarianceAlsoAboveTheNormalLimit) {
  for (const double mean : {0.0, 0.3, 4.0, 49.0, 80.0}) {
    SCOPED_TRACE(mean);
    Random random(4);
    constexpr int kDraws = 40000;
    double sum = 0, squares = 0;
    for (int i = 0; i < kDraws; ++i) {
      const auto n = static_cast<double>(random.Poisson(mean));
      EXPECT_GE(n, 0);
      sum += n;
      squares += n * n;
    }
    const double average = sum / kDraws, variance = squares / kDraws - average * average;
    EXPECT_NEAR(average, mean, 5 * std::sqrt(mean / kDraws) + 1e-12);
    EXPECT_NEAR(variance, mean, 5 * std::sqrt((2 * mean * mean + mean) / kDraws) + 0.1);
  }
}

TEST(Random, ChanceIsAsLikelyAsAsked) {
  Random random(6);
  int hits = 0;
  for (int i = 0; i < 10000; ++i) hits += random.Chance(0.2) ? 1 : 0;
  EXPECT_NEAR(hits, 2000, 5 * 40);
  EXPECT_FALSE(random.Chance(0));
  EXPECT_TRUE(random.Chance(1));
}

// Shares below quantiles of Boost's distribution; 20,000 draws leave 0.35 % at the median.
TEST(Random, ChiSquaredFollowsItsDistribution) {
  for (const double df : {1.0, 2.0, 5.0, 60.0}) {
    Random random(5);
    const double ps[] = {0.025, 0.5, 0.975};
    int below[3] = {};
    for (int i = 0; i < 20000; ++i) {
      const double value = random.ChiSquared(df);
      for (int k = 0; k < 3; ++k) below[k] += value < ChiSquaredQuantile(ps[k], df) ? 1 : 0;
    }
    for (int k = 0; k < 3; ++k)
      EXPECT_NEAR(below[k] / 20000.0, ps[k], 4 * std::sqrt(ps[k] * (1 - ps[k]) / 20000)) << df;
  }
}

}  // namespace
}  // namespace cutface
