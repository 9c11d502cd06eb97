// A section made ready for measuring: one Feature per contour, with what the draws need of it.
//
// `full` is the contour as traced; raw values come from it. `calm` is the same without the ripple
// that the noise explains (calm.h); draws add fresh noise to it. `used` are the few vertices that
// draws move at all: a thinned set for whole-contour quantities and every vertex near a least
// distance. Keywords: feature, thinning, outline, lumen, void.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface::measure {

struct Feature {
  // kLayer: edge between solids; kWire: metal in the body
  enum class Kind { kOutline, kLumen, kVoid, kLayer, kWire };
  Kind kind = Kind::kLumen;
  std::string name;
  const TracedContour* traced = nullptr;
  const LumenTrace* lumen = nullptr;
  const Void* hole = nullptr;
  std::string missing;    // "" or why nothing of it can be measured: not found, merged ...
  bool whole = true;      // false: cut off by the frame
  bool reversed = false;  // the tracer's winding was negative and has been turned round here

  ContourUm full, calm, normals;
  std::vector<VertexState> states;
  std::vector<double> sigma;
  std::vector<double> waver;  // um, what varies slowly along the arc: u_arc and the place's doubt
  std::vector<double> arc;    // arc position of each vertex, um from vertex 0
  double perimeter = 0;

  std::vector<std::uint32_t> used;  // vertices that draws move, ascending
  std::vector<std::uint32_t> thin;  // positions in `used` of the thinned contour, in order
  // Noise lengthens a contour; by how much depends on the vertex spacing. Excess length of the full
  // contour over that of the thinned one.
  double excess_ratio = 1;

  bool Measurable() const { return missing.empty(); }
  double BridgedShare() const;
};

// Voids and gaps of the part. What may come from cutting (doubtful, chip, pulled-out wire,
// delamination) is not
// counted, but limits allow for it.
inline bool IsSureVoid(VoidClass kind) {
  return kind == VoidClass::kVoid || kind == VoidClass::kBondGap || kind == VoidClass::kLinerGap;
}

// A ring, a liner, or the whole wall of an only lumen: the solid between two contours.
struct Layer {
  std::string name;            // "jacket", "scope/liner", "bore/wall"
  int inner = -1, outer = -1;  // features
};

struct Face {
  std::vector<Feature> features;  // outline first when there is one, lumens, voids
  int outline = -1;
  std::vector<int> lumens;  // every name once
  std::vector<int> voids;   // holes that count: class void and gaps, not debris, chips, bubbles

  std::vector<Layer> layers;  // rings from the outline inwards, then liners
  std::vector<int> polymer;   // per entry of `lumens`: the liner's outer edge, else the bore
  std::vector<int> wires;     // metal that is there, last of the features
  int FindLayer(std::string_view name) const;  // position in `layers`, -1 when unknown

  int FindLumen(std::string_view name) const;  // -1 when unknown
};

// Copies the contours, turns negative windings, thins. Features with unusable contours keep their
// name and say why in `missing`. Keeps pointers into `section`.
Face PrepareFace(const Section& section);

// Vertices at most about `spacing` apart of which none of those left out is further than
// `tolerance` from the chord; ascending indices, vertex 0 included.
std::vector<std::uint32_t> Thinned(const ContourUm& contour, const std::vector<double>& arc,
                                   double perimeter, double spacing, double tolerance);

}  // namespace cutface::measure
