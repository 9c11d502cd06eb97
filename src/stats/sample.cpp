// One sample: summary, intervals, normality.
#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "cutface/base.h"
#include "cutface/stats_run.h"

namespace cutface {

SampleSummary Summarise(std::span<const double> values) {
  CF_CHECK(!values.empty());
  SampleSummary summary;
  summary.n = values.size();
  summary.mean = Mean(values);
  const auto [least, greatest] = std::minmax_element(values.begin(), values.end());
  summary.least = *least;
  summary.greatest = *greatest;
  summary.median = Median({values.begin(), values.end()});
  if (values.size() >= 2) summary.sd = StandardDeviation(values);
  return summary;
}

double StudentQuantile(double p, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::students_t(degrees_of_freedom), p);
}

double ChiSquaredQuantile(double p, double degrees_of_freedom) {
  return boost::math::quantile(boost::math::chi_squared(degrees_of_freedom), p);
}

double FQuantile(double p, double dof_first, double dof_second) {
  return boost::math::quantile(boost::math::fisher_f(dof_first, dof_second), p);
}

Interval MeanInterval(double mean, double sd, std::size_t n, double confidence) {
  CF_CHECK(n >= 2 && sd >= 0 && confidence > 0 && confidence < 1);
  const double t = StudentQuantile(0.5 + confidence / 2, static_cast<double>(n - 1));
  const double half = t * sd / std::sqrt(static_cast<double>(n));
  return {mean - half, mean + half};
}

Interval SpreadInterval(double sd, double degrees_of_freedom, double confidence) {
  CF_CHECK(sd >= 0 && degrees_of_freedom >= 1 && confidence > 0 && confidence < 1);
  const double tail = (1 - confidence) / 2;
  return {sd * std::sqrt(degrees_of_freedom / ChiSquaredQuantile(1 - tail, degrees_of_freedom)),
          sd * std::sqrt(degrees_of_freedom / ChiSquaredQuantile(tail, degrees_of_freedom))};
}

std::optional<NormalityTest> AndersonDarling(std::span<const double> values) {
  constexpr std::size_t kFewest = 8;
  if (values.size() < kFewest) return std::nullopt;
  const double mean = Mean(values), sd = StandardDeviation(values);
  if (!(sd > 0)) return std::nullopt;
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  const auto n = static_cast<double>(sorted.size());
  double sum = 0;
  for (std::size_t i = 0; i < sorted.size(); ++i) {
    const double below = NormalCdf((sorted[i] - mean) / sd);
    const double above = NormalCdf(-(sorted[sorted.size() - 1 - i] - mean) / sd);
    // A value far out has no probability left in double precision; its logarithm is finite.
    constexpr double kTiny = 1e-300;
    sum += static_cast<double>(2 * i + 1) *
           (std::log(std::max(below, kTiny)) + std::log(std::max(above, kTiny)));
  }
  NormalityTest test;
  test.a2 = -n - sum / n;
  const double a = test.a2 * (1 + 0.75 / n + 2.25 / (n * n));
  test.p = a < 0.2     ? 1 - std::exp(-13.436 + 101.14 * a - 223.73 * a * a)
           : a < 0.34  ? 1 - std::exp(-8.318 + 42.796 * a - 59.938 * a * a)
           : a < 0.6   ? std::exp(0.9177 - 4.279 * a - 1.38 * a * a)
           : a <= 13.0 ? std::exp(1.2937 - 5.709 * a + 0.0186 * a * a)
                       : 0;
  return test;
}

std::vector<ProbabilityPoint> NormalPlot(std::span<const double> values) {
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  std::vector<ProbabilityPoint> points;
  const auto n = static_cast<double>(sorted.size());
  for (std::size_t i = 0; i < sorted.size(); ++i)
    points.push_back(
        {NormalQuantile((static_cast<double>(i) + 1 - 0.375) / (n + 0.25)), sorted[i]});
  return points;
}

}  // namespace cutface
