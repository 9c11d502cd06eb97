// A line beside the edge: resin drawn back from the polymer, or a lip smeared over the bore.
#pragma once

#include <optional>
#include <vector>

#include "edge/profile.h"

namespace cutface {

struct Line {
  ArcFit fit;
  double evidence = 0;  // over the fit without one
  double cost = 0;      // that a line by itself must bring
  double stay = 0;      // that one must bring where it only goes on
  double gain = 0;      // evidence less cost: above 0 the profile has earned it
  // Something shows where the polymer begins beside it. Otherwise the edge may be anywhere along
  // the line: a doubt, and no place.
  bool marked = true;
};

// The fit with a line, where one is plausible. `bore`: the void side is inside (a lumen or void),
// not outside the part.
std::optional<Line> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                               const ArcFit& plain, bool bore);

// A narrow line tells its middle and how much it darkens, not how wide it is: half as wide and
// twice as deep looks the same through the blur. The mean place over all widths that explain the
// profile, with the fit nearest to it.
struct LineSpread {
  ArcFit fit;
  double u_px = 0;  // standard deviation of the place
};
LineSpread OverWidths(const LinearProfile& profile, const EdgeShape& shape, const ArcFit& line,
                      bool bore);

// What stretches around one contour tell of a line, in their order. A line that runs on through
// several of them pays only once for beginning.
struct StretchEvidence {
  bool possible = false;
  double evidence = 0, cost = 0, stay = 0;  // as of a Line
  double tone = 0;  // of the line between the void side's (0) and the polymer's (1)
};
// Chance of a line in each: forward and backward sums around the ring.
std::vector<double> LineChances(const std::vector<StretchEvidence>& stretches);

}  // namespace cutface
