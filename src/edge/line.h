// A line beside the edge: resin drawn back from the polymer, or a lip smeared over the bore.
#pragma once

#include <optional>
#include <vector>

#include "edge/profile.h"
#include "edge/shapes.h"

namespace cutface {

// What blur a stretch may have beside the one at hand. A softer edge looks like one with a line of
// a tone between, a little wider than the blur: it is preferred where it explains as much.
struct OtherBlurs {
  const EdgeShapes* shapes = nullptr;  // nothing: the blur at hand is right
  double factor = 1;                   // at hand
  double deviation = 0.06;             // of its logarithm
};

struct Line {
  ArcFit fit;
  double gain = 0;  // evidence beyond what a line must bring: above 0 the profile has earned it
  double vote = 0;  // the same, however far the line moves the edge
};

// Resin drawn back along much of an outline: stretch by stretch a line that moves the edge far has
// to earn it, but many stretches that tell the same story are believed. Of each stretch the line it
// has, if any; true where the lines are to be taken wherever they vote for it.
bool ManyLines(const std::vector<std::optional<Line>>& lines, const std::vector<double>& plain_x0);

// In light that comes through refraction draws a dark line a fixed way inside the edge, and a gap
// of the potting moves the outer edge off it. By how much further each stretch's dark line lies
// from where its edge begins than in the stretches where it lies nearest, px; 0 where there is no
// such line, or the stretch has a gap already.
std::vector<double> BeyondNearest(const std::vector<LinearProfile>& profiles,
                                  const std::vector<ArcFit>& fits);

// The fit with a line, where one is plausible. `bore`: the void side is inside (a lumen or void),
// not outside the part.
std::optional<Line> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                               const ArcFit& plain, bool bore, const OtherBlurs& others = {});

}  // namespace cutface
