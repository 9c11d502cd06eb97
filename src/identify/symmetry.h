// Which turns and mirrorings map a drawing's outline, or all of it, onto itself.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cutface/design.h"

namespace cutface {

struct Turn {
  double angle_rad = 0;   // about the outline's centroid
  bool mirrored = false;  // x flipped about the centroid before turning
};

// The turn applied to a design point.
PointUm Applied(const Turn& turn, PointUm about, PointUm p);

// Turns on a grid of `step_rad` under which the outline misses itself by less than `tolerance` of
// its equal-area radius (mean distance).
std::vector<Turn> OutlineTurns(const SectionDesign& plane, double step_rad, double tolerance);

// Lumen k of the drawing falls on lumen result[k] under the turn (greatest overlap), with the least
// overlap share (intersection / union) over all lumens. Stops with the lumens so far once that is
// below `enough`.
struct LumenMap {
  std::vector<int> to;
  double least_overlap = 0;
};
LumenMap MapLumens(const SectionDesign& plane, const Turn& turn, double enough = 0);

// Names that a turn of the whole drawing swaps (overlap of every lumen at least 97 %), as groups.
std::vector<std::vector<std::string>> InterchangeableNames(const SectionDesign& plane);

// A mirroring that maps outline, rings and every lumen of the drawing onto itself (overlap at least
// 97 %): then no picture tells whether it is mirrored. nullopt: there is none.
std::optional<Turn> OwnMirrorImage(const SectionDesign& plane);

}  // namespace cutface
