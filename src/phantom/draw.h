// What the random sets draw alike: faults, pose, frame, scale.
#pragma once

#include <functional>
#include <optional>
#include <utility>

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/as_built.h"
#include "phantom/truth.h"

namespace cutface::phantom {

BuildRecipe DrawRecipe(bool hard, Random& random);
Pose DrawPose(bool hard, int width, int height, const ContourPx& outline, Random& random);
std::pair<int, int> DrawFrame(double diameter_px, bool hard, Random& random);
void DrawScale(FaceFacts& facts, Random& random);

// Names, scale and light of face `seed` of a set, the first that is drawn of it.
PhantomFace StartFace(PhantomSet set, std::uint64_t seed, FaceFacts& facts, Random& random);

// Face `seed` of a built set.
PhantomFace DrawBuiltFace(PhantomSet set, std::uint64_t seed);

// Changes what is built against what was drawn; false: not with this drawing, draw another.
using BuildOtherwise = std::function<bool(SectionDesign& section)>;

// The same with a part that is not as drawn; drawing and rows stay as they were. nullopt: no
// drawing of the seed's family allows it.
std::optional<PhantomFace> DrawBuiltOtherwise(PhantomSet set, std::uint64_t seed,
                                              const BuildOtherwise& otherwise);

}  // namespace cutface::phantom
