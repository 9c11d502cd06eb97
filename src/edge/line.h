// A line beside the edge: resin drawn back from the polymer, or a lip smeared over the bore.
#pragma once

#include <optional>

#include "edge/profile.h"

namespace cutface {

struct EarnedLine {
  ArcFit fit;
  double gain = 0;  // evidence beyond what a line must bring; above 0
};

// The fit with a line, when the profile earns it against the fit without. `bore`: the void side is
// inside (a lumen or void), not outside the part.
std::optional<EarnedLine> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                                     const ArcFit& plain, bool bore);

}  // namespace cutface
