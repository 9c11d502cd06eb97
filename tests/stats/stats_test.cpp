#include "cutface/stats.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "reference/reference.h"

namespace cutface {
namespace {

TEST(Normal, ProbabilityBeyondOneLimitMatchesTheTable) {
  int rows = 0;
  for (const ReferenceRow& row : ReadReference("normal-probabilities/one_limit.txt")) {
    EXPECT_NEAR(NormalCdf(row.values[0]), row.values[1], 5.1e-7) << "m " << row.values[0];
    EXPECT_NEAR(NormalCdf(-row.values[0]), 1 - row.values[1], 5.1e-7);
    ++rows;
  }
  EXPECT_EQ(rows, 11);
}

// Percentage points as printed in statistical tables (common knowledge): 95 % two-sided 1.959964,
// 95 % one-sided 1.644854, 99 % one-sided 2.326348; far tail NormalCdf(-10) = 7.619853e-24.
TEST(Normal, QuantilesMatchPrintedPercentagePointsAndUndoTheCdf) {
  EXPECT_NEAR(NormalQuantile(0.975), 1.959964, 5e-7);
  EXPECT_NEAR(NormalQuantile(0.95), 1.644854, 5e-7);
  EXPECT_NEAR(NormalQuantile(0.01), -2.326348, 5e-7);
  EXPECT_EQ(NormalQuantile(0.5), 0);
  EXPECT_NEAR(NormalCdf(-10) / 7.619853e-24, 1, 1e-6);
  for (double z = -8; z <= 5; z += 0.25) EXPECT_NEAR(NormalQuantile(NormalCdf(z)), z, 1e-9);
}

TEST(Moments, OfSmallSamplesMatchHandCalculation) {
  const std::array<double, 4> values = {2, 4, 4, 6};
  EXPECT_EQ(Mean(values), 4);
  EXPECT_NEAR(StandardDeviation(values), std::sqrt(8.0 / 3), 1e-15);
}

// A large common part must not eat the digits of the spread.
TEST(Moments, KeepTheirDigitsUnderALargeOffset) {
  std::vector<double> values;
  for (int i = 0; i < 1001; ++i) values.push_back(1e7 + 0.1 * (i % 3));
  // 0, 0.1 and 0.2 come 334, 334 and 333 times: mean 100 / 1001, sum of squares 16.66.
  const double mean = 100.0 / 1001;
  EXPECT_NEAR(Mean(values) - 1e7, mean, 2e-9);
  EXPECT_NEAR(StandardDeviation(values), std::sqrt((16.66 - 1001 * mean * mean) / 1000), 1e-8);
}

// Type 7 of Hyndman & Fan (1996): position p (n - 1) between order statistics.
TEST(Quantile, InterpolatesBetweenOrderStatistics) {
  const std::vector<double> values = {30, 10, 40, 20};
  EXPECT_EQ(Quantile(values, 0), 10);
  EXPECT_EQ(Quantile(values, 1), 40);
  EXPECT_EQ(Quantile(values, 0.5), 25);
  EXPECT_NEAR(Quantile(values, 0.1), 13, 1e-12);
  EXPECT_EQ(Quantile({7}, 0.3), 7);
  EXPECT_EQ(Median({5, 1, 3}), 3);
}

TEST(RobustSigma, IgnoresOutliersAndMatchesTheSpreadOfNormalSamples) {
  Random random(5);
  std::vector<double> values;
  for (int i = 0; i < 20000; ++i) values.push_back(3 * random.Normal());
  EXPECT_NEAR(RobustSigma(values), 3, 0.08);  // standard error 1.17 * 3 / sqrt(20000) = 0.025
  for (int i = 0; i < 1000; ++i) values.push_back(1e6);
  EXPECT_NEAR(RobustSigma(values), 3, 0.3);
  EXPECT_EQ(RobustSigma({4, 4, 4}), 0);
}

// Success run: n is the least sample in which c failures still show a reliability P with confidence
// C. The one-sided lower bound at C of (n - c) good of n is the lower end of the interval at 2 C
// - 1.
TEST(BinomialInterval, AgreesWithTheSuccessRunTable) {
  int rows = 0;
  for (const ReferenceRow& row : ReadReference("success-run/samples.txt")) {
    if (row.word != "success_run") continue;
    const double confidence = row.values[0], reliability = row.values[1];
    const auto failures = static_cast<std::int64_t>(row.values[2]);
    const auto n = static_cast<std::int64_t>(row.values[3]);
    const auto shown = [&](std::int64_t trials) {
      return BinomialInterval(trials - failures, trials, 2 * confidence - 1).first;
    };
    EXPECT_GE(shown(n), reliability) << n;
    EXPECT_LT(shown(n - 1), reliability) << n;
    ++rows;
  }
  EXPECT_EQ(rows, 45);
}

TEST(BinomialInterval, AfterNoFailureMatchesTheUpperBoundTable) {
  int rows = 0;
  for (const ReferenceRow& row : ReadReference("success-run/samples.txt")) {
    if (row.word != "upper_bound") continue;
    const auto interval = BinomialInterval(0, static_cast<std::int64_t>(row.values[0]), 0.90);
    EXPECT_EQ(interval.first, 0);
    EXPECT_NEAR(interval.second, row.values[1], 5.1e-7);
    ++rows;
  }
  EXPECT_EQ(rows, 5);
}

// Definition (Clopper & Pearson 1934): at each end the observed count is just at the tail's edge.
TEST(BinomialInterval, EndsLeaveExactlyTheTailProbability) {
  const auto tail_at_least = [](int hits, int trials, double p) {
    double sum = 0;
    for (int k = hits; k <= trials; ++k) {
      sum +=
          std::exp(std::lgamma(trials + 1.0) - std::lgamma(k + 1.0) -
                   std::lgamma(trials - k + 1.0) + k * std::log(p) + (trials - k) * std::log1p(-p));
    }
    return sum;
  };
  for (const auto& [hits, trials] : {std::pair{3, 10}, {1, 7}, {950, 1000}, {6, 7}}) {
    const auto [low, high] = BinomialInterval(hits, trials, 0.95);
    EXPECT_NEAR(tail_at_least(hits, trials, low), 0.025, 1e-9);
    EXPECT_NEAR(1 - tail_at_least(hits + 1, trials, high), 0.025, 1e-9);
  }
}

TEST(BinomialInterval, NoTrialsTellNothing) {
  EXPECT_EQ(BinomialInterval(0, 0), std::pair(0.0, 1.0));
  EXPECT_EQ(BinomialInterval(5, 5).second, 1);
  EXPECT_EQ(BinomialInterval(0, 5).first, 0);
}

}  // namespace
}  // namespace cutface
