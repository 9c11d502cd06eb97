// Whether a cut wire of a lengthwise section stands out of the wall, into a bore or outside.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "cutface/section.h"
#include "identify/lengthwise_wires.h"

namespace cutface {

struct CutWirePlace {
  const CutWire& wire;
  const ContourUm& metal;  // its edge without halo, um
  PointUm at;              // its middle
  double reach_um = 0;     // half its drawn size, the larger one
  double radius_px = 0;    // half its drawn size across the wall
  // Places of the wall's edge that may follow a wire and not the wall.
  std::function<bool(PointUm)> hidden;
};

constexpr double kStandsFree = 0.95;  // of a wire's rays that end in the body

// The least solid between a wire and the nearest side of a contour, um, told from that side's edge
// beyond the wire, because the wire itself hides or bends it: negative where the wire stands out.
// `outward`: +1 for the outline, -1 for bores. Nothing when the contour is far away or no side of
// it can be told.
std::optional<double> CoverOver(const TracedContour& edge, const CutWirePlace& place,
                                double outward, double pitch_um);

// Stands out of a side. Into a bore: as much of it lies bare as its own edge says; where that says
// neither, the wall's edge beyond it does, and where no side can be told (a corner, all wires at
// the edge) it touches the contour with an edge that does not end in the body.
bool StandsOut(const TracedContour& edge, const CutWirePlace& place, double outward,
               double pitch_um);

// What was painted over about a wire before edges were settled: edges in it tell nothing.
struct PaintedDisc {
  PointUm at;
  double reach_um = 0;
};

// A bore's edge was settled beside paint: there the drawing's edge is put in its place, or an arc
// through what is seen on both sides.
void MendPaintedBore(const std::vector<PaintedDisc>& painted, const ContourUm& drawn,
                     LumenTrace& lumen);

// A bore's edge was settled round the wires that lie bare in it: there the drawing's edge is put in
// its place, or an arc through what is seen beside them. `drawn`: the bore's, um of the picture.
void MendBareBore(const std::vector<WireTrace>& wires, const ContourUm& drawn, double pitch_um,
                  LumenTrace& lumen);

}  // namespace cutface
