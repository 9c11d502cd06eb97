// Wires far from their slots, and metal that no wire explains.
//
// A wire pushed to the outside, into a lumen or a slot further along is looked for on the whole
// face when a slot is empty: otherwise it would be called missing, or missing and extra. Metal of
// about a wire's size that no wire accounts for says that the layer was not understood.
// Keywords: displaced, pushed out, residual, mask.
#pragma once

#include <vector>

#include "identify/wire_comb.h"
#include "identify/wire_field.h"
#include "identify/wire_fit.h"

namespace cutface {

// Takes the wires' pixels out of the field, so that no other wire is fitted into them.
// `grown_px` beyond their half-level edges.
void MaskWires(WireField& field, const std::vector<FittedWire>& wires, double grown_px);

// What the wires in slots look like; limits for what may be called a wire of the layer elsewhere.
struct UsualWire {
  bool told = false;
  double brightness = 0, gain = 0, misfit = 0, tone = 0, tone_off = 0;
  bool Like(const FittedWire& wire, bool bright) const;
};
UsualWire UsualOf(const CombFit& fit, const std::vector<FittedWire>& wires);

// Wires of the size as drawn, along any direction, that stand alone in the field: blobs of metal of
// their area and half axes. Places that are not known part them.
std::vector<FittedWire> LoneWires(const WireField& field, const WireSize& size,
                                  const FitLimits& limits);

// A wire in each blob of metal that no wire explains and that is large enough for one, where it
// explains most of the blob: wires that touch others and are paler than they.
std::vector<FittedWire> WiresInRest(const WireField& field, const std::vector<FittedWire>& wires,
                                    const WireSize& size, const FitLimits& limits);

// Whether two of the wires lie in each other by more than a quarter, which metal cannot: `size` is
// the true one.
bool AnyOverlap(const std::vector<FittedWire>& wires, const WireSize& size);

// Blobs of metal with at least `share` of a wire's area that no wire explains, between two radii:
// their number.
int UnexplainedBlobs(const WireField& field, const std::vector<FittedWire>& wires,
                     const WireSize& size, double soft_px, double from, double to, double share);

}  // namespace cutface
