// From the nominal part to the part that was made: the faults that extrusions have.
//
// Works on contours in px in the drawing's frame (centre of the outline at the origin); the pose in
// the picture comes afterwards. Every change keeps contours simple and apart.
// Keywords: phantom, as built, collapse, thin septum, broken septum, void, roughness.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cutface/stats.h"
#include "phantom/families.h"
#include "phantom/inserts.h"

namespace cutface::phantom {

enum class BuiltState { kOpen, kFilled, kMerged, kNotFound };

struct BuiltLumen {
  std::string name;
  ContourPx contour;  // of the merged bore when merged; empty when not found
  BuiltState state = BuiltState::kOpen;
  std::vector<std::string> merged_with;
};

struct Breach {
  std::string first, second;
  double width_px = 0;  // of the channel at its narrowest, before the lips are rounded by 0.7 px
};

struct BuiltPart {
  ContourPx outline;
  std::vector<BuiltLumen> lumens;  // in the design's order
  std::vector<ContourPx> voids;
  std::vector<Breach> breaches;
  int adjusted_septum = -1;  // number of septa made thin on purpose, -1 none
  Inserts inserts;
};

// How much of what; lengths in px, shares of size otherwise. Zero switches a fault off.
struct BuildRecipe {
  double scale = 0.01;    // standard deviation of size
  double lobing = 0.006;  // amplitude of each of the second to fourth harmonic of the outline
  double lumen_scale = 0.015;
  double lumen_lobing = 0.01;
  double group_shift = 0.01;  // standard deviation / outline diameter
  double group_turn_deg = 1.5;
  double lumen_shift_px = 1.5;
  double corner_px = 3;       // rounding of corners
  double roughness_px = 0.1;  // standard deviation along the normal
  double roughness_length_px = 20;
  double collapse = 0;        // 0 none; 0.5 squashes one lumen to half its height
  bool kidney = false;        // the collapsed lumen is bent as well
  double thin_septum_px = 0;  // > 0: one septum is brought to this thickness
  double breach_px = 0;       // > 0: one septum is broken, this wide
  int voids = 0;
  double least_void_px = 6, greatest_void_px = 40;
  bool void_chain = false;  // a row of voids across one septum
  bool filled = false, missing = false;
  // Where, by index into the lumens; without: drawn at random.
  std::optional<std::pair<std::size_t, std::size_t>> septum;
  std::optional<std::size_t> collapsed, filled_one, missing_one;
  double least_septum_px = 2, least_wall_px = 3;
};

// Pairs of lumens (indices) that face each other across one septum: no other lumen comes between.
std::vector<std::pair<std::size_t, std::size_t>> FacingPairs(const std::vector<ContourPx>& lumens);

// nullopt when the faults asked for do not fit into the part.
std::optional<BuiltPart> Build(const Nominal& nominal, const BuildRecipe& recipe, Random& random);

}  // namespace cutface::phantom
