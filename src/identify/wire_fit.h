// Finding the wires of a layer in its share of metal, and settling them all together.
//
// A wire is an ellipse (a ribbon: a bent bar with round ends) that lies along the layer's circle.
// Places are proposed where metal fills the shape and does not go on around it, strongest first,
// each taking its metal away; then every wire is shifted until the picture of all wires together
// fits best, so that touching ones part where both are explained. What a wire alone explains
// decides whether it stays. Lengths in px of the layer's frame.
// Keywords: analysis by synthesis, matching pursuit, ellipse, touching, coordinate descent.
#pragma once

#include <vector>

#include "identify/wire_field.h"

namespace cutface {

struct WireSize {
  double along = 0, across = 0;  // half axes, at the half level of the share of metal
  bool flat = false;
  double Area() const {
    return flat ? 4 * (along - across) * across + M_PI * across * across : M_PI * along * across;
  }
};

struct FittedWire {
  double angle = 0, radius = 0;  // of the middle, in the layer's frame
  double tilt = 0;               // rad, of its long axis against the layer's circle there
  WireSize size;
  double strength = 1;    // share of metal in its core; below 1 for metal in poor light
  double gain = 0;        // share of its area that it alone explains
  double misfit = 0;      // rms of the share of metal within and beside it
  bool alone = false;     // no other one nearer than the blur
  double beyond = 0;      // mean share of metal just outside it that no wire explains
  double light = 0;       // WireField::tone in its core, towards the metal's side
  double brightness = 0;  // mean share of metal in its core
  double tone = 0;        // mean relative tone in its core, whatever surrounds it
  PointPx At() const { return {radius * std::cos(angle), radius * std::sin(angle)}; }
};

// Signed distance (negative inside) of a place to the wire's edge.
double DistanceToWire(const FittedWire& wire, PointPx q);
// The wire's edge grown by `by` px, closed, positive area in the layer's frame.
ContourPx WireEdge(const FittedWire& wire, double by, int vertices = 64);

struct FitLimits {
  double inner = 0, outer = 0;  // radii of wires' middles
  double soft_px = 2;           // width of an edge in the share of metal
  double halo_px = 0;           // by which half-level edges lie outside the metal's
  double least_gain = 0.35;
  std::size_t most = 600;  // proposals; FindWires gives none when there are as many
};

// Wires of one size wherever there is metal.
std::vector<FittedWire> FindWires(const WireField& field, const WireSize& size,
                                  const FitLimits& limits);

// Shifts the wires until they explain the metal together; drops those that explain nothing.
// Only the first `free` of them move or go; 0: all.
void SettleWires(const WireField& field, const FitLimits& limits, std::vector<FittedWire>& wires,
                 std::size_t free = 0);

// Two wires in place of wires[k] where that explains the metal better: true when it did.
bool SplitWire(const WireField& field, const FitLimits& limits, std::size_t k,
               std::vector<FittedWire>& wires);

// What all wires together leave unexplained of the metal within `box` about a sample of them.
double CostOfAll(const WireField& field, const FitLimits& limits,
                 const std::vector<FittedWire>& wires, const WireSize& box);

// Of all within reach of one wire: the squares that the wires leave unexplained.
double CostAbout(const WireField& field, const FitLimits& limits,
                 const std::vector<FittedWire>& wires, std::size_t k);

// Own half axes of a wire that stands alone.
WireSize OwnSize(const WireField& field, const FitLimits& limits, const FittedWire& wire);

// A wire of less than full strength at the best place near a slot; strength 0: none. Not where one
// of `wires` is.
FittedWire LookForPale(const WireField& field, const FittedWire& slot, double reach_px,
                       double rise_px, const std::vector<FittedWire>& wires);

// Where within `reach_px` along and `rise_px` across a place looks most like a hole left by a wire:
// its depth (share of the body's tone that is missing inside, less what is missing around) and
// place.
struct HoleThere {
  double depth = 0;
  FittedWire at;
};
// Not where one of `wires` is: dark metal looks like a hole.
HoleThere LookForHole(const WireField& field, const FittedWire& slot, double reach_px,
                      double rise_px, const std::vector<FittedWire>& wires);

}  // namespace cutface
