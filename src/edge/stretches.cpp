// Where lines run beside a contour: gaps of the potting, lips.
#include <algorithm>
#include <cmath>

#include "cutface/stats.h"
#include "edge/work.h"

namespace cutface {
namespace {

constexpr std::size_t kLeastStretches = 4;  // of a contour, to tell what is common to all

}  // namespace

double CommonEvidence(const std::vector<Work>& works) {
  double least = 1e300;
  for (const Work& w : works) {
    if (!w.alive || w.input.inner_boundary || w.arcs.size() < kLeastStretches) continue;
    std::vector<double> evidence;
    for (const Arc& arc : w.arcs) evidence.push_back(arc.line ? arc.line->evidence : 0);
    least = std::min(least, Median(std::move(evidence)));
  }
  return least < 1e299 ? std::max(0.0, least) : 0;
}

void DecideLines(Work& w, const EdgeShape& shape, const std::vector<LinearProfile>& profiles,
                 double common) {
  std::vector<StretchEvidence> stretches;
  for (const Arc& arc : w.arcs) {
    if (!arc.line || !arc.line->marked) {
      stretches.push_back({});
      continue;
    }
    const Line& line = *arc.line;
    const double step = line.fit.p - line.fit.v;
    stretches.push_back({true, line.evidence - common, line.cost, line.stay,
                         std::abs(step) > 1e-6 ? line.fit.line / step : 0});
  }
  const std::vector<double> chances = LineChances(stretches);
  for (std::size_t a = 0; a < w.arcs.size(); ++a) {
    Arc& arc = w.arcs[a];
    arc.doubt = 0;
    if (!arc.line) continue;
    // Both stories are weighed: evidence counts like -2 log likelihood.
    if (!arc.line->marked) {
      const double chance = 1 / (1 + std::exp(-0.5 * arc.line->gain));
      arc.doubt = std::sqrt(chance * (1 - chance)) * std::abs(arc.line->fit.x0 - arc.fit.x0);
      continue;
    }
    const double chance = chances[a];
    if (chance < 1e-3) continue;
    const LineSpread spread = OverWidths(profiles[a], shape, arc.line->fit, w.track.side > 0);
    arc.doubt = std::hypot(std::sqrt(chance * (1 - chance)) * (spread.fit.x0 - arc.fit.x0),
                           std::sqrt(chance) * spread.u_px);
    if (chance > 0.5) arc.fit = spread.fit;
  }
}

}  // namespace cutface
