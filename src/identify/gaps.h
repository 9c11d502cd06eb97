// Gaps along layers: where adhesive is missing, where a liner or a ring has come away.
//
// A gap along a layer is long and thin, so it is looked for along the layer's own edge, by the
// clock: tones between or beside two settled edges against what is usual there, as the width that
// is open. Gaps of a bond end where half of their width is open; those that taper (a liner that has
// come away) where their width, followed in a straight line, runs out.
// Keywords: bond gap, liner gap, delamination, starved bond, open width.
#pragma once

#include "cutface/design.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/layers.h"
#include "identify/tones.h"

namespace cutface {

// Adds what it finds to the section's voids (classes bond gap, liner gap; void beside rings that
// are no bond) in place of voids that lie on the same places, and lets a liner's outer edge pass
// under its gap. Voids are numbered anew. `rings` tells where the drawing has the seams: a bond
// whose seams are not told is searched there, for gaps that take most of its thickness, and dark
// arcs near the drawn seams are gaps of it whatever the seams said.
void FindLayerGaps(const Micrograph& micrograph, const FaceTones& tones, const Scale& scale,
                   const SectionDesign& plane, const std::vector<RingPath>& rings,
                   Section& section);

}  // namespace cutface
