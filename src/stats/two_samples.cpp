// Two samples side by side, several p values together, and directions.
#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <numeric>

#include "cutface/base.h"
#include "cutface/stats_run.h"

namespace cutface {
namespace {

double StudentUpperTail(double t, double dof) {
  return boost::math::cdf(boost::math::complement(boost::math::students_t(dof), t));
}

}  // namespace

std::optional<MeanShift> MeanDifference(std::span<const double> first,
                                        std::span<const double> second, double confidence) {
  CF_CHECK(first.size() >= 2 && second.size() >= 2);
  const auto part = [](std::span<const double> values) {
    const double sd = StandardDeviation(values);
    return sd * sd / static_cast<double>(values.size());
  };
  const double a = part(first), b = part(second);
  if (!(a + b > 0)) return std::nullopt;
  MeanShift d;
  d.value = Mean(second) - Mean(first);
  d.standard_error = std::sqrt(a + b);
  // Welch and Satterthwaite.
  d.degrees_of_freedom = (a + b) * (a + b) /
                         (a * a / static_cast<double>(first.size() - 1) +
                          b * b / static_cast<double>(second.size() - 1));
  const double half =
      StudentQuantile(0.5 + confidence / 2, d.degrees_of_freedom) * d.standard_error;
  d.interval = {d.value - half, d.value + half};
  d.p = 2 * StudentUpperTail(std::abs(d.value) / d.standard_error, d.degrees_of_freedom);
  return d;
}

Equivalence TestEquivalence(const MeanShift& d, double margin, double alpha) {
  CF_CHECK(margin > 0 && alpha > 0 && alpha < 0.5 && d.standard_error > 0);
  Equivalence e;
  e.margin = margin;
  const double half = StudentQuantile(1 - alpha, d.degrees_of_freedom) * d.standard_error;
  e.interval = {d.value - half, d.value + half};
  e.p = std::max(StudentUpperTail((d.value + margin) / d.standard_error, d.degrees_of_freedom),
                 StudentUpperTail((margin - d.value) / d.standard_error, d.degrees_of_freedom));
  e.answer = e.interval.lo > -margin && e.interval.hi < margin   ? Equivalence::Answer::kEquivalent
             : e.interval.lo > margin || e.interval.hi < -margin ? Equivalence::Answer::kDifferent
                                                                 : Equivalence::Answer::kOpen;
  return e;
}

std::optional<IndexValue> SpreadRatio(std::span<const double> first, std::span<const double> second,
                                      double confidence) {
  CF_CHECK(first.size() >= 2 && second.size() >= 2);
  const double a = StandardDeviation(first), b = StandardDeviation(second);
  if (!(a > 0) || !(b > 0)) return std::nullopt;
  const auto dof_a = static_cast<double>(first.size() - 1);
  const auto dof_b = static_cast<double>(second.size() - 1);
  const double tail = (1 - confidence) / 2;
  IndexValue ratio;
  ratio.value = b / a;
  ratio.interval = {ratio.value / std::sqrt(FQuantile(1 - tail, dof_b, dof_a)),
                    ratio.value / std::sqrt(FQuantile(tail, dof_b, dof_a))};
  return ratio;
}

std::vector<double> HolmAdjusted(std::span<const double> p) {
  std::vector<std::size_t> order(p.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return p[a] < p[b]; });
  std::vector<double> adjusted(p.size());
  double most = 0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    most = std::max(most, std::min(1.0, p[order[i]] * static_cast<double>(order.size() - i)));
    adjusted[order[i]] = most;
  }
  return adjusted;
}

CircularSummary SummariseDirections(std::span<const double> radians) {
  CF_CHECK(!radians.empty());
  const auto n = static_cast<double>(radians.size());
  double c = 0, s = 0;
  for (const double a : radians) {
    c += std::cos(a);
    s += std::sin(a);
  }
  CircularSummary summary;
  summary.n = radians.size();
  const double length = std::hypot(c, s);
  summary.resultant = std::min(1.0, length / n);
  summary.mean = std::atan2(s, c);
  if (summary.mean < 0) summary.mean += 2 * kPi;
  summary.sd = std::sqrt(std::max(0.0, -2 * std::log(std::max(summary.resultant, 1e-300))));
  summary.rayleigh_p =
      std::min(1.0, std::exp(std::sqrt(1 + 4 * n + 4 * (n * n - length * length)) - (1 + 2 * n)));
  if (radians.size() >= 2 && summary.resultant > 0) {
    double second = 0;  // mean of cos 2 (angle - mean)
    for (const double a : radians) second += std::cos(2 * (a - summary.mean)) / n;
    const double dispersion = (1 - second) / (2 * summary.resultant * summary.resultant);
    const double sine = NormalQuantile(0.975) * std::sqrt(dispersion / n);
    if (sine < 1) summary.half_width = std::asin(sine);
  }
  return summary;
}

}  // namespace cutface
