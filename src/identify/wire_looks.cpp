// How often wires are looked for: where the pose lays the drawing, and, where a layer was not told
// there, with the drawing laid on the traced outline.
#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

#include "identify/outline_lay.h"
#include "identify/wire_tracer.h"
#include "identify/wires.h"

namespace cutface {
namespace {

constexpr double kMovesSlots_px = 1.0;  // at the outline: less changes nothing for a wire

// A tilted cut draws the whole face out, and slots move along the round with it. The pose weighs
// the tones of everything and may miss a part of that; what is seen of the settled outline shows
// it.
std::optional<Warp> LaidOnOutline(const Warp& warp, const Scale& scale, const SectionDesign& plane,
                                  const Section& section) {
  if (!section.outline) return std::nullopt;
  std::vector<PointPx> seen;
  for (const ContourVertex& v : section.outline->vertices) {
    if (v.state == VertexState::kMeasured) seen.push_back(scale.ToPx(v.at));
  }
  const Warp out = LaidOn(
      warp, plane, seen,
      static_cast<double>(seen.size()) / static_cast<double>(section.outline->vertices.size()));
  if (OutlineMoved(warp, out, plane) < kMovesSlots_px) return std::nullopt;
  return out;
}

std::ptrdiff_t Untold(const Section& section) {
  return std::count_if(section.wire_layers.begin(), section.wire_layers.end(),
                       [](const WireLayerTrace& layer) { return !layer.counted; });
}

std::ptrdiff_t ToldMetal(const Section& section) {
  return std::count_if(section.wires.begin(), section.wires.end(), [](const WireTrace& wire) {
    return wire.state == WireState::kWire || wire.state == WireState::kExtra;
  });
}

}  // namespace

void TraceWires(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                const Scale& scale, const SectionDesign& plane, Section& section) {
  if (plane.wires.empty() || plane.kind == "lengthwise") return;
  Section first = section;
  wires::TraceWiresAt(pose.warp, micrograph, tones, scale, plane, first);
  if (Untold(first) > 0) {
    if (const auto warp = LaidOnOutline(pose.warp, scale, plane, section)) {
      Section second = section;
      wires::TraceWiresAt(*warp, micrograph, tones, scale, plane, second);
      // Where neither was counted, the one that found more of them says more.
      const bool more = Untold(second) == Untold(first) && ToldMetal(second) > ToldMetal(first);
      if (Untold(second) < Untold(first) || more) first = std::move(second);
    }
  }
  section = std::move(first);
}

}  // namespace cutface
