// Moments of the range of normal values, by integration.
//
// d2 = integral of 1 - (1 - F)^n - F^n (Tippett, Biometrika 17, 1925). E[R^2] = 2 integral of w (1
// - P(R < w)) with P(R < w) = n integral f(x) (F(x + w) - F(x))^(n - 1). The integrands vanish with
// all derivatives at both ends, where the trapezoidal rule converges faster than any power; the w
// integral, which does not at 0, is taken by Simpson's rule.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/stats.h"
#include "study/internal.h"

namespace cutface {
namespace {

constexpr double kReach = 8.5;  // beyond it a normal tail is below 1e-17

double Density(double x) { return std::exp(-0.5 * x * x) / std::sqrt(2 * std::numbers::pi); }

double RangeBelow(double w, double n) {
  constexpr double kStep = 0.05;
  double sum = 0;
  for (double x = -kReach - w; x <= kReach; x += kStep)
    sum += Density(x) * std::pow(NormalCdf(x + w) - NormalCdf(x), n - 1);
  return n * sum * kStep;
}

}  // namespace

double RangeFactors::d2_star() const { return std::sqrt(d2 * d2 + d3 * d3); }

RangeFactors RangeFactorsOf(std::size_t size) {
  CF_CHECK(size >= 2 && size <= 1000);
  const double n = static_cast<double>(size);
  RangeFactors out;
  constexpr double kStep = 0.02;
  for (double x = -kReach; x <= kReach; x += kStep)
    out.d2 += (1 - std::pow(NormalCdf(-x), n) - std::pow(NormalCdf(x), n)) * kStep;
  constexpr int kIntervals = 300;
  constexpr double kMost = 14, kWide = kMost / kIntervals;
  double square = 0;
  for (int i = 0; i <= kIntervals; ++i) {
    const double w = kWide * i;
    const double weight = i == 0 || i == kIntervals ? 1 : (i % 2 == 1 ? 4 : 2);
    square += weight * 2 * w * std::max(0.0, 1 - RangeBelow(w, n));
  }
  square *= kWide / 3;
  out.d3 = std::sqrt(std::max(0.0, square - out.d2 * out.d2));
  return out;
}

}  // namespace cutface
