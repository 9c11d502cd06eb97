// The wall by the clock: thickness all round, as the words of the room measure see it; the datum
// frame; and what two edges give, asked by hand. Values without intervals, for the eye: figures
// with intervals are Measurements.
// Keywords: profile, wall, liner, bond, thickness by the clock, datum frame, ask.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/design.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

// Frame of offset, position and clock. picture = centre + R(rotation) * M * design.
struct DatumFrame {
  PointUm centre;
  double rotation_rad = 0;
  bool mirrored = false;
  std::string doubt;  // "" or why the drawing's datum is not on this face; then the outline's
                      // centre and the placement's rotation stand in

  PointUm FromPicture(PointUm p) const;
  PointUm ToPicture(PointUm p) const;
  // From 12 o'clock, clockwise as the drawing is seen, [0, 360).
  double ClockDeg(PointUm p) const;
  // Unit vector in the picture.
  PointUm Direction(double clock_deg) const;
};
DatumFrame FindDatumFrame(const Section& section, const SectionDesign* plane, const Scale& scale);

// One place of a wall: from its inner edge to the nearest place of its outer one, as
// thickness_min, thickness_mean, thickness_max and wall are defined. A lumen's wall to the outside
// has places only where the bore faces it.
struct WallPlace {
  double clock_deg = 0;  // of `inner`, seen from WallProfile::centre
  double thickness_um = 0;
  PointUm inner, outer;
  bool seen = true;  // both ends on edges that were measured
};
struct WallProfile {
  std::string name;  // "jacket", "scope/liner", "adhesive", a lumen: its wall to the outside
  enum class Kind { kLayer, kToOutside } kind = Kind::kLayer;
  PointUm centre;
  std::vector<WallPlace> places;        // by clock, ascending
  std::size_t least = 0, greatest = 0;  // of `places`, by raw thickness
  double mean_um = 0;                   // along the inner edge
};
// Every wall that has both its edges: rings from the outline inwards, liners, lumens.
std::vector<std::string> WallNames(const Section& section);
// Errors: kNotFound (no such wall, or an edge of it was not found).
Result<WallProfile> ProfileWall(const Section& section, const SectionDesign* plane,
                                const Scale& scale, std::string_view name);

}  // namespace cutface
