// A line that a person drew, settled on the edge that is there. Internal to the room.
#pragma once

#include "cutface/inspect.h"

namespace cutface {

// What the settling needs besides the line: the picture, and the edges that are known already.
struct KnownFace {
  const Micrograph& micrograph;
  const CalibrationRecord& calibration;
  const Scale& scale;
  double edge_cutoff_um = 10;
};

// `start`: closed, positive area, pixels of the picture. The contour `except` of `section` (may be
// null) is the one that the line replaces; all others are neighbours. Places that leave the line by
// more than a few pixels have no edge of their own there: they stay on it, bridged.
// `inner`: an edge between solids; `polymer_outside` as in EdgeInput.
// Errors: kNoSection where the picture's light cannot be told; kInvalidContour.
Result<TracedContour> SettleDrawn(const KnownFace& face, const Section& section,
                                  const TracedContour* except, const ContourPx& start,
                                  bool polymer_outside, bool inner);

// The stretch of a closed contour that a line replaces: from vertex `first` on, `count` vertices,
// and whether the line runs against the contour.
struct Stretch {
  std::size_t first = 0, count = 0;
  bool against = false;
};
// From the vertex nearest to the line's start to that nearest to its end, round the side on which
// the line lies. Errors: kUsage: fewer than 2 points, ends further than `reach` from the contour,
// or both at one vertex.
Result<Stretch> FindStretch(const ContourUm& contour, const ContourUm& line, double reach_um);

}  // namespace cutface
