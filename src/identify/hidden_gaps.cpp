// Gaps of the potting that would not show.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "cutface/stats.h"
#include "identify/edge_marks.h"

namespace cutface {
namespace {

constexpr double kBright = 0.08;  // of a filling over the body, relative: less is no filling told
constexpr double kLikePotting = 0.25;             // of that step: a bore that holds the same
constexpr double kLikeLow = 75, kLikeHigh = 125;  // % of the edge's contrast: the body's tone

}  // namespace

void DoubtHiddenGaps(const FaceTones& tones, const SectionDesign& plane, Section& section) {
  const double step = tones.outside - 1;
  if (step < kBright) return;
  std::vector<double> widths;  // um
  for (const Void& v : section.voids) {
    if (v.kind != VoidClass::kPottingGap) continue;
    const auto share = v.numbers.find("step_of_contrast_percent"),
               width = v.numbers.find("width_um");
    if (share == v.numbers.end() || width == v.numbers.end()) continue;
    if (share->second > kLikeLow && share->second < kLikeHigh) widths.push_back(width->second);
  }
  if (widths.empty()) return;
  const double width = Median(widths);
  for (LumenTrace& lumen : section.lumens) {
    const bool traced = lumen.state == LumenState::kOpen || lumen.state == LumenState::kFilled;
    if (!traced || lumen.names.size() != 1 || lumen.bore.vertices.empty()) continue;
    for (std::size_t i = 0; i < plane.lumens.size() && i < tones.lumen.size(); ++i) {
      if (plane.lumens[i].name != lumen.names.front()) continue;
      if (!(std::abs(tones.lumen[i] - tones.outside) < kLikePotting * step)) continue;
      // The edge lies anywhere between none and the whole width further out.
      lumen.bore.u_common_um = std::hypot(lumen.bore.u_common_um, width / std::sqrt(12.0));
      if (!lumen.bore.doubt.empty()) continue;
      lumen.bore.doubt = fmt::format(
          "the potting has drawn back elsewhere on this face and its gaps have the body's tone: "
          "one "
          "along this edge, about {:.1f} um wide, would not show",
          width);
    }
  }
}

}  // namespace cutface
