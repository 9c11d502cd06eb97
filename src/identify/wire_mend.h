// What wires do to the rest of a face: contours that follow a wire instead of their own edge are
// bridged, wires that reach out of the body are called exposed, voids that are wires or their holes
// are taken out or named.
// Keywords: exposed wire, bridge, bore, pulled-out wire.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

// What the drawing has, in um of the picture: outline, and lumens by name.
struct NominalEdges {
  ContourUm outline;
  std::map<std::string, ContourUm> lumens;
};

// A contour is bridged where a wire's edge stands for its own; where light around metal pushed it
// off further, the drawing's edge between what is seen on both sides says whether metal reaches
// over it.
void MendAtWires(const Scale& scale, const NominalEdges& nominal, Section& section);

// Puts the drawing's edge, moved to meet both ends, in place of the flagged stretches. False when
// nothing is flagged, more than `most` of the vertices are, or a stretch has no counterpart in the
// drawing.
inline constexpr double kBridgedMost = 0.5;
bool BridgeAsDrawn(const std::vector<char>& flagged, const ContourUm& nominal,
                   TracedContour& contour, double most = kBridgedMost);

// Bridges the flagged vertices of a closed contour by an arc through what lies on both sides.
// False when too little of it is left (nothing is changed).
bool BridgeContour(const std::vector<char>& flagged, TracedContour& contour);

}  // namespace cutface
