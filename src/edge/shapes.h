// The edge shapes of one picture: its optics at each blur that a contour may have.
#pragma once

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>
#include <vector>

#include "cutface/base.h"
#include "edge/shape.h"

namespace cutface {

// Focus varies over the field: the blur of a contour, or of a stretch of it, against the picture's,
// in steps of a twentieth.
inline constexpr double kBlurFactors[] = {0.677, 0.711, 0.746, 0.784, 0.823, 0.864, 0.907,
                                          0.952, 1.0,   1.05,  1.103, 1.158, 1.216, 1.276,
                                          1.34,  1.407, 1.477, 1.551, 1.629, 1.71,  1.796};

inline double NearestBlurFactor(double factor) {
  return *std::min_element(std::begin(kBlurFactors), std::end(kBlurFactors),
                           [&](double a, double b) {
                             return std::abs(std::log(a / factor)) < std::abs(std::log(b / factor));
                           });
}

class EdgeShapes {
 public:
  explicit EdgeShapes(const OpticsState& optics) {
    OpticsState plain = optics;
    plain.kind = RimKind::kStep;
    for (const double factor : kBlurFactors) {
      for (auto [state, shapes] : {std::pair{optics, &rims_}, std::pair{plain, &plains_}}) {
        state.blur *= factor;
        shapes->emplace_back(state);
      }
    }
  }
  // `factor` is one of kBlurFactors; `plain`: without rim or band, between solids.
  const EdgeShape& At(double factor, bool plain) const {
    const auto at = std::find(std::begin(kBlurFactors), std::end(kBlurFactors), factor);
    CF_CHECK(at != std::end(kBlurFactors));
    return (plain ? plains_ : rims_)[static_cast<std::size_t>(at - std::begin(kBlurFactors))];
  }

 private:
  std::vector<EdgeShape> rims_, plains_;
};

}  // namespace cutface
