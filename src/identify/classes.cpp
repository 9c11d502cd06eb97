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
constexpr double kOpens_px = 2.5;   // from a free edge: nothing parts the place from it
constexpr double kBeside_px = 3.0;  // from a liner

double Nearest(const ContourUm& a, const TracedContour& traced) {
  const ContourUm b = traced.Points();
  if (a.size() < 3 || b.size() < 3) return std::numeric_limits<double>::infinity();
  return LeastDistance(std::span<const PointUm>(a), std::span<const PointUm>(b)).distance;
}

bool Holds(const TracedContour& traced, PointUm p) {
  const ContourUm contour = traced.Points();
  return contour.size() >= 3 && Contains(std::span<const PointUm>(contour), p);
}

class Classifier {
 public:
  Classifier(const SectionDesign& plane, double pitch_um, PointUm origin, double lumen_step,
             const Section& section)
      : plane_(plane),
        pitch_(pitch_um),
        origin_(origin),
        lumen_step_(lumen_step),
        section_(section) {}

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
    if (!dark_hole) return;
    if (IsPulledOut(v, diameter)) return;
    if (v.kind == VoidClass::kVoid && InAdhesive(v)) {
      v.numbers["by_place"] = 1;
      return Name(v, VoidClass::kBondGap, "it lies in the adhesive");
    }
    for (const LinerTrace& liner : section_.liners) {
      const double away = Nearest(contour, liner.outer);
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

  // The wires that are traced know best; without them the drawing's ring and wire.
  bool IsPulledOut(Void& v, double diameter) const {
    const auto step = v.numbers.find("step_percent");
    if (!(lumen_step_ < 0) || (step != v.numbers.end() && step->second > 0)) return false;
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
      if (!(thick > 0)) continue;
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

  void OpensToAnEdge(Void& v, const ContourUm& contour) const {
    const auto look = [&](const TracedContour& edge, const std::string& name) {
      const double away = Nearest(contour, edge);
      if (!(away < kOpens_px * pitch_)) return false;
      v.numbers["to_edge_um"] = away;
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
  double lumen_step_;
  const Section& section_;
};

}  // namespace

void ClassifyByPlace(const SectionDesign& plane, double pitch_um, PointUm origin, double lumen_step,
                     Section& section) {
  if (plane.kind == "lengthwise") return;
  const Classifier classifier(plane, pitch_um, origin, lumen_step, section);
  for (Void& v : section.voids) classifier.Classify(v);
}

}  // namespace cutface
