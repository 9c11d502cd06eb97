// Where the slots of a layer lie, heights included.
//
// Wires of one hand of a braid go over and under those of the other by a pattern that comes again
// after two groups: a slot without a wire lies as high as its like. Where two slots of either hand
// lie close together and only one holds a wire, its height helps to say which.
// Keywords: weave, over, under, height, slot.
#pragma once

#include <vector>

#include "identify/wire_comb.h"
#include "identify/wire_fit.h"

namespace cutface {

struct SlotFrame {
  PointPx centre;         // of the layer, in its frame
  double radius = 1;      // px
  double step_rad = 0.2;  // between groups of a hand
  double most_off = 10;   // px from the radius: wires further off were pushed there
};

PointPx SlotPlace(const CombFit& fit, const CombSlot& slot, const std::vector<FittedWire>& wires,
                  const SlotFrame& frame);

// Moves wires to empty slots of the other hand next to theirs where place and height fit better.
void SwapByHeight(const std::vector<FittedWire>& wires, PointPx centre, const SlotFrame& frame,
                  CombFit& fit);

}  // namespace cutface
