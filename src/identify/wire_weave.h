// Combs and heights of a layer together.
//
// Wires of one hand of a braid go over and under those of the other by a pattern that comes again
// after two groups (plain weave: after one). Where the hands cross near the cut, angles alone do
// not tell them apart, but one goes over and one under. So each wire is matched with the slot whose
// place and height fit it best; a pattern of heights and the places of the combs are fitted by
// turns, and of several ways to start the likeliest end is taken. What all heights have in common,
// a layer off its centre or a little oval, is fitted with them, so that a few wires that were
// pushed off do not move the others' slots. Lengths in px of the layer's frame.
// Keywords: weave, over, under, height, slot, crossing hands.
#pragma once

#include <vector>

#include "cutface/geometry.h"
#include "identify/wire_comb.h"

namespace cutface {

struct WeaveHeights {
  double trend[5] = {0, 0, 0, 0, 0};      // 1, cos, sin of the angle, cos and sin of twice it
  double above[2][2] = {{0, 0}, {0, 0}};  // by hand and by even and odd groups
  double sigma = 1.5;                     // of wires about them
  double Trend(double angle) const;
  double At(const CombSlot& slot) const { return Trend(slot.angle) + above[slot.family][slot.odd]; }
};

struct WeavePlan {
  CombPlan combs;
  double radius = 100;  // of the layer
  double rise = 5;      // of wires over and under it, as drawn
};

struct WeaveFit {
  CombFit combs;  // `crossed`: neither places nor heights tell the hands apart
  WeaveHeights heights;
};

// `odd`: as for FitCombs.
WeaveFit FitWeave(const std::vector<double>& angles, const std::vector<double>& heights,
                  const std::vector<double>& odd, const WeavePlan& plan);

// Circle through most of the middles of a layer's wires, from the drawing's on; those far off it
// leave it where it is. REQUIRES: at least one.
struct LayerCircle {
  PointPx centre;
  double radius = 0;
};
LayerCircle CircleOfMost(const std::vector<PointPx>& middles);

}  // namespace cutface
