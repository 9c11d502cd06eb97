// Rings and liners of a face in micrometres.
#include <fmt/format.h>

#include "cutface/segment.h"
#include "identify/assemble.h"

namespace cutface {
namespace {

constexpr double kLeastBlurs = 1.2;  // of a liner's thickness: below, only thickness x contrast
constexpr double kMostUnseen = 0.5;  // of an edge between solids

double UnseenShare(const SettledContour& c) {
  std::size_t unseen = 0;
  for (const SettledPlace& p : c.places) unseen += p.state == PlaceState::kBridged ? 1 : 0;
  return static_cast<double>(unseen) / std::max<double>(1, static_cast<double>(c.places.size()));
}

TracedContour Missing(std::string why) {
  TracedContour none;
  none.whole = false;
  none.doubt = std::move(why);
  return none;
}

TracedContour Layer(const SettledContour& c, const Scale& scale, const std::string& what) {
  if (!c.doubt.empty() || UnseenShare(c) > kMostUnseen)
    return Missing("no tone step to be seen along most of " + what);
  return TracedFrom(c, scale);
}

double MeanGap(const TracedContour& inner, const TracedContour& outer) {
  const ContourUm a = inner.Points(), b = outer.Points();
  if (a.size() < 6 || b.size() < 6) return 0;
  return (Area(std::span<const PointUm>(b)) - Area(std::span<const PointUm>(a))) /
         (0.5 * (Perimeter(std::span<const PointUm>(a)) + Perimeter(std::span<const PointUm>(b))));
}

}  // namespace

void AssembleLayers(const SettledFace& settled, const LayerPlan& layers, const Scale& scale,
                    const SectionDesign& plane, Section& section) {
  std::size_t next = layers.first_input;
  for (const LinerPath& path : layers.liners) {
    LinerTrace liner;
    liner.lumen = plane.lumens[path.lumen].name;
    LumenTrace* bore = nullptr;
    for (LumenTrace& lumen : section.lumens) {
      if (lumen.names.size() == 1 && lumen.names.front() == liner.lumen) bore = &lumen;
    }
    if (path.outer.empty()) {
      liner.outer = Missing(path.why);
    } else {
      const SettledContour& c = settled.contours[next++];
      liner.outer = Layer(c, scale, "the liner's outer edge of " + liner.lumen);
      const double blur_um = std::max(settled.blur_px, c.blur_px) * scale.mean_pitch_um();
      if (bore != nullptr && !liner.outer.vertices.empty() &&
          MeanGap(bore->bore, liner.outer) < kLeastBlurs * blur_um) {
        liner.outer = Missing(
            fmt::format("the liner of {} is thinner than {:.1f} um, about the blur of the picture",
                        liner.lumen, kLeastBlurs * blur_um));
      }
    }
    // Where the liner was not told, the bore's contour may be its outer edge.
    if (liner.outer.vertices.empty() && bore != nullptr && bore->bore.doubt.empty() &&
        !bore->bore.vertices.empty()) {
      bore->bore.doubt =
          "its liner was not told from lumen and body: the contour may follow "
          "either edge of it";
    }
    section.liners.push_back(std::move(liner));
  }
  for (const RingPath& path : layers.rings) {
    RingTrace ring;
    ring.name = plane.rings[path.ring].name;
    ring.inner = path.contour.empty()
                     ? Missing(path.why)
                     : Layer(settled.contours[next++], scale, "the inner edge of " + ring.name);
    section.rings.push_back(std::move(ring));
  }
}

}  // namespace cutface
