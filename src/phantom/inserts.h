// What a built-up part has besides outline, lumens and voids: rings, liners, wires, fibres, bonds,
// and the gaps and leftovers that go with them.
//
// As in as_built.h, contours are built in px in the drawing's frame and placed in the picture
// afterwards. What is said of a wire (exposed, axes) is taken from its placed contour.
// Keywords: phantom, jacket, liner, braid, coil, wire, fibre, bond, adhesive, delamination.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cutface/design.h"
#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/shapes.h"

namespace cutface::phantom {

struct BuiltPart;

struct BuiltRing {
  std::string name;
  ContourPx inner;
};

struct BuiltLiner {
  std::string lumen;
  double nominal_px = 0;  // thickness
  ContourPx outer;
};

enum class BuiltWireState { kWire, kPulledOut, kMissing, kExtra };
std::string_view BuiltWireStateName(BuiltWireState state);

struct BuiltWire {
  std::string layer;
  int no = 0;      // by slot of the comb: family by family, clockwise as drawn from 12 o'clock
  int family = 0;  // 1, 2; 0 without families. Family 1 holds the first wire after 12 o'clock
  BuiltWireState state = BuiltWireState::kWire;
  ContourPx contour;  // of a missing wire: where it would have been
  PointPx centre;     // filled in when placed, like the rest
  double long_px = 0, short_px = 0, axis_rad = 0;
  bool flat = false, displaced = false, touching = false;
  std::string exposed_to;  // "", "outside" or a lumen
};

struct BuiltLayer {
  std::string name;
  PointPx centre;
  int expected = 0, families = 0;
  double radius_px = 0;  // mean of the wires' centres
  double wire_px = 0;    // round diameter or thickness
  std::optional<double> angle_rad;
  double pitch_px = 0, cover = 0;  // lengthwise: mean distance of turns in a row, share covered
};

struct BuiltFibre {
  std::string name;
  PointPx centre;
  double filament_px = 0;
  std::vector<ContourPx> filaments;
};

// Something that is no void of the part, or a gap between its layers.
struct BuiltArtefact {
  std::string kind;  // "bond gap", "liner gap", "delamination", "pulled-out wire", "mandrel"
  std::string of;    // ring or lumen, "" none
  ContourPx contour;
  std::optional<PointPx> about;  // angles are seen from here
  double width_px = 0;
};

struct Inserts {
  std::vector<BuiltRing> rings;  // from the outline inwards
  std::vector<BuiltLiner> liners;
  std::vector<BuiltLayer> layers;
  std::vector<BuiltWire> wires;
  std::vector<BuiltFibre> fibres;
  std::vector<BuiltArtefact> artefacts;
  std::string adhesive, sleeve;  // of a bond
  bool Any() const {
    return !rings.empty() || !liners.empty() || !layers.empty() || !fibres.empty() ||
           !artefacts.empty();
  }
};

// Lengths in px unless said otherwise.
struct InsertRecipe {
  double ring_scale = 0.003, ring_lobing = 0.003, ring_shift_share = 0.002;
  double liner_uneven = 0.05;  // amplitude of first and second harmonic / thickness
  double wire_jitter_px = 0.4, wire_jitter_deg = 0.3;
  int missing = 0, pulled_out = 0, extra = 0, displaced = 0, touching = 0;
  int exposed_lumen = 0, exposed_outside = 0;
  double comb_turn_rad = 0;  // of a braid's first comb, the second as far the other way
  double liner_gap_deg = 0;
  std::vector<double> bond_gaps_deg;
  double bond_offset_px = 0;
  bool delaminated = false;
  int shrinkage = 0;
  std::string mandrel;
};

// The boundary that holds the lumens: the innermost ring's inner one, else the outline.
const Shape& CoreOf(const SectionDesign& section);

// Adds everything that the section has to a part built within CoreOf(section). False when
// something does not fit (rings cross, liners meet): draw again.
bool AddInserts(BuiltPart& part, const SectionDesign& section, const InsertRecipe& recipe,
                double pitch_um, Random& random);

// Wires of one section; called by AddInserts after rings, lumens and liners stand.
void AddWires(BuiltPart& part, const SectionDesign& section, const InsertRecipe& recipe,
              double pitch_um, Random& random);

// Into the picture's frame; `map` as for the contours of the part.
void PlaceInserts(Inserts& inserts, const Affine& map);
// After placing: which wires stand in a lumen or out of the outline.
void TellExposed(BuiltPart& part);

struct ThicknessPx {
  double least = 0, mean = 0, greatest = 0;
};
// From the inner contour to the nearest place of the outer one, mean over the inner arc.
ThicknessPx ThicknessBetween(const ContourPx& inner, const ContourPx& outer);

// ",\n \"rings\": ... " : the lines of the truth file; of a plain part its artefacts only.
// Chips, smears, debris, potting gaps and bubbles of the scene are listed as artefacts too.
std::string InsertsText(const BuiltPart& part, const PhantomScene& scene);

}  // namespace cutface::phantom
