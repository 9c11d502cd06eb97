// Rings and liners of a face in micrometres.
#include <fmt/format.h>

#include "cutface/segment.h"
#include "identify/assemble.h"

namespace cutface {
namespace {

constexpr double kLeastBlurs = 1.2;  // of a liner's thickness: below, only thickness x contrast
constexpr double kLeastShare = 0.4;  // of the mean thickness
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
  TracedContour contour = TracedFrom(c, scale);
  contour.common_share = 0;  // no rim, no potting: what moves the others does not move it
  return contour;
}

double MeanGap(const TracedContour& inner, const TracedContour& outer) {
  const ContourUm a = inner.Points(), b = outer.Points();
  if (a.size() < 6 || b.size() < 6) return 0;
  return (Area(std::span<const PointUm>(b)) - Area(std::span<const PointUm>(a))) /
         (0.5 * (Perimeter(std::span<const PointUm>(a)) + Perimeter(std::span<const PointUm>(b))));
}

// Edges of one liner that nearly touch somewhere: one of them has left its own edge there.
void DoubtThinPlaces(TracedContour& bore, TracedContour& outer) {
  const ContourUm a = bore.Points(), b = outer.Points();
  if (a.size() < 6 || b.size() < 6) return;
  const double least =
      LeastDistance(std::span<const PointUm>(a), std::span<const PointUm>(b)).distance;
  if (least > kLeastShare * MeanGap(bore, outer)) return;
  for (TracedContour* contour : {&bore, &outer}) {
    if (contour->doubt.empty())
      contour->doubt = "the liner's two edges nearly touch: one of them was not followed";
  }
}

// The wire layer whose metal lies within `reach` of a ring's drawn edge, "" when none does: a braid
// hides the edge between the materials that it lies in.
std::string WiresBeside(const SectionDesign& plane, const RingDesign& ring, double reach_um) {
  const double radius = std::sqrt(Area(std::span<const PointUm>(ring.inner.contour)) / M_PI);
  for (const WireLayerDesign& layer : plane.wires) {
    const double metal = layer.round_um  ? *layer.round_um
                         : layer.flat_um ? layer.flat_um->first
                                         : 0.0;
    for (double diameter : layer.on_diameters_um) {
      if (std::abs(0.5 * diameter - radius) < 0.5 * metal + reach_um) return layer.name;
    }
  }
  return "";
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
    if (bore != nullptr && !liner.outer.vertices.empty()) DoubtThinPlaces(bore->bore, liner.outer);
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
    const std::string wires =
        WiresBeside(plane, plane.rings[path.ring], 12 * scale.mean_pitch_um());
    if (!ring.inner.vertices.empty() && ring.inner.doubt.empty() && !wires.empty())
      ring.inner.doubt = "wires of " + wires + " lie along it: the edge may be theirs";
    section.rings.push_back(std::move(ring));
  }
}

}  // namespace cutface
