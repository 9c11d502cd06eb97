// Lengthwise sections: a cut along the axis shows the turns of a coil or braid as two rows of cut
// wires, one in each wall.
//
// The drawing lies along x: the bore and both walls run from left to right as drawn, the rows stand
// at half the layer's diameter on both sides of the middle line. Wires are found one by one
// (lengthwise_wires.h) and numbered row by row (lengthwise_rows.h): 1 .. turns in the first row (y
// above, as drawn) from left to right, then turns + 1 .. in the second. By how much metal looks
// larger than it is, is told for the layer from the wires' drawn size across the wall, and taken
// off every edge; a wire's own size is therefore not measured. In transmitted light a hole exactly
// as dark as the wires cannot be told from one. Keywords: lengthwise, coil, turn, pitch, cover,
// halo, missing, exposed.
#pragma once

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/tones.h"

namespace cutface {

// Fills section.wire_layers and section.wires of a lengthwise section; takes out voids that are
// wires and names those that wires left. REQUIRES: outline and lumens stand in `section`.
void TraceLengthwise(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                     const Scale& scale, const SectionDesign& plane, Section& section);

}  // namespace cutface
