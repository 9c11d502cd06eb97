#include "cutface/stats.h"

#include <algorithm>
#include <boost/math/special_functions/beta.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>
#include <numbers>

#include "cutface/base.h"

namespace cutface {
namespace {

// Consistent for the standard deviation of a normal sample: 1 / NormalQuantile(0.75).
constexpr double kMadToSigma = 1.482602218505602;

}  // namespace

double NormalCdf(double z) {
  // erfc keeps all digits in the far lower tail, where 1 - erf would cancel.
  return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

double NormalQuantile(double p) {
  CF_CHECK(p > 0 && p < 1);
  return -std::numbers::sqrt2 * boost::math::erfc_inv(2 * p);
}

double Mean(std::span<const double> values) {
  CF_CHECK(!values.empty());
  double sum = 0;
  for (const double value : values) sum += value;
  const double first = sum / static_cast<double>(values.size());
  // A second pass removes the rounding of a long sum of large values.
  double rest = 0;
  for (const double value : values) rest += value - first;
  return first + rest / static_cast<double>(values.size());
}

double StandardDeviation(std::span<const double> values) {
  CF_CHECK(values.size() >= 2);
  const double mean = Mean(values);
  double sum = 0;
  for (const double value : values) sum += (value - mean) * (value - mean);
  return std::sqrt(sum / static_cast<double>(values.size() - 1));
}

double Quantile(std::vector<double> values, double p) {
  CF_CHECK(!values.empty() && p >= 0 && p <= 1);
  const double rank = p * static_cast<double>(values.size() - 1);
  const auto below = static_cast<std::size_t>(rank);
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(below);
  std::nth_element(values.begin(), at, values.end());
  const double low = *at;
  const double share = rank - static_cast<double>(below);
  if (share == 0 || at + 1 == values.end()) return low;
  const double high = *std::min_element(at + 1, values.end());
  return low + share * (high - low);
}

double Median(std::vector<double> values) { return Quantile(std::move(values), 0.5); }

double RobustSigma(std::vector<double> values) {
  const double median = Median(values);
  for (double& value : values) value = std::abs(value - median);
  return kMadToSigma * Median(std::move(values));
}

std::pair<double, double> BinomialInterval(std::int64_t hits, std::int64_t trials,
                                           double confidence) {
  CF_CHECK(hits >= 0 && hits <= trials && confidence > 0 && confidence < 1);
  if (trials == 0) return {0.0, 1.0};
  const double tail = 0.5 * (1 - confidence);
  const auto k = static_cast<double>(hits);
  const auto n = static_cast<double>(trials);
  const double low = hits == 0 ? 0.0 : boost::math::ibeta_inv(k, n - k + 1, tail);
  const double high = hits == trials ? 1.0 : boost::math::ibetac_inv(k + 1, n - k, tail);
  return {low, high};
}

}  // namespace cutface
