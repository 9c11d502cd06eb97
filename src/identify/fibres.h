// Bundles of axial fibres: where their filaments are.
//
// A bundle is a cluster of small discs of one tone in the body. About the place where the drawing
// has it, discs of the drawn diameter are looked for by a matched filter on either side of the
// body's tone; they are counted only where discs and gaps between them are seen apart: filaments of
// at least kLeastFilament_px with a clear gap between the faintest disc and the strongest of what
// is none. Else the bundle's place and size are told from its tone alone, with the reason.
// Keywords: fibre, filament, bundle, matched filter, count.
#pragma once

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/tones.h"

namespace cutface {

// Fills section.fibres, one for each of the drawing, and takes voids that are gaps or filaments of
// a bundle out of section.voids. REQUIRES: voids stand in `section`.
void TraceFibres(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                 const Scale& scale, const SectionDesign& plane, Section& section);

}  // namespace cutface
