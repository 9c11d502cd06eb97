// Statistics of a run: intervals, tolerance bounds, capability, charts, normality, directions.
//
// Plain numbers in any unit; n counts independent values (parts, never pictures). `confidence` is
// two-sided where an Interval comes back, and of one side where a bound does.
// Sources: ISO 16269-6 (tolerance intervals), ISO 22514 (capability), Montgomery, *Introduction to
// Statistical Quality Control* (charts), D'Agostino & Stephens (1986), Mardia & Jupp (2000).
// Keywords: tolerance factor, Cp, Cpk, Pp, Ppk, control chart, moving range, Anderson-Darling,
// equivalence, Welch, circular mean, Rayleigh, sample size.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "cutface/stats.h"

namespace cutface {

struct Interval {
  double lo = 0, hi = 0;
};

// --- one sample ----------------------------------------------------------------------------------

struct SampleSummary {
  std::size_t n = 0;
  double mean = 0, least = 0, greatest = 0, median = 0;
  std::optional<double> sd;  // n - 1; not set under two values
};
SampleSummary Summarise(std::span<const double> values);  // REQUIRES: not empty

// Of a normal sample. REQUIRES: n >= 2, sd >= 0, 0 < confidence < 1.
Interval MeanInterval(double mean, double sd, std::size_t n, double confidence = 0.95);
Interval SpreadInterval(double sd, double degrees_of_freedom, double confidence = 0.95);

// Student, chi-squared and F quantiles, for callers with degrees of freedom of their own.
double StudentQuantile(double p, double degrees_of_freedom);
double ChiSquaredQuantile(double p, double degrees_of_freedom);
double FQuantile(double p, double dof_first, double dof_second);

// Anderson-Darling test against a normal distribution of unknown mean and spread, with the p value
// of D'Agostino & Stephens (1986), table 4.9. Not set under 8 values or when all are equal: nothing
// can be said.
struct NormalityTest {
  double a2 = 0;  // as computed, without the small-sample factor
  double p = 0;
};
std::optional<NormalityTest> AndersonDarling(std::span<const double> values);

// Ordered values against normal quantiles at Blom's places (i - 0.375) / (n + 0.25).
struct ProbabilityPoint {
  double z = 0, value = 0;
};
std::vector<ProbabilityPoint> NormalPlot(std::span<const double> values);

// --- tolerance bounds and sample sizes -----------------------------------------------------------

// k of mean - k sd (or + k sd): with `confidence` at least the share `coverage` of the population
// lies beyond it (non-central t; ISO 16269-6). REQUIRES: n >= 2; shares inside (0, 1).
double ToleranceFactorOneSided(std::size_t n, double coverage, double confidence);
// k of mean -+ k sd that hold the share `coverage` between them; exact, by quadrature (Odeh & Owen
// 1980), not Howe's approximation.
double ToleranceFactorTwoSided(std::size_t n, double coverage, double confidence);
// The least n whose factor is at most k; not set beyond `most`.
std::optional<std::size_t> SizeForToleranceFactor(double k, bool two_sided, double coverage,
                                                  double confidence, std::size_t most = 100000);
// The least n that shows, with at most `failures` failing parts, that at least `reliability` of the
// population is good (binomial; 59 for 0.95, 0.95 and no failure).
std::size_t AttributeSampleSize(double confidence, double reliability, std::size_t failures = 0);
// Confidence that the least of n values lies below all but the share 1 - coverage of the population
// whatever its distribution: 1 - coverage^n.
double LeastValueConfidence(std::size_t n, double coverage);

// --- capability ----------------------------------------------------------------------------------

struct IndexValue {
  double value = 0;
  Interval interval;  // two-sided
};
// (upper - lower) / (6 sd), interval by chi-squared. REQUIRES: upper > lower, sd > 0.
IndexValue SpreadIndex(double sd, double degrees_of_freedom, double lower, double upper,
                       double confidence = 0.95);
// Distance of the mean to the nearer limit in 3 sd, for two limits; interval by the normal
// approximation value -+ z sqrt(1 / (9 n) + value^2 / (2 dof)) (Bissell 1990).
IndexValue NearerIndex(double mean, double sd, std::size_t n, double degrees_of_freedom,
                       double lower, double upper, double confidence = 0.95);
// Distance of the mean inside one limit in 3 sd: `inside` is mean - lower or upper - mean; exact
// interval by the non-central t. REQUIRES: n >= 2, sd > 0.
IndexValue OneLimitIndex(double inside, double sd, std::size_t n, double confidence = 0.95);

// A curve through the values for a far percentile: the likeliest of a normal and the two extreme
// value distributions (Gumbel; least and greatest values), each with two parameters.
struct FittedTail {
  enum class Kind { kNormal, kLeastValue, kGreatestValue };
  Kind kind = Kind::kNormal;
  double location = 0, scale = 0;
  double log_likelihood = 0;
  double Percentile(double p) const;  // REQUIRES: 0 < p < 1
};
std::string_view FittedTailName(FittedTail::Kind kind);
// All three, likeliest first. REQUIRES: 3 values or more, not all equal.
std::vector<FittedTail> FitTails(std::span<const double> values);

// (median - limit) / (median - x0.135 %) for a lower limit, mirrored for an upper one (ISO 22514-2,
// percentile method). The far percentile is the order statistics' where n reaches it (n >= 741) and
// otherwise of `tail`.
struct PercentileIndex {
  double value = 0;
  double percentile = 0;      // the far one, where the limit lies
  bool extrapolated = false;  // n < 100: the percentile is a guess of the curve
};
PercentileIndex PercentileCapability(std::span<const double> values, const FittedTail& tail,
                                     double limit, bool limit_is_lower);

// --- subgroups and charts ------------------------------------------------------------------------

// Constants of control charts, by quadrature. REQUIRES: 2 <= n <= 100.
struct ChartConstants {
  double d2 = 0, d3 = 0, c4 = 0;
  double D3() const;  // of ranges, not below 0
  double D4() const;
};
ChartConstants ChartConstantsOf(std::size_t n);

// Spread within subgroups: square root of the pooled variance; subgroups of one value tell nothing.
struct WithinSpread {
  double sd = 0;
  double degrees_of_freedom = 0;
  std::size_t subgroups = 0;  // with two values or more
};
std::optional<WithinSpread> PooledSpread(const std::vector<std::vector<double>>& subgroups);
// The same from mean range / d2; needs subgroups of one size (2 or more).
std::optional<double> SpreadFromRanges(const std::vector<std::vector<double>>& subgroups);

// Individuals and moving ranges of two: centre -+ 3 mean moving range / d2(2); greatest moving
// range D4(2) times the mean one. REQUIRES: 2 values or more.
struct IndividualsChart {
  double centre = 0, lower = 0, upper = 0;
  double mean_range = 0, range_upper = 0;
  std::vector<double> ranges;             // one less than values
  std::vector<std::size_t> beyond;        // values outside the limits
  std::vector<std::size_t> range_beyond;  // into ranges
  std::vector<std::size_t> one_side;      // ends of runs of nine or more on one side of the centre
                                          // (Nelson 1984, second test)
};
IndividualsChart MakeIndividualsChart(std::span<const double> values);

// Slope of values against x by least squares, with its two-sided p value (t test of no slope). Not
// set under 3 values or with a single x.
struct LineTrend {
  double slope = 0, intercept = 0;
  double p = 1;
  Interval slope_interval;  // 95 %
};
std::optional<LineTrend> FitTrend(std::span<const double> x, std::span<const double> values);

// --- two samples ---------------------------------------------------------------------------------

// Second minus first, variances not taken as equal (Welch 1947).
struct MeanShift {
  double value = 0;
  double degrees_of_freedom = 0;
  double standard_error = 0;
  Interval interval;  // of `confidence`, two-sided
  double p = 1;       // of no difference, two-sided
};
// REQUIRES: 2 values or more on each side. Not set when neither side has any spread.
std::optional<MeanShift> MeanDifference(std::span<const double> first,
                                        std::span<const double> second, double confidence = 0.95);
// Two one-sided tests (Schuirmann 1987) at level alpha: equivalent when the 1 - 2 alpha interval of
// the difference lies within -+ margin. p is the greater of the two.
struct Equivalence {
  double margin = 0, p = 1;
  Interval interval;  // 1 - 2 alpha
  enum class Answer { kEquivalent, kDifferent, kOpen };
  Answer answer = Answer::kOpen;  // different: the interval lies wholly outside the margin
};
Equivalence TestEquivalence(const MeanShift& difference, double margin, double alpha = 0.05);
// Standard deviation of the second over the first, with its F interval (normal samples).
std::optional<IndexValue> SpreadRatio(std::span<const double> first, std::span<const double> second,
                                      double confidence = 0.95);

// Holm (1979): p values of several questions asked together, in the order given; no more than one
// chance in twenty that any of those below 0.05 is there by chance alone.
std::vector<double> HolmAdjusted(std::span<const double> p);

// --- directions ----------------------------------------------------------------------------------

// Directions in radians (Mardia & Jupp 2000). Rayleigh's p after Zar (1999, eq. 27.4): a small one
// says that the directions are not spread evenly round the clock.
struct CircularSummary {
  std::size_t n = 0;
  double mean = 0;        // [0, 2 pi); meaningless when resultant is near 0
  double resultant = 0;   // mean length of unit vectors, 0 to 1
  double sd = 0;          // sqrt(-2 ln resultant)
  double rayleigh_p = 1;  // of directions spread evenly
  // Half width of the 95 % interval of the mean direction (Fisher 1993, 4.4.4: from the dispersion;
  // rough under 25 values); not set where it spans more than a quarter turn each way.
  std::optional<double> half_width;
};
CircularSummary SummariseDirections(std::span<const double> radians);  // REQUIRES: not empty

}  // namespace cutface
