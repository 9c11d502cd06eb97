// Which dark places of the body are voids, and which are what cutting or building leaves: by place
// and size against the drawing and the traced edges (tone and softness are judged before).
#pragma once

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface {

// Renames voids that lie in the adhesive (bond gap), against a liner (liner gap), where a layer has
// its wires and as large as one (pulled-out wire), or outside the part (outside bubble); one that
// opens to a free edge is a void, a chip or a gap of the potting, which one section cannot tell:
// doubtful. The numbers it went by stand in Void::numbers, the words in Void::evidence.
// A hole that a wire left is told in light where holes are dark only (`lumen_step` below 0): else
// wires are dark themselves.
void ClassifyByPlace(const SectionDesign& plane, double pitch_um, PointUm origin, double lumen_step,
                     Section& section);

}  // namespace cutface
