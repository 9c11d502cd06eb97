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
// wires are dark themselves. Places that wires make up (two that touch, with their halo) are no
// voids and go; what shines as only metal does, or lies in light where wires are dark on a layer's
// ring, is not counted as a void.
struct FaceSteps {
  double lumen = 0;    // of the lumens against the body, relative; 0: none differs
  double potting = 0;  // of what lies around the part
};
void ClassifyByPlace(const SectionDesign& plane, double pitch_um, PointUm origin,
                     const FaceSteps& steps, Section& section);

// What lies against a bore's edge from outside, of another tone than the body's (a mandrel beside
// the wall of a lengthwise section, swarf), may hide a part of the bore: where it is 2 % of the
// bore's area and more, the bore is doubted and its interval holds both.
void DoubtBesideDebris(double pitch_um, Section& section);

}  // namespace cutface
