// Capability: indices with intervals, the percentile method, curves for far percentiles.
#include <algorithm>
#include <array>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>

#include "cutface/base.h"
#include "cutface/stats_run.h"

namespace cutface {
namespace {

constexpr double kFarShare = 0.00135;  // beyond three standard deviations of a normal population

// Largest extreme value distribution: scale by the likelihood equation
// b = mean - sum x e^(-x/b) / sum e^(-x/b), location from it (Johnson, Kotz & Balakrishnan 1995).
FittedTail FitGreatestValue(std::span<const double> values) {
  const double mean = Mean(values), sd = StandardDeviation(values);
  const double least = *std::min_element(values.begin(), values.end());
  const auto sums = [&](double b) {
    double weight = 0, first = 0;
    for (const double x : values) {
      const double e = std::exp(-(x - least) / b);  // at most 1
      weight += e;
      first += (x - least) * e;
    }
    return std::pair{weight, first};
  };
  const auto f = [&](double b) {
    const auto [weight, first] = sums(b);
    return b - (mean - least) + first / weight;
  };
  // At b -> 0 the weight lies on the least value (f < 0); for a large b, f grows like b.
  double high = sd;
  while (f(high) < 0) high *= 2;
  std::uintmax_t steps = 200;
  const auto bracket = boost::math::tools::toms748_solve(
      f, 1e-6 * sd, high, boost::math::tools::eps_tolerance<double>(45), steps);
  FittedTail tail{FittedTail::Kind::kGreatestValue, 0, (bracket.first + bracket.second) / 2, 0};
  const auto n = static_cast<double>(values.size());
  tail.location = least - tail.scale * std::log(sums(tail.scale).first / n);
  for (const double x : values) {
    const double z = (x - tail.location) / tail.scale;
    tail.log_likelihood += -std::log(tail.scale) - z - std::exp(-z);
  }
  return tail;
}

FittedTail FitNormal(std::span<const double> values) {
  const auto n = static_cast<double>(values.size());
  const double sd = StandardDeviation(values);
  const double sd_n = sd * std::sqrt((n - 1) / n);  // greatest likelihood
  return {FittedTail::Kind::kNormal, Mean(values), sd,
          -n * (std::log(sd_n) + 0.5 * std::log(2 * kPi) + 0.5)};
}

}  // namespace

IndexValue SpreadIndex(double sd, double degrees_of_freedom, double lower, double upper,
                       double confidence) {
  CF_CHECK(upper > lower && sd > 0 && degrees_of_freedom >= 1);
  const double value = (upper - lower) / (6 * sd);
  const double tail = (1 - confidence) / 2;
  return {
      value,
      {value * std::sqrt(ChiSquaredQuantile(tail, degrees_of_freedom) / degrees_of_freedom),
       value * std::sqrt(ChiSquaredQuantile(1 - tail, degrees_of_freedom) / degrees_of_freedom)}};
}

IndexValue NearerIndex(double mean, double sd, std::size_t n, double degrees_of_freedom,
                       double lower, double upper, double confidence) {
  CF_CHECK(upper > lower && sd > 0 && n >= 2 && degrees_of_freedom >= 1);
  const double value = std::min(upper - mean, mean - lower) / (3 * sd);
  const double half =
      NormalQuantile(0.5 + confidence / 2) *
      std::sqrt(1 / (9 * static_cast<double>(n)) + value * value / (2 * degrees_of_freedom));
  return {value, {value - half, value + half}};
}

IndexValue OneLimitIndex(double inside, double sd, std::size_t n, double confidence) {
  CF_CHECK(sd > 0 && n >= 2);
  const double root = std::sqrt(static_cast<double>(n));
  const double dof = static_cast<double>(n - 1);
  const double value = inside / (3 * sd);
  const double t = inside / sd * root;
  // The t statistic is non-central with delta = 3 C sqrt(n): each end is the delta that leaves half
  // of 1 - confidence beyond the observed t.
  const double tail = (1 - confidence) / 2;
  const auto end = [&](double below) {
    const auto f = [&](double delta) {
      return boost::math::cdf(boost::math::non_central_t(dof, delta), t) - below;
    };
    double step = 4 + std::abs(t);
    double low = t - step, high = t + step;
    while (f(low) < 0) low -= step;
    while (f(high) > 0) high += step;
    std::uintmax_t steps = 200;
    const auto bracket = boost::math::tools::toms748_solve(
        f, low, high, boost::math::tools::eps_tolerance<double>(40), steps);
    return (bracket.first + bracket.second) / 2 / (3 * root);
  };
  return {value, {end(1 - tail), end(tail)}};
}

double FittedTail::Percentile(double p) const {
  CF_CHECK(p > 0 && p < 1);
  switch (kind) {
    case Kind::kNormal:
      return location + scale * NormalQuantile(p);
    case Kind::kGreatestValue:
      return location - scale * std::log(-std::log(p));
    case Kind::kLeastValue:
      return location + scale * std::log(-std::log1p(-p));
  }
  return location;
}

std::string_view FittedTailName(FittedTail::Kind kind) {
  switch (kind) {
    case FittedTail::Kind::kNormal:
      return "normal";
    case FittedTail::Kind::kLeastValue:
      return "extreme value (least)";
    case FittedTail::Kind::kGreatestValue:
      return "extreme value (greatest)";
  }
  return "";
}

std::vector<FittedTail> FitTails(std::span<const double> values) {
  CF_CHECK(values.size() >= 3 && StandardDeviation(values) > 0);
  std::vector<double> mirrored;
  for (const double x : values) mirrored.push_back(-x);
  FittedTail least = FitGreatestValue(mirrored);
  least.kind = FittedTail::Kind::kLeastValue;
  least.location = -least.location;
  std::vector<FittedTail> tails = {FitNormal(values), least, FitGreatestValue(values)};
  std::stable_sort(tails.begin(), tails.end(), [](const FittedTail& a, const FittedTail& b) {
    return a.log_likelihood > b.log_likelihood;
  });
  return tails;
}

PercentileIndex PercentileCapability(std::span<const double> values, const FittedTail& tail,
                                     double limit, bool limit_is_lower) {
  constexpr std::size_t kReachesFarShare = 741;  // 1 / 0.00135, rounded up
  constexpr std::size_t kExtrapolatedUnder = 100;
  PercentileIndex index;
  index.extrapolated = values.size() < kExtrapolatedUnder;
  const double p = limit_is_lower ? kFarShare : 1 - kFarShare;
  const std::vector<double> list(values.begin(), values.end());
  index.percentile = values.size() >= kReachesFarShare ? Quantile(list, p) : tail.Percentile(p);
  const double median = Median(list);
  index.value = (median - limit) / (median - index.percentile);
  return index;
}

}  // namespace cutface
