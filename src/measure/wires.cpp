#include "measure/wires.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "cutface/quantity.h"
#include "cutface/stats.h"
#include "measure/interval.h"

namespace cutface::measure {
namespace {

constexpr double kDegPerRad = 180 / std::numbers::pi;
constexpr double kLeastAngleDeg = 30;    // below, the stretch of a wire does not tell its angle
constexpr double kLeastWire_px = 12;     // smaller wires do not tell their own stretch
constexpr double kBridged_px = 1.0;      // standard uncertainty of an edge that a wire hides
constexpr double kMostOfLayer = 0.75;    // of the drawn wires: what is usual of a layer is seen
constexpr std::size_t kLeastCircle = 5;  // wires for a circle through them

struct Value {
  double value = 0, u = 0;
  std::vector<PointUm> at;
  std::vector<BudgetLine> budget;
  std::string reason;   // "" or why there is none
  std::string doubt;    // "" or why its grade is doubtful
  bool applies = true;  // false: not applicable
  void Add(const char* source, double part) {
    if (!(part > 0)) return;
    budget.push_back({source, part});
    u = std::hypot(u, part);
  }
};
Value None(std::string reason, bool applies = true) {
  Value v;
  v.reason = std::move(reason);
  v.applies = applies;
  return v;
}

// One layer with all that its words ask for.
struct LayerView {
  const Section& section;
  const WireLayerDesign& design;
  const WireLayerTrace& trace;
  const Scale& scale;
  std::vector<const WireTrace*> wires;  // metal that is there

  double ScaleU() const {
    return std::hypot(scale.u_relative_x(), scale.u_relative_y()) / std::numbers::sqrt2;
  }
  std::string NotCounted() const {
    if (trace.counted) return "";
    return trace.doubt.empty() ? "its wires were not all told" : trace.doubt;
  }
};

Value Count(const LayerView& layer) {
  if (std::string why = layer.NotCounted(); !why.empty()) return None(why);
  Value v;
  v.value = static_cast<double>(layer.wires.size());
  for (const WireTrace* wire : layer.wires) v.at.push_back(wire->centroid);
  return v;
}

Value SpacingMax(const LayerView& layer) {
  if (std::string why = layer.NotCounted(); !why.empty()) return None(why);
  if (!layer.trace.families_told) return None(layer.trace.doubt);
  Value v;
  for (int family = 0; family <= 2; ++family) {
    std::vector<std::pair<double, const WireTrace*>> around;
    for (const WireTrace* wire : layer.wires) {
      if (wire->family != family || wire->state != WireState::kWire) continue;
      const PointUm d = wire->centroid - layer.trace.centre;
      around.emplace_back(std::atan2(d.y, d.x), wire);
    }
    if (around.size() < 2) continue;
    std::sort(around.begin(), around.end());
    for (std::size_t i = 0; i < around.size(); ++i) {
      const auto& [a, first] = around[i];
      const auto& [b, second] = around[(i + 1) % around.size()];
      const double gap = kDegPerRad * (b - a + (i + 1 == around.size() ? 2 * std::numbers::pi : 0));
      if (gap <= v.value) continue;
      v.value = gap;
      v.at = {first->centroid, second->centroid};
      const double radius = std::max(1.0, Distance(first->centroid, layer.trace.centre));
      v.u = kDegPerRad * std::hypot(first->u_centroid_um, second->u_centroid_um) / radius;
    }
  }
  if (v.at.empty()) return None("fewer than two wires of a family");
  const double u = std::exchange(v.u, 0);
  v.Add("places of wires", u);
  return v;
}

struct Cover {
  double least = 1e300;
  Segment<FrameUm> place;
  const WireTrace* wire = nullptr;
  const TracedContour* edge = nullptr;
  std::size_t vertex = 0;
};

void Nearer(const LayerView& layer, const TracedContour& edge, Cover& cover) {
  if (edge.vertices.size() < 3) return;
  const ContourUm contour = edge.Points();
  for (const WireTrace* wire : layer.wires) {
    const ContourUm metal = wire->contour.Points();
    if (metal.size() < 3) continue;
    if (LeastDistance(wire->centroid, contour).distance - wire->long_um > cover.least) continue;
    const auto nearest = LeastDistance(metal, contour);
    if (nearest.distance >= cover.least) continue;
    cover = {
        nearest.distance, {nearest.on_first, nearest.on_second}, wire, &edge, nearest.edge_second};
  }
}

Value CoverValue(const LayerView& layer, const Cover& cover, bool exposed) {
  Value v;
  v.value = exposed ? 0 : cover.least;
  v.at = {cover.place.a, cover.place.b};
  const std::vector<ContourVertex>& vertices = cover.edge->vertices;
  const ContourVertex& a = vertices[cover.vertex];
  const ContourVertex& b = vertices[(cover.vertex + 1) % vertices.size()];
  for (const ContourVertex* end : {&a, &b}) {
    if (end->state == VertexState::kCutOff)
      return None("the least place lies where the edge is cut off by the frame");
  }
  v.Add("place of the wire", cover.wire->u_centroid_um);
  v.Add("halo", layer.trace.u_halo_um);
  v.Add("edge model", cover.edge->u_common_um);
  v.Add("edge waviness", std::hypot(cover.edge->u_arc_um, a.doubt_um));
  v.Add("noise", a.sigma_um);
  if (a.state == VertexState::kBridged || b.state == VertexState::kBridged)
    v.Add("edge hidden by the wire", kBridged_px * layer.scale.mean_pitch_um());
  v.Add("scale", v.value * layer.ScaleU());
  if (!cover.edge->doubt.empty()) v.doubt = "the edge is doubtful: " + cover.edge->doubt;
  return v;
}

// A doubtful outline that leaves a wire wholly outside is not the part's edge there.
bool LeavesWiresOut(const TracedContour& outline, const LayerView& layer) {
  if (outline.doubt.empty() || outline.vertices.size() < 3) return false;
  const ContourUm points = outline.Points();
  return std::any_of(layer.wires.begin(), layer.wires.end(), [&](const WireTrace* wire) {
    return !Contains(points, wire->centroid) &&
           LeastDistance(wire->centroid, points).distance > 0.5 * wire->long_um;
  });
}

Value OuterCover(const LayerView& layer) {
  if (std::string why = layer.NotCounted(); !why.empty()) return None(why);
  if (!layer.section.outline) return None("the outline was not found");
  const TracedContour& outline = *layer.section.outline;
  if (LeavesWiresOut(outline, layer))
    return None("the outline is doubtful and leaves wires wholly outside: " + outline.doubt);
  Cover cover;
  Nearer(layer, outline, cover);
  if (cover.wire == nullptr) return None("no wire was found");
  const bool exposed =
      std::any_of(layer.wires.begin(), layer.wires.end(),
                  [](const WireTrace* wire) { return wire->exposed_to == "outside"; });
  return CoverValue(layer, cover, exposed);
}

Value InnerCover(const LayerView& layer) {
  if (std::string why = layer.NotCounted(); !why.empty()) return None(why);
  if (layer.section.lumens.empty()) return None("the section has no lumens", false);
  Cover cover;
  for (const LumenTrace& lumen : layer.section.lumens) {
    if (lumen.bore.vertices.size() < 3) {
      return None(fmt::format("{} was not found", lumen.Key()));
    }
    Nearer(layer, lumen.bore, cover);
  }
  if (cover.wire == nullptr) return None("no wire was found");
  const bool exposed =
      std::any_of(layer.wires.begin(), layer.wires.end(), [](const WireTrace* wire) {
        return !wire->exposed_to.empty() && wire->exposed_to != "outside";
      });
  if (!cover.edge->doubt.empty()) return None("the bore is doubtful: " + cover.edge->doubt);
  return CoverValue(layer, cover, exposed);
}

Value LayerDiameter(const LayerView& layer) {
  if (layer.wires.size() < kLeastCircle ||
      2 * layer.wires.size() < static_cast<std::size_t>(std::max(0, layer.trace.expected)))
    return None(layer.trace.doubt.empty() ? "too few wires for a circle" : layer.trace.doubt);
  ContourUm at;
  for (const WireTrace* wire : layer.wires) {
    if (wire->state == WireState::kWire && wire->exposed_to.empty()) at.push_back(wire->centroid);
  }
  if (at.size() < kLeastCircle) return None("too few wires for a circle");
  const auto circle = FitCircle(at);
  if (!circle) return None("no circle fits the wires");
  std::vector<double> off;
  for (PointUm p : at) off.push_back(Distance(p, circle->centre) - circle->radius);
  Value v;
  v.value = 2 * circle->radius;
  v.at = {circle->centre};
  const double n = static_cast<double>(at.size());
  double square = 0;
  for (double d : off) square += d * d;
  v.Add("scatter of wires", 2 * std::sqrt(square / std::max(1.0, n - 3) / n));
  v.Add("scale", v.value * layer.ScaleU());
  return v;
}

Value BraidAngle(const LayerView& layer) {
  if (!layer.design.carriers) return None("the layer is no braid", false);
  const WireLayerTrace& t = layer.trace;
  if (t.long_um <= 0) return None(t.doubt.empty() ? "no wire's axes were told" : t.doubt);
  // The cut's length is the middle one of many wires': one that may be a hole or that the frame
  // cuts does not change it.
  const double most = kMostOfLayer * std::max(1, t.expected);
  if (!t.counted && static_cast<double>(layer.wires.size()) < most) return None(layer.NotCounted());
  const double pitch = layer.scale.mean_pitch_um();
  double across = t.short_um;
  if (layer.design.flat_um) {
    across = layer.design.flat_um->second;
  } else if (across < kLeastWire_px * pitch) {
    return None(
        fmt::format("wires of {:.1f} px are too small to tell their stretch; {:.0f} px are "
                    "needed",
                    across / pitch, kLeastWire_px));
  }
  const double ratio = std::min(1.0, across / t.long_um);
  const double angle = std::acos(ratio);
  Value v;
  v.value = angle * kDegPerRad;
  const double slope =
      kDegPerRad * ratio / std::max(1e-3, std::sin(angle));  // degrees per relative change
  v.Add("length of the cut", slope * t.u_long_um / t.long_um);
  // The drawn size enters twice: as the wire's and through the halo.
  v.Add("size of the wire", slope * (1 - ratio) * 2 * t.u_halo_um / std::max(1e-9, across));
  if (v.value + v.u < kLeastAngleDeg)
    return None(
        fmt::format("below {:.0f} degrees the stretch of wires does not tell it", kLeastAngleDeg));
  return v;
}

Value Picks(const LayerView& layer) {
  const Value angle = BraidAngle(layer), circle = LayerDiameter(layer);
  for (const Value* v : {&angle, &circle}) {
    if (!v->reason.empty()) return *v;
  }
  const double rad = angle.value / kDegPerRad;
  Value v;
  v.value = *layer.design.carriers * std::tan(rad) / (2 * std::numbers::pi * circle.value / 1000);
  v.Add("braid angle", v.value * (angle.u / kDegPerRad) / (std::sin(rad) * std::cos(rad)));
  v.Add("layer diameter", v.value * circle.u / circle.value);
  return v;
}

Value Coverage(const LayerView& layer) {
  const Value angle = BraidAngle(layer);
  Value picks = Picks(layer);
  if (!picks.reason.empty()) return picks;
  const double width =
      (layer.design.flat_um ? layer.design.flat_um->second : layer.trace.short_um) / 1000;
  const double ends = layer.design.ends.value_or(1);
  const double f = ends * picks.value * width / std::sin(angle.value / kDegPerRad);
  Value v;
  v.value = 100 * (2 * f - f * f);
  const double slope = 100 * (2 - 2 * f);
  v.Add("picks", std::abs(slope * f * picks.u / picks.value));
  v.Add("size of the wire", std::abs(slope * f * 2 * layer.trace.u_halo_um / (1000 * width)));
  return v;
}

struct WireWord {
  std::string_view word;
  Value (*value)(const LayerView&);
};
constexpr std::array kWireWords = {
    WireWord{"count", Count},
    WireWord{"spacing_max", SpacingMax},
    WireWord{"outer_cover", OuterCover},
    WireWord{"inner_cover", InnerCover},
    WireWord{"layer_diameter", LayerDiameter},
    WireWord{"braid_angle", BraidAngle},
    WireWord{"picks_per_mm", Picks},
    WireWord{"coverage", Coverage},
};

void Doubt(Measurement& m, const std::string& why) {
  if (why.empty()) return;
  m.grade = "doubtful";
  m.grade_reason += (m.grade_reason.empty() ? "" : "; ") + why;
}

Measurement Stated(const LayerView& layer, const WireWord& word, const MeasureOptions& options) {
  const QuantityRow* row = FindQuantity(word.word, QuantityOf::kWireLayer);
  CF_CHECK(row != nullptr);
  Measurement m;
  m.of = {layer.design.name};
  m.quantity = word.word;
  m.unit = row->unit;
  Value v = word.value(layer);
  if (!v.reason.empty()) {
    m.state = v.applies ? Measurement::State::kNotMeasured : Measurement::State::kNotApplicable;
    m.reason = v.reason;
    return m;
  }
  m.raw = v.value;
  m.at = std::move(v.at);
  m.value = m.lo = m.hi = m.raw;
  if (row->kind != QuantityKind::kCount && options.draws > 0) {
    IntervalRules rules;
    rules.row = row;
    rules.floor = row->unit == "um" ? options.u_floor_um : 0.0;
    if (row->unit == "um")
      rules.over_reading = (1 - std::cos(layer.section.placement.oblique_rad)) * v.value;
    SetInterval(m, {0, v.u, 0}, rules);
    m.budget = std::move(v.budget);
    if (m.u > v.u && rules.floor > 0) m.budget.push_back({"floor", m.u});
  }
  for (const std::string& why : {layer.trace.doubt, v.doubt}) Doubt(m, why);
  const PictureQuality& picture = layer.section.picture;
  if (picture.grade != "clean") {
    for (const std::string& reason : picture.reasons) Doubt(m, "picture: " + reason);
    m.grade = picture.grade;
  }
  return m;
}

}  // namespace

void MeasureWires(const Section& section, const SectionDesign* plane, const Scale& scale,
                  const MeasureOptions& options, std::vector<Measurement>& out) {
  if (plane == nullptr) return;
  for (const WireLayerDesign& design : plane->wires) {
    WireLayerTrace unknown;
    unknown.name = design.name;
    unknown.counted = unknown.families_told = false;
    unknown.doubt = "wires of this section were not looked for";
    const WireLayerTrace* trace = &unknown;
    for (const WireLayerTrace& t : section.wire_layers) {
      if (t.name == design.name) trace = &t;
    }
    LayerView layer{section, design, *trace, scale, {}};
    for (const WireTrace& wire : section.wires) {
      const bool metal = wire.state == WireState::kWire || wire.state == WireState::kExtra;
      if (wire.layer == design.name && metal) layer.wires.push_back(&wire);
    }
    for (const WireWord& word : kWireWords) out.push_back(Stated(layer, word, options));
  }
}

std::vector<std::string_view> WireWords() {
  std::vector<std::string_view> words;
  for (const WireWord& word : kWireWords) words.push_back(word.word);
  return words;
}

}  // namespace cutface::measure
