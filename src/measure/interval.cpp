#include "measure/interval.h"

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"
#include "measure/calm.h"

namespace cutface::measure {
namespace {

constexpr double kTwoSided95 = 1.959963984540054;
constexpr double kFlatFactor = 1.15;
// 64 normal draws show a skewness of 0.3 by chance; only what is clearly beyond counts.
constexpr double kSkewnessByChance = 0.6, kSkewnessMost = 1.5;

}  // namespace

Spread SpreadOf(std::span<const double> differences) {
  Spread spread;
  if (differences.size() < 2) return spread;
  spread.bias = Mean(differences);
  spread.u = StandardDeviation(differences);
  if (!(spread.u > 0)) return spread;
  double cube = 0;
  for (double d : differences) cube += std::pow((d - spread.bias) / spread.u, 3);
  const double skewness = cube / static_cast<double>(differences.size());
  if (std::abs(skewness) > kSkewnessByChance) {
    spread.skewness = std::clamp(skewness, -kSkewnessMost, kSkewnessMost);
  }
  return spread;
}

double BiasFactor(std::span<const double> single, std::span<const double> tripled) {
  const Spread once = SpreadOf(single), thrice = SpreadOf(tripled);
  const double error = once.u / std::sqrt(static_cast<double>(single.size()));
  if (!(error > 0)) return 1;
  // From two standard errors the factor fades in, from four it counts in full.
  const double clear = std::clamp(std::abs(once.bias) / error / 2 - 1, 0.0, 1.0);
  const auto grown = [](double v) { return std::sqrt(v + kCalmNoise) - std::sqrt(kCalmNoise); };
  const double flat_ratio = grown(3) / grown(1);
  // Between the two regimes the factor is nearly linear in the ratio.
  const double flatness = std::clamp((3 - thrice.bias / once.bias) / (3 - flat_ratio), 0.0, 1.0);
  const double factor = 1 + flatness * (kFlatFactor - 1);
  return 1 + clear * (factor - 1);
}

void SetInterval(Measurement& m, const Spread& spread, const IntervalRules& rules) {
  const QuantityRow& row = *rules.row;
  const double bias = rules.correct_bias ? spread.bias : 0.0;
  m.value = m.raw - bias;
  m.u = std::max(std::hypot(spread.u, rules.extra_u), rules.floor);
  const double half = kTwoSided95 * m.u;
  // Cornish-Fisher: quantiles of the draws at z are shifted by g (z^2 - 1) / 6 of u. The true value
  // is to the traced one as the traced one is to the drawn ones, so their long tail points the
  // other way.
  const double shift = spread.skewness * (kTwoSided95 * kTwoSided95 - 1) / 6 * spread.u;
  m.lo = m.value - half - shift;
  m.hi = m.value + half - shift;
  // A correction that raises a minimum is on the unsafe side.
  if (row.kind == QuantityKind::kLeast && bias < 0) m.lo = std::min(m.lo, m.raw - half);
  // So is one that lowers a stress.
  if (row.unit == "MPa" && bias > 0) m.hi = std::max(m.hi, m.raw + half);
  m.lo = std::min(m.lo - rules.over_reading, m.value);
  m.hi = std::max({m.hi, m.value, rules.unseen});
  if (row.at_least_zero) {
    m.value = std::max(m.value, 0.0);
    m.lo = std::max(m.lo, 0.0);
    m.hi = std::max(m.hi, m.value);
  }
}

}  // namespace cutface::measure
