// Statistics of a run against published values; each test names its source.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "cutface/stats_run.h"
#include "reference/reference.h"

namespace cutface {
namespace {

// Digits in common with a certified value (log relative error, as StRD scores it).
double CertifiedDigits(double found, double certified) {
  if (found == certified) return 16;
  return -std::log10(std::abs(found - certified) / std::abs(certified));
}

TEST(Run, SummariesHaveNineDigitsOfTheCertifiedOnes) {
  int sets = 0;
  for (const ReferenceRow& row : ReadReference("nist-strd/univariate.txt")) {
    SCOPED_TRACE(row.word);
    const std::vector<double> values(row.values.begin() + 2, row.values.end());
    const SampleSummary summary = Summarise(values);
    EXPECT_GE(CertifiedDigits(summary.mean, row.values[0]), 13);
    EXPECT_GE(CertifiedDigits(*summary.sd, row.values[1]), 11);
    ++sets;
  }
  EXPECT_EQ(sets, 5);
}

// The lag-1 autocorrelation depends on every value and its place: with all certified digits of it
// the data written here are the published ones.
TEST(Run, ReferenceSetsAreTheCertifiedOnesInTheirOrder) {
  const auto rows = ReadReference("nist-strd/univariate.txt");
  int sets = 0;
  for (const auto& [name, certified] : {std::pair{"Lottery", -0.120948622967393},
                                        {"Lew", -0.307304800605679},
                                        {"Mavro", 0.937989183438248},
                                        {"Michelso", 0.535199668621283}}) {
    const std::vector<double> row = ReferenceValues(rows, name);
    const std::vector<double> values(row.begin() + 2, row.end());
    const double mean = Mean(values);
    double lagged = 0, all = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
      all += (values[i] - mean) * (values[i] - mean);
      if (i > 0) lagged += (values[i] - mean) * (values[i - 1] - mean);
    }
    EXPECT_GE(CertifiedDigits(lagged / all, certified), 12) << name;
    ++sets;
  }
  EXPECT_EQ(sets, 4);
}

// NIST StRD NumAcc2 to NumAcc4. Decimal fractions near 1e6 and 1e7 are rounded to 1e-10 and 1e-9 in
// double precision, 1e-9 and 1e-8 of the standard deviation of 0.1: no program can have more
// digits.
TEST(Run, SummariesKeepWhatDoublePrecisionAllowsUnderAnOffset) {
  for (const auto& [offset, digits] : {std::pair{0.0, 13.0}, {1e6, 9.0}, {1e7, 8.0}}) {
    std::vector<double> values = {offset + 1.2 - (offset > 0 ? 1 : 0)};
    const double centre = offset > 0 ? offset + 0.2 : 1.2;
    values[0] = centre;
    for (int i = 0; i < 500; ++i) {
      values.push_back(offset > 0 ? offset + 0.1 : 1.1);
      values.push_back(offset > 0 ? offset + 0.3 : 1.3);
    }
    EXPECT_GE(CertifiedDigits(Mean(values), centre), 14) << offset;
    EXPECT_GE(CertifiedDigits(StandardDeviation(values), 0.1), digits) << offset;
  }
}

TEST(Tolerance, FactorsMatchThePrintedOnes) {
  int rows = 0;
  for (const ReferenceRow& row : ReadReference("tolerance-factors/normal.txt")) {
    const double coverage = row.word == "coverage_90"   ? 0.90
                            : row.word == "coverage_95" ? 0.95
                                                        : 0.99;
    const auto n = static_cast<std::size_t>(row.values[0]);
    SCOPED_TRACE(testing::Message() << row.word << " n " << n);
    EXPECT_NEAR(ToleranceFactorOneSided(n, coverage, 0.95), row.values[1], 5.1e-5);
    EXPECT_NEAR(ToleranceFactorTwoSided(n, coverage, 0.95), row.values[2], 5.1e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 34);
}

// NIST/SEMATECH e-Handbook 7.2.6.3: n 43, coverage 90 %, confidence 99 %; the exact factors beside
// the approximations printed there (2.2173, 1.8752).
TEST(Tolerance, ExactFactorsOfTheHandbookExample) {
  EXPECT_NEAR(ToleranceFactorTwoSided(43, 0.90, 0.99), 2.2228252, 5.1e-8);
  EXPECT_NEAR(ToleranceFactorOneSided(43, 0.90, 0.99), 1.8739536, 5.1e-8);
}

TEST(SampleSize, WithoutAndWithFailuresMatchesTheTable) {
  int rows = 0;
  for (const ReferenceRow& row : ReadReference("success-run/samples.txt")) {
    if (row.word != "success_run") continue;
    EXPECT_EQ(
        AttributeSampleSize(row.values[0], row.values[1], static_cast<std::size_t>(row.values[2])),
        static_cast<std::size_t>(row.values[3]))
        << row.values[0] << " " << row.values[1] << " " << row.values[2];
    ++rows;
  }
  EXPECT_GE(rows, 27);
}

// The factor falls with n: 2.3960 at 20 and 2.2917 at 25 (ISO 16269-6, 95/95).
TEST(SampleSize, ForAFactorIsTheFirstWhoseFactorIsSmallEnough) {
  for (const bool two_sided : {false, true}) {
    const double k = two_sided ? 2.7603 : 2.3960;  // of 20 values, rounded up
    const auto n = SizeForToleranceFactor(k + 1e-4, two_sided, 0.95, 0.95);
    EXPECT_EQ(n, 20u);
  }
  EXPECT_FALSE(SizeForToleranceFactor(1.6, false, 0.95, 0.95));  // below the normal quantile
}

TEST(SampleSize, LeastOf59ValuesIsA9595Bound) {  // usual handbook figure
  EXPECT_GE(LeastValueConfidence(59, 0.95), 0.95);
  EXPECT_LT(LeastValueConfidence(58, 0.95), 0.95);
  EXPECT_GE(LeastValueConfidence(299, 0.99), 0.95);
  EXPECT_LT(LeastValueConfidence(298, 0.99), 0.95);
}

// NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, standard deviation 2: Cp 1, Cpk 0.6667;
// intervals computed from chi-squared and the normal approximation.
TEST(Capability, HandbookExampleWithIntervals) {
  struct Row {
    std::size_t n;
    Interval cp, cpk;
  };
  for (const Row& row :
       {Row{30, {0.7439, 1.2556}, {0.4577, 0.8756}}, Row{50, {0.8025, 1.1971}, {0.5056, 0.8278}},
        Row{100, {0.8608, 1.1389}, {0.5531, 0.7802}}}) {
    const auto dof = static_cast<double>(row.n - 1);
    const IndexValue cp = SpreadIndex(2, dof, 8, 20);
    const IndexValue cpk = NearerIndex(16, 2, row.n, dof, 8, 20);
    EXPECT_EQ(cp.value, 1);
    EXPECT_NEAR(cpk.value, 2.0 / 3, 1e-15);
    EXPECT_NEAR(cp.interval.lo, row.cp.lo, 5.1e-5);
    EXPECT_NEAR(cp.interval.hi, row.cp.hi, 5.1e-5);
    EXPECT_NEAR(cpk.interval.lo, row.cpk.lo, 5.1e-5);
    EXPECT_NEAR(cpk.interval.hi, row.cpk.hi, 5.1e-5);
  }
}

// Exact lower 95 % bounds of an index of 1.33 against one limit (non-central t): 1.0216, 1.0931,
// 1.1637 for 30, 50 and 100 parts; the two-sided 90 % interval has that lower end.
TEST(Capability, OneLimitBoundIsExact) {
  EXPECT_NEAR(OneLimitIndex(3 * 1.33, 1, 30, 0.90).interval.lo, 1.0216, 5.1e-5);
  EXPECT_NEAR(OneLimitIndex(3 * 1.33, 1, 50, 0.90).interval.lo, 1.0931, 5.1e-5);
  EXPECT_NEAR(OneLimitIndex(3 * 1.33, 1, 100, 0.90).interval.lo, 1.1637, 5.1e-5);
  // A one-sided tolerance bound that just touches the limit says the same of 1 - coverage.
  const double k = ToleranceFactorOneSided(30, 0.99865, 0.95);
  EXPECT_NEAR(OneLimitIndex(k, 1, 30, 0.90).interval.lo, 1, 2e-4);
}

// Montgomery, Introduction to Statistical Quality Control: piston rings.
TEST(Capability, PistonRings) {
  std::vector<std::vector<double>> groups;
  std::vector<double> all;
  for (const ReferenceRow& row : ReadReference("capability/piston_rings.txt")) {
    groups.push_back(row.values);
    all.insert(all.end(), row.values.begin(), row.values.end());
  }
  ASSERT_EQ(all.size(), 125u);
  const double lower = 73.95, upper = 74.05, mean = Mean(all);
  EXPECT_NEAR(mean, 74.001176, 5.1e-7);
  const double by_range = *SpreadFromRanges(groups);
  EXPECT_NEAR(by_range, 0.00978534, 5.1e-9);
  EXPECT_NEAR(SpreadIndex(by_range, 100, lower, upper).value, 1.7032, 5.1e-5);
  EXPECT_NEAR(NearerIndex(mean, by_range, 125, 100, lower, upper).value, 1.6632, 5.1e-5);
  const auto within = PooledSpread(groups);
  ASSERT_TRUE(within);
  EXPECT_NEAR(within->sd, 0.00986286, 5.1e-9);
  EXPECT_EQ(within->degrees_of_freedom, 100);
  const double sd = StandardDeviation(all);
  EXPECT_NEAR(sd, 0.01006997, 5.1e-9);
  EXPECT_NEAR(SpreadIndex(sd, 124, lower, upper).value, 1.65509, 5.1e-6);
  EXPECT_NEAR(NearerIndex(mean, sd, 125, 124, lower, upper).value, 1.61616, 5.1e-6);
}

TEST(Charts, ConstantsMatchThePrintedOnes) {
  int rows = 0;
  for (const ReferenceRow& row : ReadReference("capability/chart_constants.txt")) {
    const ChartConstants c = ChartConstantsOf(static_cast<std::size_t>(row.values[0]));
    SCOPED_TRACE(testing::Message() << "n " << row.values[0]);
    EXPECT_NEAR(c.d2, row.values[1], 5.1e-7);
    EXPECT_NEAR(c.d3, row.values[2], 5.1e-7);
    EXPECT_NEAR(c.c4, row.values[3], 5.1e-7);
    EXPECT_NEAR(c.D3(), row.values[4], 5.1e-5);
    EXPECT_NEAR(c.D4(), row.values[5], 5.1e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 9);
}

// NIST/SEMATECH e-Handbook 6.3.2.2; it divides by 1.128, d2(2) rounded, hence 3e-3.
TEST(Charts, IndividualsAndMovingRangesOfTheHandbook) {
  const std::vector<double> flow = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
  const IndividualsChart chart = MakeIndividualsChart(flow);
  EXPECT_NEAR(chart.centre, 50.81, 1e-12);
  EXPECT_NEAR(chart.mean_range, 1.8778, 5e-5);
  EXPECT_NEAR(chart.upper, 55.8041, 3e-3);
  EXPECT_NEAR(chart.lower, 45.8159, 3e-3);
  EXPECT_NEAR(chart.range_upper, 6.1347, 2e-3);
  EXPECT_TRUE(chart.beyond.empty());
  EXPECT_TRUE(chart.one_side.empty());
  EXPECT_NEAR(StandardDeviation(flow), 2.03385, 5e-6);
}

// Nelson, Journal of Quality Technology 16 (1984): nine in a row on one side; eight are none.
TEST(Charts, ARunOfNineOnOneSideIsTold) {
  std::vector<double> values = {10, 10.2, 9.8, 10.1, 9.9, 10, 9.7, 10.3, 10};
  for (int i = 0; i < 9; ++i) values.push_back(10.8 + 0.1 * (i % 3));
  EXPECT_EQ(MakeIndividualsChart(values).one_side.size(), 2u);  // nine below, then nine above
  values.pop_back();
  for (const std::size_t end : MakeIndividualsChart(values).one_side) EXPECT_LT(end, 9u);
  values[0] = 20;
  EXPECT_EQ(MakeIndividualsChart(values).beyond, std::vector<std::size_t>{0});
}

// Directions evenly spread, and all alike; mean of 350 and 10 degrees is 0, not 180.
TEST(Directions, MeanGoesAroundTheClock) {
  const double degree = std::acos(-1.0) / 180;
  const CircularSummary near = SummariseDirections(std::vector<double>{350 * degree, 10 * degree});
  EXPECT_NEAR(std::cos(near.mean), 1, 1e-12);
  EXPECT_NEAR(near.resultant, std::cos(10 * degree), 1e-12);
  std::vector<double> even;
  for (int i = 0; i < 12; ++i) even.push_back(30 * i * degree);
  const CircularSummary spread = SummariseDirections(even);
  EXPECT_NEAR(spread.resultant, 0, 1e-12);
  EXPECT_GT(spread.rayleigh_p, 0.99);
  EXPECT_FALSE(spread.half_width);
}

TEST(TwoSamples, EquivalenceNeedsTheWholeIntervalWithinTheMargin) {
  const std::vector<double> a = {10.0, 10.2, 9.9, 10.1, 10.0, 9.8};
  const std::vector<double> b = {10.1, 10.2, 10.0, 10.1, 9.9, 10.2};
  const auto d = MeanDifference(a, b);
  ASSERT_TRUE(d);
  EXPECT_EQ(TestEquivalence(*d, 0.5).answer, Equivalence::Answer::kEquivalent);
  EXPECT_LT(TestEquivalence(*d, 0.5).p, 0.05);
  EXPECT_EQ(TestEquivalence(*d, 0.1).answer, Equivalence::Answer::kOpen);
  std::vector<double> far = b;
  for (double& value : far) value += 3;
  EXPECT_EQ(TestEquivalence(*MeanDifference(a, far), 0.5).answer, Equivalence::Answer::kDifferent);
  EXPECT_FALSE(MeanDifference(std::vector<double>{1, 1}, std::vector<double>{2, 2}));
}

// The percentile method with a normal curve is the ordinary index of a normal sample.
TEST(Capability, PercentileMethodOnNormalQuantilesIsTheOrdinaryIndex) {
  std::vector<double> values;
  for (int i = 0; i < 99; ++i) values.push_back(100 + 5 * NormalQuantile((i + 0.5) / 99));
  const auto tails = FitTails(values);
  EXPECT_EQ(tails.front().kind, FittedTail::Kind::kNormal);
  const PercentileIndex low = PercentileCapability(values, tails.front(), 80, true);
  EXPECT_NEAR(low.value, 20.0 / 15, 0.02);
  EXPECT_TRUE(low.extrapolated);
  values.push_back(100);
  EXPECT_FALSE(PercentileCapability(values, tails.front(), 80, true).extrapolated);
  EXPECT_NEAR(PercentileCapability(values, tails.front(), 120, false).value, 20.0 / 15, 0.02);
}

}  // namespace
}  // namespace cutface
