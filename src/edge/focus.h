// Focus over the field: how much sharper or softer each contour is than the picture.
#pragma once

#include <array>
#include <iterator>
#include <vector>

#include "edge/profile.h"
#include "edge/shapes.h"

namespace cutface {

// -2 log likelihood of one contour under each of kBlurFactors.
using BlurEvidence = std::array<double, std::size(kBlurFactors)>;

struct BlurArc {
  LinearProfile profile;
  bool lonely = true;  // no other contour is near enough to pass for a line
};

// A line that is not allowed for would pass for a sharper or softer edge, and that for lines
// elsewhere. `bore`: the void side is inside (a lumen or void), not outside the part.
BlurEvidence WeighBlurs(const std::vector<BlurArc>& arcs, bool bore, const EdgeShapes& shapes);

// The likeliest factor of each contour. How much focus varies is told from all of them: where it
// does not, none is let off alone.
std::vector<double> LikeliestBlurs(const std::vector<BlurEvidence>& contours);

}  // namespace cutface
