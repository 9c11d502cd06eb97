// Wires of a registered face: braids, coils and single wires around the lumens, bundles of fibres.
//
// For each layer of the drawing: where metal is (wire_field.h), which wires it is made of
// (wire_fit.h), which slots of the combs they fill (wire_comb.h). Saturated metal looks larger than
// it is; by how much is told once for the layer from the wires' known size across and is taken off
// every edge. A slot without a wire is a missing wire, one with a hole a pulled-out wire, a wire
// without a slot an extra one. Numbers run family by family, clockwise as drawn from 12 o'clock;
// family 1 holds the first slot after it.
// Keywords: braid, wire, halo, family, missing, extra, pulled out, exposed.
#pragma once

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/tones.h"

namespace cutface {

// Fills section.wire_layers and section.wires; mends bores and the outline where a wire crosses
// them; takes out or renames voids that are wires or their holes.
void TraceWires(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                const Scale& scale, const SectionDesign& plane, Section& section);

}  // namespace cutface
