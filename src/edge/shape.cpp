#include "edge/shape.h"

#include <cmath>

namespace cutface {
namespace {

constexpr double kRootTwoPi = 2.5066282746310002;

double Normal(double z) { return std::exp(-0.5 * z * z) / kRootTwoPi; }
double Share(double z) { return 0.5 * std::erfc(-z * M_SQRT1_2); }

// Each is g(t) over t > 0 seen through a Gaussian of deviation b: closed forms.

// (1 - t / L)^2 on 0 < t < L: moments of a truncated normal about s.
double RimSeen(double s, double b, double L) {
  const double low = -s / b, high = (L - s) / b;
  if (low > 8 || high < -8) return 0;
  const double mass = Share(high) - Share(low), at_low = Normal(low), at_high = Normal(high);
  const double first = s * mass - b * (at_high - at_low);
  const double second = (s * s + b * b) * mass - b * ((L + s) * at_high - s * at_low);
  return mass - 2 * first / L + second / (L * L);
}

// exp(-t / L) on t > 0.
double GlowSeen(double s, double b, double L) {
  const double ratio = b / L, power = 0.5 * ratio * ratio - s / L;
  const double z = s / b - ratio;
  if (z < -8) return 0;
  return std::exp(power) * Share(z);
}

// exp(-(t - o)^2 / (2 w^2)) on t > 0: a product of two Gaussians, cut at 0.
double BandSeen(double s, double b, double w, double o) {
  const double wide = std::hypot(w, b), off = (s - o) / wide;
  if (std::abs(off) > 8) return 0;
  return w / wide * std::exp(-0.5 * off * off) * Share((s * w * w + o * b * b) / (w * b * wide));
}

}  // namespace

EdgeShape::EdgeShape(const OpticsState& state) : state_(state) {
  const std::size_t n = static_cast<std::size_t>((kTo - kFrom) / kSpacing) + 1;
  step_.resize(n);
  polymer_.resize(n);
  for (std::size_t k = 0; k < n; ++k) {
    const double s = kFrom + static_cast<double>(k) * kSpacing;
    step_[k] = static_cast<float>(s > 8 * state.blur ? 1 : Share(s / state.blur));
    double dark = 0;
    if (state.kind == RimKind::kRim) dark = RimSeen(s, state.blur, state.width);
    if (state.kind == RimKind::kGlow) dark = GlowSeen(s, state.blur, state.width);
    if (state.kind == RimKind::kBand) dark = BandSeen(s, state.blur, state.width, state.offset);
    polymer_[k] = step_[k] - static_cast<float>(state.depth * dark);
  }
}

}  // namespace cutface
