#include "edge/pull.h"

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

// The half level of a blurred right angle recedes 0.77 blur along the bisector; its curvature there
// is 0.73 / blur, by which an arc would recede 0.36 blur (both from the level set of the product of
// two normal distributions). How sharp a corner was is not seen any more: it is put half way
// between, and either may be.
constexpr double kCornerPull = 0.2, kCornerDoubt = 0.25;   // of the blur
constexpr double kLeastCorner = 0.15, kFullCorner = 0.27;  // of curvature x blur, beyond the mean

double CornerShare(const CurvedPlace& place) {
  const double beyond = (std::abs(place.curvature) - place.mean) * place.blur;
  return std::clamp((beyond - kLeastCorner) / (kFullCorner - kLeastCorner), 0.0, 1.0);
}

}  // namespace

double CurvaturePull(const CurvedPlace& place) {
  const double blur = place.blur;
  const double bounded = std::clamp(place.curvature, -0.5 / blur, 0.5 / blur);
  return 0.5 * blur * blur * bounded +
         std::copysign(kCornerPull * blur * CornerShare(place), place.curvature);
}

double CornerDoubt(const CurvedPlace& place) {
  return kCornerDoubt * place.blur * CornerShare(place);
}

}  // namespace cutface
