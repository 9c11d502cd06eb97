// A line beside the edge: resin drawn back from the polymer, or a lip smeared over the bore.
#pragma once

#include <optional>

#include "edge/profile.h"

namespace cutface {

struct Line {
  ArcFit fit;
  double gain = 0;  // evidence beyond what a line must bring: above 0 the profile has earned it
};

// The fit with a line, where one is plausible. `bore`: the void side is inside (a lumen or void),
// not outside the part.
std::optional<Line> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                               const ArcFit& plain, bool bore);

}  // namespace cutface
