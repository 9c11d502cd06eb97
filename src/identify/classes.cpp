#include "identify/classes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace cutface {
namespace {

// What a braid's ring may be off its drawing, as a share of its radius, and a hole that a wire left
// against the wire (common practice).
constexpr double kRingOff = 0.04;
constexpr double kHoleLeast = 0.6, kHoleMost = 1.7;
constexpr double kPairMost = 2.2;  // against the wire: two that touch
// From a free edge: nothing parts the place from it. A skin of two blur widths still shows.
constexpr double kOpens_px = 2.5, kOpensBlurs = 2.0;
constexpr double kRound_px = 2.0;  // deeper than this, a chip is as wide as it opens
constexpr double kNeck = 0.75;     // opening against greatest width: a chip is widest at its edge
constexpr double kDeep = 0.6;      // depth against greatest width
constexpr double kFar_um = 1e6;
constexpr double kBeside_px = 3.0;    // from a liner
constexpr double kOfWires = 0.35;     // of a place's area: wires that touch and their halo
constexpr double kHidesShare = 0.02;  // of a bore's area
constexpr double kShines = 1.25, kShinesMore = 0.15;  // beyond lumens and potting: metal

double GapTo(const ContourUm& a, const TracedContour& traced) {
  const ContourUm b = traced.Points();
  if (a.size() < 3 || b.size() < 3) return std::numeric_limits<double>::infinity();
  return LeastDistance(std::span<const PointUm>(a), std::span<const PointUm>(b)).distance;
}

// Whether a place widens away from the edge it opens to. What breaks out of an edge is widest there
// (common practice); a bubble that the edge or a thin skin cuts off is not.
bool WidensInside(const ContourUm& place, const TracedContour& edge, double round_um) {
  const ContourUm b = edge.Points();
  const ContourIndex<FrameUm> index{std::span<const PointUm>(b)};
  std::vector<double> depth;
  for (const PointUm& p : place) depth.push_back(std::abs(index.SignedDistance(p, kFar_um)));
  const auto [shallowest, deepest] = std::minmax_element(depth.begin(), depth.end());
  std::vector<PointUm> mouth;
  for (std::size_t i = 0; i < place.size(); ++i) {
    if (depth[i] <= *shallowest + round_um) mouth.push_back(place[i]);
  }
  double opening = 0, ux = 0, uy = 0;
  for (const PointUm& p : mouth) {
    for (const PointUm& q : mouth) {
      const double wide = Distance(p, q);
      if (wide > opening) opening = wide, ux = (q.x - p.x) / wide, uy = (q.y - p.y) / wide;
    }
  }
  if (!(opening > 0)) return false;
  const auto along = [&](const PointUm& p) { return p.x * ux + p.y * uy; };
  const auto [least, most] =
      std::minmax_element(place.begin(), place.end(),
                          [&](const PointUm& p, const PointUm& q) { return along(p) < along(q); });
  const double widest = along(*most) - along(*least);
  return opening<kNeck * widest&& * deepest - *shallowest> kDeep * widest;
}

bool Holds(const TracedContour& traced, PointUm p) {
  const ContourUm contour = traced.Points();
  return contour.size() >= 3 && Contains(std::span<const PointUm>(contour), p);
}

class Classifier {
 public:
  Classifier(const SectionDesign& plane, double pitch_um, PointUm origin, FaceSteps steps,
             const Section& section)
      : plane_(plane), pitch_(pitch_um), origin_(origin), steps_(steps), section_(section) {}

  void Classify(Void& v) const {
    const ContourUm contour = v.contour.Points();
    if (contour.size() < 3) return;
    const double diameter = 2 * std::sqrt(v.area_um2 / M_PI);
    v.numbers["diameter_um"] = diameter;
    v.numbers["edge_blur_px"] = v.contour.edge_blur_px;
    const bool dark_hole = v.kind == VoidClass::kVoid || v.kind == VoidClass::kDoubtful;
    if (section_.outline && section_.outline->whole && !Holds(*section_.outline, v.centroid)) {
      return Name(v, VoidClass::kOutsideBubble, "its middle lies outside the part");
    }
    if (v.kind == VoidClass::kDebris) return LiesAtAnEdge(v, contour);
    if (!dark_hole) return;
    if (Shines(v)) return;
    if (IsPulledOut(v, diameter) || MayBeWire(v, diameter)) return;
    if (v.kind == VoidClass::kVoid && InAdhesive(v)) {
      v.numbers["by_place"] = 1;
      return Name(v, VoidClass::kBondGap, "it lies in the adhesive");
    }
    for (const LinerTrace& liner : section_.liners) {
      const double away = GapTo(contour, liner.outer);
      if (v.kind != VoidClass::kVoid || !(away < kBeside_px * pitch_)) continue;
      v.numbers["by_place"] = 1;
      v.numbers["to_liner_um"] = away;
      return Name(v, VoidClass::kLinerGap, "it lies against the liner of " + liner.lumen);
    }
    OpensToAnEdge(v, contour);
  }

 private:
  static void Name(Void& v, VoidClass kind, const std::string& why) {
    v.kind = kind;
    v.evidence += (v.evidence.empty() ? "" : "; ") + why;
  }

  bool Shines(Void& v) const {
    const auto step = v.numbers.find("step_percent");
    if (plane_.wires.empty() || step == v.numbers.end()) return false;
    const double brightest = std::max({steps_.lumen, steps_.potting, 0.0});
    if (!(0.01 * step->second > kShines * brightest + kShinesMore)) return false;
    v.numbers["brightest_else_percent"] = 100 * brightest;
    Name(v, VoidClass::kDebris, "it shines as only metal does here: a wire, or swarf of one");
    return true;
  }

  bool Counted(const std::string& layer) const {
    return std::any_of(
        section_.wire_layers.begin(), section_.wire_layers.end(),
        [&](const WireLayerTrace& trace) { return trace.name == layer && trace.counted; });
  }

  // In light that shows wires dark, or where wires were overlooked, a place on a layer's ring may
  // be one of them.
  bool MayBeWire(Void& v, double diameter) const {
    const auto step = v.numbers.find("step_percent");
    const bool dark = step == v.numbers.end() || step->second <= 0;
    const double out = Distance(v.centroid, origin_);
    for (const WireLayerDesign& layer : plane_.wires) {
      const double thick = layer.round_um.value_or(layer.flat_um ? layer.flat_um->first : 0);
      const double wide = layer.flat_um ? layer.flat_um->second : thick;
      if (!(thick > 0) || diameter < kHoleLeast * thick || diameter > kPairMost * wide) continue;
      const bool told = Counted(layer.name);
      if (told && !(steps_.lumen > 0 && dark)) continue;
      for (const double on : layer.on_diameters_um) {
        const double off = std::abs(out - 0.5 * on);
        if (off > 0.5 * thick + 0.5 * kRingOff * on) continue;
        v.numbers["off_ring_um"] = off;
        Name(v, VoidClass::kDoubtful,
             told ? fmt::format("it lies on the ring of {}, whose wires are dark in this light too",
                                layer.name)
                  : fmt::format("it lies on the ring of {}, whose wires were not all told",
                                layer.name));
        return true;
      }
    }
    return false;
  }

  // The wires that are traced know best; without them the drawing's ring and wire.
  bool IsPulledOut(Void& v, double diameter) const {
    const auto step = v.numbers.find("step_percent");
    if (!(steps_.lumen < 0) || (step != v.numbers.end() && step->second > 0)) return false;
    for (const WireTrace& wire : section_.wires) {
      const bool there = wire.state == WireState::kWire || wire.state == WireState::kExtra;
      if (there && Distance(wire.centroid, v.centroid) < 0.5 * diameter) return false;
    }
    for (const WireTrace& wire : section_.wires) {
      const double away = Distance(wire.centroid, v.centroid);
      if (wire.state != WireState::kPulledOut || away > 0.5 * diameter) continue;
      v.numbers["to_wire_um"] = away;
      Name(v, VoidClass::kPulledOutWire,
           fmt::format("{} expects a wire {:.0f} um from its middle", wire.layer, away));
      return true;
    }
    const double out = Distance(v.centroid, origin_);
    for (const WireLayerDesign& layer : plane_.wires) {
      const double thick = layer.round_um.value_or(layer.flat_um ? layer.flat_um->first : 0);
      const double wide = layer.round_um.value_or(layer.flat_um ? layer.flat_um->second : 0);
      if (!(thick > 0) || (!section_.wire_layers.empty() && !Counted(layer.name))) continue;
      const double equal = std::sqrt(thick * wide);
      if (diameter < kHoleLeast * equal || diameter > kHoleMost * equal) continue;
      for (const double on : layer.on_diameters_um) {
        const double off = std::abs(out - 0.5 * on);
        if (off > 0.5 * thick + 0.5 * kRingOff * on) continue;
        v.numbers["off_ring_um"] = off;
        v.numbers["wire_um"] = equal;
        Name(
            v, VoidClass::kPulledOutWire,
            fmt::format("{:.0f} um across, {:.0f} um off the ring of {}, whose wires are {:.0f} um",
                        diameter, off, layer.name, equal));
        return true;
      }
    }
    return false;
  }

  // Between the adhesive's own inner edge and that of the ring around it.
  bool InAdhesive(const Void& v) const {
    if (!plane_.bond) return false;
    for (std::size_t k = 0; k < section_.rings.size(); ++k) {
      const RingTrace& ring = section_.rings[k];
      if (ring.name != plane_.bond->adhesive) continue;
      const TracedContour* outer =
          k > 0 ? &section_.rings[k - 1].inner : (section_.outline ? &*section_.outline : nullptr);
      return outer != nullptr && !outer->vertices.empty() && !ring.inner.vertices.empty() &&
             Holds(*outer, v.centroid) && !Holds(ring.inner, v.centroid);
    }
    return false;
  }

  // Broken ground may be lighter than polished one.
  void LiesAtAnEdge(Void& v, const ContourUm& contour) const {
    const auto look = [&](const TracedContour& edge, const std::string& name) {
      const double away = GapTo(contour, edge);
      if (!(away < kOpens_px * pitch_)) return false;
      v.numbers["to_edge_um"] = away;
      v.of = name;
      Name(v, VoidClass::kChip, "it lies at the edge of " + name);
      return true;
    };
    if (section_.outline && look(*section_.outline, "outline")) return;
    for (const LumenTrace& lumen : section_.lumens) {
      if (look(lumen.bore, lumen.Key())) return;
    }
  }

  void OpensToAnEdge(Void& v, const ContourUm& contour) const {
    const double blur = v.contour.edge_blur_px;
    const double opens = blur > 0 ? std::min(kOpens_px, kOpensBlurs * blur) : kOpens_px;
    const auto look = [&](const TracedContour& edge, const std::string& name) {
      const double away = GapTo(contour, edge);
      if (!(away < opens * pitch_)) return false;
      v.numbers["to_edge_um"] = away;
      if (v.kind == VoidClass::kVoid && WidensInside(contour, edge, kRound_px * pitch_)) {
        Name(v, VoidClass::kVoid, fmt::format("it widens away from the edge of {}", name));
        return true;
      }
      Name(v, VoidClass::kDoubtful,
           fmt::format(
               "it opens to the edge of {}: a void, a chip of the cut or a gap of the potting",
               name));
      return true;
    };
    if (section_.outline && look(*section_.outline, "the outline")) return;
    for (const LumenTrace& lumen : section_.lumens) {
      if (look(lumen.bore, lumen.Key())) return;
    }
  }

  const SectionDesign& plane_;
  double pitch_;
  PointUm origin_;
  FaceSteps steps_;
  const Section& section_;
};

// Two wires that touch are traced as one place, which no single wire accounts for.
void DropWires(Section& section) {
  std::erase_if(section.voids, [&](const Void& v) {
    if (v.kind == VoidClass::kPulledOutWire || v.contour.vertices.size() < 3) return false;
    const ContourUm place = v.contour.Points();
    const double reach = std::sqrt(v.area_um2);
    double covered = 0;
    for (const WireTrace& wire : section.wires) {
      if (wire.state != WireState::kWire && wire.state != WireState::kExtra) continue;
      const ContourUm metal = wire.contour.Points();
      if (metal.size() < 3 || Distance(wire.centroid, v.centroid) > 4 * reach + wire.long_um)
        continue;
      covered += IntersectionArea(std::span<const PointUm>(place), std::span<const PointUm>(metal));
    }
    return covered > kOfWires * v.area_um2;
  });
  int no = 0;
  for (Void& v : section.voids) v.no = ++no;
}

}  // namespace

void ClassifyByPlace(const SectionDesign& plane, double pitch_um, PointUm origin,
                     const FaceSteps& steps, Section& section) {
  if (plane.kind == "lengthwise") return;
  if (!section.wires.empty()) DropWires(section);
  const Classifier classifier(plane, pitch_um, origin, steps, section);
  for (Void& v : section.voids) classifier.Classify(v);
}

void DoubtBesideDebris(double pitch_um, Section& section) {
  for (LumenTrace& lumen : section.lumens) {
    const ContourUm bore = lumen.bore.Points();
    if (bore.size() < 3) continue;
    const std::span<const PointUm> edge(bore);
    double hidden = 0;
    for (const Void& v : section.voids) {
      if (v.kind != VoidClass::kDebris && v.kind != VoidClass::kChip) continue;
      const ContourUm place = v.contour.Points();
      if (place.size() < 3 || Contains(edge, v.centroid)) continue;
      if (GapTo(place, lumen.bore) < kBeside_px * pitch_um) hidden += v.area_um2;
    }
    if (hidden < kHidesShare * Area(edge)) continue;
    // The bore may hold all of it or nothing: an even spread, to that shift of its edge either way.
    const double shift_um = hidden / Perimeter(edge) / std::sqrt(3.0);
    lumen.bore.u_common_um = std::hypot(lumen.bore.u_common_um, shift_um);
    lumen.bore.doubt += fmt::format(
        "{}debris lies against its edge and may hide a part of it ({:.0f} % of its area)",
        lumen.bore.doubt.empty() ? "" : "; ", 100 * hidden / Area(edge));
  }
}

}  // namespace cutface
