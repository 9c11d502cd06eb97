// What wires do to the rest of a face: contours that follow a wire instead of their own edge are
// bridged, wires that reach out of the body are called exposed, voids that are wires or their holes
// are taken out or named.
// Keywords: exposed wire, bridge, bore, pulled-out wire.
#pragma once

#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

void MendAtWires(const Scale& scale, Section& section);

// Bridges the flagged vertices of a closed contour by an arc through what lies on both sides.
// False when too little of it is left (nothing is changed).
bool BridgeContour(const std::vector<char>& flagged, TracedContour& contour);

}  // namespace cutface
