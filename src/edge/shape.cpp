#include "edge/shape.h"

#include <cmath>

namespace cutface {
namespace {

double Dark(RimKind kind, double u) {
  switch (kind) {
    case RimKind::kStep:
      return 0;
    case RimKind::kRim:
      return u < 1 ? (1 - u) * (1 - u) : 0;
    case RimKind::kGlow:
      return std::exp(-u);
    case RimKind::kBand:
      return std::exp(-2 * (u - 1) * (u - 1));
  }
  return 0;
}

}  // namespace

EdgeShape::EdgeShape(const OpticsState& state) : state_(state) {
  const std::size_t n = static_cast<std::size_t>((kTo - kFrom) / kSpacing) + 1;
  step_.resize(n);
  polymer_.resize(n);
  for (std::size_t k = 0; k < n; ++k) {
    const double s = kFrom + static_cast<double>(k) * kSpacing;
    step_[k] = static_cast<float>(0.5 * std::erfc(-s / state.blur * M_SQRT1_2));
    polymer_[k] = step_[k];
  }
  if (state.kind == RimKind::kStep || state.depth <= 0) return;
  if (state.kind == RimKind::kGlow) {
    // Closed form: an exponential blurred by a Gaussian.
    const double ratio = state.blur / state.width;
    for (std::size_t k = 0; k < n; ++k) {
      const double s = kFrom + static_cast<double>(k) * kSpacing;
      const double power = 0.5 * ratio * ratio - s / state.width;
      if (power > 60) continue;  // far outside, where the error function has died long before
      const double inside = 0.5 * std::erfc(-(s / state.blur - ratio) * M_SQRT1_2);
      polymer_[k] -= static_cast<float>(state.depth * std::exp(power) * inside);
    }
    return;
  }
  // The dark part as thin layers: each a difference of two blurred steps.
  const double reach = state.kind == RimKind::kRim ? state.width : 2.6 * state.width;
  const int layers = 10;
  const double thick = reach / layers;
  for (int l = 0; l < layers; ++l) {
    const double dark = state.depth * Dark(state.kind, (l + 0.5) * thick / state.width);
    if (dark < 1e-4) continue;
    for (std::size_t k = 0; k < n; ++k) {
      const double s = kFrom + static_cast<double>(k) * kSpacing;
      polymer_[k] -= static_cast<float>(
          dark * (Look(step_, s - l * thick) - Look(step_, s - (l + 1) * thick)));
    }
  }
}

}  // namespace cutface
