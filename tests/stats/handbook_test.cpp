// Printed figures of handbooks beside those of run_test.cpp; each test names its source. Not
// computed by this program, and so not here: exponentially weighted and cumulated sum charts
// (NIST/SEMATECH 6.3.2.3, 6.3.2.4) and limits of two order statistics (46, 93, 473).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "cutface/anova.h"
#include "cutface/stats_run.h"
#include "reference/reference.h"

namespace cutface {
namespace {

// Half a unit of the last of `decimals` printed places.
double Printed(int decimals) { return 0.51 * std::pow(10, -decimals); }

// Tolerance factors to the three and two places that tables print (one-sided: ISO 16269-6 and
// others; two-sided 95/95 and 95/99: Berthouex & Brown, table 21.1).
TEST(Handbook, ToleranceFactorsAsTablesPrintThem) {
  struct Row {
    std::size_t n;
    double one95, one99, two95, two99;  // 0: not printed
  };
  const Row rows[] = {{3, 7.656, 10.553, 0, 0},       {5, 4.203, 5.741, 5.08, 6.60},
                      {6, 3.708, 5.062, 4.42, 5.76},  {8, 3.187, 4.354, 3.75, 4.89},
                      {10, 2.911, 3.981, 3.39, 4.44}, {12, 2.736, 3.747, 3.17, 4.16},
                      {15, 2.566, 3.520, 2.96, 3.89}, {20, 2.396, 3.295, 2.76, 3.62},
                      {25, 2.292, 3.158, 2.64, 3.46}, {30, 2.220, 3.064, 2.55, 3.35},
                      {40, 2.125, 2.941, 2.45, 3.22}, {50, 2.065, 2.862, 0, 0},
                      {60, 2.022, 2.807, 2.34, 3.07}, {100, 1.927, 2.684, 0, 0}};
  for (const Row& row : rows) {
    SCOPED_TRACE(row.n);
    EXPECT_NEAR(ToleranceFactorOneSided(row.n, 0.95, 0.95), row.one95, Printed(3));
    EXPECT_NEAR(ToleranceFactorOneSided(row.n, 0.99, 0.95), row.one99, Printed(3));
    if (row.two95 == 0) continue;
    EXPECT_NEAR(ToleranceFactorTwoSided(row.n, 0.95, 0.95), row.two95, Printed(2));
    EXPECT_NEAR(ToleranceFactorTwoSided(row.n, 0.99, 0.95), row.two99, Printed(2));
  }
}

// NIST/SEMATECH e-Handbook 7.2.6.3: mean 97.07, standard deviation 0.0268, n 43: limits 97.010576
// to 97.12942 by Howe's approximation, 97.019745 and 97.120255 by Natrella's. The exact factors
// differ from those by 0.0056 and 0.0013 (2.2228 for 2.2173, 1.8740 for 1.8752).
TEST(Handbook, ToleranceLimitsOfTheExampleWithinItsApproximations) {
  const double two = ToleranceFactorTwoSided(43, 0.90, 0.99) * 0.0268;
  const double one = ToleranceFactorOneSided(43, 0.90, 0.99) * 0.0268;
  EXPECT_NEAR(97.07 - two, 97.010576, 0.0056 * 0.0268 + Printed(6));
  EXPECT_NEAR(97.07 + two, 97.12942, 0.0056 * 0.0268 + Printed(5));
  EXPECT_NEAR(97.07 + one, 97.120255, 0.0013 * 0.0268 + Printed(6));
  EXPECT_NEAR(97.07 - one, 97.019745, 0.0013 * 0.0268 + Printed(6));
}

// NIST/SEMATECH 6.1.6: each side of the example: Cpu 0.6667, Cpl 1.3333; and the lower one-sided
// 95 % bound of an index of 1.33 by the normal formula (computed): 1.0258, 1.0958, 1.1651.
TEST(Handbook, EachSideOfTheCapabilityExample) {
  EXPECT_NEAR(OneLimitIndex(20 - 16, 2, 30).value, 0.6667, Printed(4));
  EXPECT_NEAR(OneLimitIndex(16 - 8, 2, 30).value, 1.3333, Printed(4));
  for (const auto& [n, bound] : {std::pair{30u, 1.0258}, {50u, 1.0958}, {100u, 1.1651}}) {
    const IndexValue index = NearerIndex(3 * 1.33, 1, n, n - 1.0, 0, 100, 0.90);
    EXPECT_NEAR(index.value, 1.33, 1e-12);
    EXPECT_NEAR(index.interval.lo, bound, Printed(4));
  }
}

// Montgomery's piston rings: mean 74.001176, mean range 0.02276, limits of the means 74.0143044 and
// 73.9880476 (A2 = 3 / (d2 sqrt 5)), of the ranges 0.048126 (D4).
TEST(Handbook, ChartLimitsOfThePistonRings) {
  double sum = 0, ranges = 0;
  for (const ReferenceRow& row : ReadReference("capability/piston_rings.txt")) {
    sum += Mean(row.values) / 25;
    const auto [least, greatest] = std::minmax_element(row.values.begin(), row.values.end());
    ranges += (*greatest - *least) / 25;
  }
  const ChartConstants five = ChartConstantsOf(5);
  EXPECT_NEAR(sum, 74.001176, Printed(6));
  EXPECT_NEAR(ranges, 0.02276, Printed(5));
  const double reach = 3 / (five.d2 * std::sqrt(5.0)) * ranges;
  EXPECT_NEAR(sum + reach, 74.0143044, Printed(7));
  EXPECT_NEAR(sum - reach, 73.9880476, Printed(7));
  EXPECT_NEAR(five.D4() * ranges, 0.048126, Printed(6));
}

// Factors that tables of control charts print beside d2, d3 and c4: A2, E2, A3, B3, B4.
TEST(Handbook, FurtherChartFactorsFollowFromTheConstants) {
  struct Row {
    std::size_t n;
    double a2, e2, a3, b3, b4;
  };
  const Row rows[] = {
      {2, 1.8800, 2.6587, 2.6587, 0, 3.2665},      {3, 1.0233, 1.7725, 1.9544, 0, 2.5682},
      {4, 0.7286, 1.4572, 1.6281, 0, 2.2660},      {5, 0.5768, 1.2898, 1.4273, 0, 2.0890},
      {6, 0.4832, 1.1837, 1.2871, 0.0304, 1.9696}, {7, 0.4193, 1.1093, 1.1819, 0.1177, 1.8823},
      {8, 0.3725, 1.0537, 1.0991, 0.1851, 1.8149}, {9, 0.3367, 1.0101, 1.0317, 0.2391, 1.7609},
      {10, 0.3083, 0.9748, 0.9754, 0.2837, 1.7163}};
  for (const Row& row : rows) {
    SCOPED_TRACE(row.n);
    const ChartConstants c = ChartConstantsOf(row.n);
    const double root = std::sqrt(static_cast<double>(row.n));
    const double spread = 3 * std::sqrt(1 - c.c4 * c.c4) / c.c4;
    EXPECT_NEAR(3 / (c.d2 * root), row.a2, Printed(4));
    EXPECT_NEAR(3 / c.d2, row.e2, Printed(4));
    EXPECT_NEAR(3 / (c.c4 * root), row.a3, Printed(4));
    EXPECT_NEAR(std::max(0.0, 1 - spread), row.b3, Printed(4));
    EXPECT_NEAR(1 + spread, row.b4, Printed(4));
  }
  // Closed forms: 2 / sqrt pi, 3 / sqrt pi, 12 atan(sqrt 2) / pi^1.5, 30 atan(sqrt 2) / pi^1.5 -
  // 5 / sqrt pi.
  const double pi = std::acos(-1.0), wide = std::atan(std::sqrt(2.0)) / std::pow(pi, 1.5);
  EXPECT_NEAR(ChartConstantsOf(2).d2, 2 / std::sqrt(pi), 1e-11);
  EXPECT_NEAR(ChartConstantsOf(3).d2, 3 / std::sqrt(pi), 1e-11);
  EXPECT_NEAR(ChartConstantsOf(4).d2, 12 * wide, 1e-11);
  EXPECT_NEAR(ChartConstantsOf(5).d2, 30 * wide - 5 / std::sqrt(pi), 1e-11);
}

// A published table of 3 prototypes x 3 operators x 3 replicates (data set of a textbook; the raw
// data are not public, so the F tails only): 28.797 on 2 and 4, 1.270 on 2 and 4, 0.974 on 4 and 18
// degrees of freedom have p 0.00422, 0.37415 and 0.44619. The F are printed to three places, which
// leaves 1e-4 of p.
TEST(Handbook, TailsOfAPublishedVarianceTable) {
  EXPECT_NEAR(FUpperTail(28.797, 2, 4), 0.00422, Printed(5));
  EXPECT_NEAR(FUpperTail(1.270, 2, 4), 0.37415, 2e-4);
  EXPECT_NEAR(FUpperTail(0.974, 4, 18), 0.44619, 4e-4);
}

}  // namespace
}  // namespace cutface
