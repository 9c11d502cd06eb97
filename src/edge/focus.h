// Focus over the field: how much sharper or softer each contour is than the picture.
#pragma once

#include <array>
#include <cmath>
#include <iterator>
#include <optional>
#include <vector>

#include "cutface/geometry.h"
#include "edge/profile.h"
#include "edge/shapes.h"

namespace cutface {

// -2 log likelihood of a stretch or a contour under every second of kBlurFactors.
inline constexpr std::size_t kWeighedBlurs = (std::size(kBlurFactors) + 1) / 2;
inline constexpr double WeighedBlur(std::size_t k) { return kBlurFactors[2 * k]; }
using BlurEvidence = std::array<double, kWeighedBlurs>;

struct BlurArc {
  LinearProfile profile;
  bool lonely = true;  // no other contour is near enough to pass for a line
};

// A line that is not allowed for would pass for a sharper or softer edge, and that for lines
// elsewhere. `bore`: the void side is inside (a lumen or void), not outside the part.
struct BlurWeights {
  BlurEvidence evidence{};
  bool bears_line = false;  // which no blur explains
};
BlurWeights WeighBlur(const BlurArc& arc, bool bore, const EdgeShapes& shapes);

// The likeliest factor of each contour. How much focus varies is told from all of them: where it
// does not, none is let off alone.
std::vector<double> LikeliestBlurs(const std::vector<BlurEvidence>& contours);

// A face that stands aslant under the lens: the logarithm of the blur as a plane over the picture.
struct FocusPlane {
  PointPx middle;
  double level = 0, x = 0, y = 0;  // of the logarithm; per px
  double tilt = 0;                 // from the middle to the far end of the part
  double FactorAt(PointPx p) const {
    return NearestBlurFactor(std::exp(level + x * (p.x - middle.x) + y * (p.y - middle.y)));
  }
};
struct FocusStretch {
  PointPx at;
  BlurEvidence evidence;
};
// Nothing where one blur for all explains nearly as much.
std::optional<FocusPlane> TellFocus(const std::vector<FocusStretch>& stretches);

}  // namespace cutface
