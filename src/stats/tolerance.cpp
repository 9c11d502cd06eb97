// Tolerance factors and sample sizes.
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>

#include "cutface/base.h"
#include "cutface/stats_run.h"

namespace cutface {
namespace {

void CheckShares(std::size_t n, double coverage, double confidence) {
  CF_CHECK(n >= 2 && coverage > 0 && coverage < 1 && confidence > 0 && confidence < 1);
}

template <class Function>
double Root(const Function& f, double low, double high) {
  std::uintmax_t steps = 200;
  const auto bracket = boost::math::tools::toms748_solve(
      f, low, high, boost::math::tools::eps_tolerance<double>(48), steps);
  return (bracket.first + bracket.second) / 2;
}

// Half width r with NormalCdf(x + r) - NormalCdf(x - r) = coverage.
double HalfWidthAround(double x, double coverage) {
  const auto f = [&](double r) { return NormalCdf(x + r) - NormalCdf(x - r) - coverage; };
  return Root(f, 0.0, std::abs(x) + NormalQuantile(0.5 + coverage / 2) + 1);
}

// Confidence that mean -+ k sd of n values holds `coverage` of a normal population: over the places
// x of the mean, the chance that the spread is wide enough there.
double TwoSidedConfidence(double k, std::size_t n, double coverage) {
  const auto count = static_cast<double>(n);
  const boost::math::chi_squared chi(count - 1);
  const auto integrand = [&](double z) {
    const double x = z / std::sqrt(count);
    const double r = HalfWidthAround(x, coverage);
    const double wide = (count - 1) * r * r / (k * k);
    return std::exp(-z * z / 2) * boost::math::cdf(boost::math::complement(chi, wide));
  };
  // Beyond 8.5 standard errors lies 2e-17 of the mean's distribution.
  const double half =
      boost::math::quadrature::gauss_kronrod<double, 31>::integrate(integrand, 0.0, 8.5, 6, 1e-11);
  return 2 * half / std::sqrt(2 * kPi);
}

}  // namespace

double ToleranceFactorOneSided(std::size_t n, double coverage, double confidence) {
  CheckShares(n, coverage, confidence);
  const double root = std::sqrt(static_cast<double>(n));
  const boost::math::non_central_t t(static_cast<double>(n - 1), NormalQuantile(coverage) * root);
  return boost::math::quantile(t, confidence) / root;
}

double ToleranceFactorTwoSided(std::size_t n, double coverage, double confidence) {
  CheckShares(n, coverage, confidence);
  const double dof = static_cast<double>(n - 1);
  // Howe (1969) is within a few per cent from 3 values on, and the start of the search.
  const double howe =
      NormalQuantile(0.5 + coverage / 2) *
      std::sqrt(dof * (1 + 1.0 / static_cast<double>(n)) / ChiSquaredQuantile(1 - confidence, dof));
  const auto f = [&](double k) { return TwoSidedConfidence(k, n, coverage) - confidence; };
  double low = 0.7 * howe, high = 1.3 * howe;
  while (f(low) > 0) low /= 2;
  while (f(high) < 0) high *= 2;
  return Root(f, low, high);
}

std::optional<std::size_t> SizeForToleranceFactor(double k, bool two_sided, double coverage,
                                                  double confidence, std::size_t most) {
  const auto enough = [&](std::size_t n) {
    return (two_sided ? ToleranceFactorTwoSided(n, coverage, confidence)
                      : ToleranceFactorOneSided(n, coverage, confidence)) <= k;
  };
  // The factors fall towards these as n grows; nearer than a hundredth no size is worth naming.
  const double limit = NormalQuantile(two_sided ? 0.5 + coverage / 2 : coverage);
  if (!(k > limit * 1.01)) return std::nullopt;
  std::size_t high = 2;
  while (!enough(high)) {
    if (high >= most) return std::nullopt;
    high = std::min(most, high * 2);
  }
  std::size_t low = std::max<std::size_t>(2, high / 2);
  while (low < high) {
    const std::size_t middle = low + (high - low) / 2;
    if (enough(middle)) {
      high = middle;
    } else {
      low = middle + 1;
    }
  }
  return high;
}

std::size_t AttributeSampleSize(double confidence, double reliability, std::size_t failures) {
  CheckShares(2, reliability, confidence);
  const auto enough = [&](std::size_t n) {
    const boost::math::binomial failing(static_cast<double>(n), 1 - reliability);
    return boost::math::cdf(failing, static_cast<double>(failures)) <= 1 - confidence;
  };
  std::size_t high = failures + 1;
  while (!enough(high)) high *= 2;
  std::size_t low = failures + 1;
  while (low < high) {
    const std::size_t middle = low + (high - low) / 2;
    if (enough(middle)) {
      high = middle;
    } else {
      low = middle + 1;
    }
  }
  return high;
}

double LeastValueConfidence(std::size_t n, double coverage) {
  return 1 - std::pow(coverage, static_cast<double>(n));
}

}  // namespace cutface
