// What optics and polishing make of a polymer edge in one picture, as a table.
//
// In linear light and before blur the polymer's share of its own level is 1 - depth * g(s) for
// s > 0:
//   step    g = 0
//   rim     g = (1 - s / width)^2 for s < width     a rounded edge: the slope grows evenly
//   glow    g = exp(-s / width)                      light lost into the edge
//   band    g = exp(-(s - offset)^2 / (2 width^2))   a refraction band beside the edge
// The same for all contours of a picture, so all of them together tell kind, width, depth and blur.
#pragma once

#include <algorithm>
#include <string_view>
#include <vector>

namespace cutface {

enum class RimKind { kStep, kRim, kGlow, kBand };

struct OpticsState {
  RimKind kind = RimKind::kStep;
  double width = 3;    // px
  double depth = 0.3;  // 0..1
  double blur = 1.3;   // px
  double offset = 0;   // px, of a band's darkest place from the edge
};

// Tables of the blurred polymer share f(s) and of the blurred step, by linear interpolation.
class EdgeShape {
 public:
  explicit EdgeShape(const OpticsState& state);
  double Polymer(double s) const { return Look(polymer_, s); }
  double Step(double s) const { return Look(step_, s); }
  // Both and their change per px, in one look.
  struct Values {
    double step, polymer, step_slope, polymer_slope;
  };
  Values At(double s) const {
    const double last = static_cast<double>(step_.size()) - 1.001;
    const double at = std::clamp((s - kFrom) / kSpacing, 0.0, last);
    const std::size_t k = static_cast<std::size_t>(at);
    const double f = at - static_cast<double>(k);
    const double step_rise = step_[k + 1] - step_[k], polymer_rise = polymer_[k + 1] - polymer_[k];
    return {step_[k] + f * step_rise, polymer_[k] + f * polymer_rise, step_rise / kSpacing,
            polymer_rise / kSpacing};
  }
  const OpticsState& state() const { return state_; }

 private:
  static constexpr double kFrom = -20, kTo = 20, kSpacing = 0.1;
  static double Look(const std::vector<float>& table, double s) {
    const double at = (s - kFrom) / kSpacing;
    if (at <= 0) return table.front();
    if (at >= static_cast<double>(table.size()) - 1.001) return table.back();
    const std::size_t k = static_cast<std::size_t>(at);
    const double f = at - static_cast<double>(k);
    return (1 - f) * table[k] + f * table[k + 1];
  }
  OpticsState state_;
  std::vector<float> polymer_, step_;
};

}  // namespace cutface
