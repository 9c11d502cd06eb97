// What is built in and what is amiss in the body: a stroke for each class.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/picture.h"
#include "picture/build.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;

// Wires are many and small: their strokes are thin, and each further layer's a little wider.
constexpr double kWireWeight = 0.55, kLayerStep = 0.35;
constexpr int kNamedTurn = 5;  // lengthwise: every fifth has its number
constexpr double kLeastMark_px = 3;

bool Seen(VertexState state) {
  return state == VertexState::kMeasured || state == VertexState::kEdited;
}

void Unseen(Stroke& stroke) {
  stroke.style = LineStyle::kDotted;
  stroke.key = "bridged, not seen";
}

ContourUm RoundAbout(PointUm centre, double radius_um) {
  ContourUm points;
  for (int i = 0; i < 72; ++i) {
    const double t = 2 * std::numbers::pi * i / 72;
    points.push_back(centre + radius_um * PointUm{std::cos(t), std::sin(t)});
  }
  return points;
}

int LayerNo(const Section& section, const std::string& name) {
  for (std::size_t i = 0; i < section.wire_layers.size(); ++i) {
    if (section.wire_layers[i].name == name) return static_cast<int>(i);
  }
  return 0;
}

std::string WireFeature(const WireTrace& wire) {
  return wire.no > 0 ? fmt::format("{}/{}", wire.layer, wire.no) : wire.layer;
}

// Of its size, or of the layer's where nothing is there.
double RadiusOf(const Section& section, const WireTrace& wire, double pitch_um) {
  double size = std::max(wire.long_um, wire.short_um);
  for (const WireLayerTrace& layer : section.wire_layers) {
    if (size <= 0 && layer.name == wire.layer) size = std::max(layer.long_um, layer.short_um);
  }
  for (const WireTrace& other : section.wires) {
    if (size <= 0 && other.layer == wire.layer) size = std::max(other.long_um, other.short_um);
  }
  return std::max(0.5 * size, kLeastMark_px * pitch_um);
}

// Several layers and two hands are told apart by style and width, never by colour alone.
Stroke WireStroke(const Section& section, const WireTrace& wire) {
  const int layer = LayerNo(section, wire.layer);
  Stroke stroke{Ink::kWire, LineStyle::kSolid, kWireWeight + kLayerStep * layer, ""};
  if (wire.family == 2) stroke.style = LineStyle::kShortDash;
  stroke.key = section.wire_layers.size() > 1 ? wire.layer : "wire";
  if (wire.family > 0) stroke.key += wire.family == 2 ? ", second hand" : ", first hand";
  return stroke;
}

// A wire that is not there: its place as a circle, crossed.
void AddEmptySlot(DisplayList& list, const SectionResult& result, const WireTrace& wire) {
  const double r = RadiusOf(result.section, wire, result.mean_pitch_um);
  const std::string feature = WireFeature(wire);
  const Stroke stroke{Ink::kFinding, LineStyle::kSolid, 0.9, "empty slot"};
  AddItem(list, Kind::kContour, stroke, RoundAbout(wire.centroid, r), feature);
  const Stroke cross{Ink::kFinding, LineStyle::kSolid, 0.7, ""};
  const double d = 1.25 * r * std::numbers::sqrt2 / 2;
  for (const PointUm way : {PointUm{d, d}, PointUm{d, -d}})
    AddItem(list, Kind::kPath, cross, {wire.centroid - way, wire.centroid + way}, feature);
}

struct VoidLook {
  VoidClass kind;
  Ink ink;
  LineStyle style;
  double weight;
};
constexpr VoidLook kVoidLooks[] = {
    {VoidClass::kVoid, Ink::kVoid, LineStyle::kDotted, 1.0},
    {VoidClass::kBondGap, Ink::kVoid, LineStyle::kDashDot, 1.0},
    {VoidClass::kLinerGap, Ink::kVoid, LineStyle::kDashDotDot, 0.8},
    {VoidClass::kDoubtful, Ink::kVoid, LineStyle::kShortDash, 0.7},
    {VoidClass::kChip, Ink::kVoid, LineStyle::kDashed, 0.7},
    {VoidClass::kPulledOutWire, Ink::kWire, LineStyle::kDotted, 0.9},
    {VoidClass::kDebris, Ink::kNeutral, LineStyle::kShortDash, 0.7},
    {VoidClass::kSmear, Ink::kRing, LineStyle::kShortDash, 1.0},
    {VoidClass::kPottingGap, Ink::kNeutral, LineStyle::kDashDot, 0.7},
    {VoidClass::kDelamination, Ink::kVoid, LineStyle::kSolid, 0.7},
    {VoidClass::kOutsideBubble, Ink::kNeutral, LineStyle::kDotted, 0.7},
};

Stroke VoidStroke(VoidClass kind) {
  std::string word(VoidClassName(kind));
  if (kind == VoidClass::kDoubtful) word += " place";
  for (const VoidLook& look : kVoidLooks) {
    if (look.kind == kind) return {look.ink, look.style, look.weight, std::move(word)};
  }
  return {Ink::kVoid, LineStyle::kSolid, 0.7, std::move(word)};
}

void AddName(DisplayList& list, Ink ink, PointUm at, const std::string& text,
             const std::string& feature, int rank) {
  DisplayItem item;
  item.kind = Kind::kText;
  item.ink = ink;
  item.seat = DisplayItem::Seat::kBeside;
  item.points = {at};
  item.text = text;
  item.feature = feature;
  item.rank = rank;
  list.items.push_back(std::move(item));
}

}  // namespace

void AddItem(DisplayList& list, Kind kind, const Stroke& stroke, ContourUm points,
             const std::string& feature) {
  DisplayItem item;
  item.kind = kind;
  item.ink = stroke.ink;
  item.style = stroke.style;
  item.weight = stroke.weight;
  item.key = stroke.key;
  item.points = std::move(points);
  item.feature = feature;
  list.items.push_back(std::move(item));
}

// A contour that was measured all round is one closed line. Otherwise bridged stretches are dotted
// and what the frame cut off is not drawn: no line may suggest an edge that nobody saw.
void AddTraced(DisplayList& list, const TracedContour& contour, const Stroke& stroke,
               const std::string& feature) {
  const std::vector<ContourVertex>& v = contour.vertices;
  if (v.size() < 3) return;
  const auto same = [&](std::size_t i, std::size_t j) {
    return Seen(v[i].state) == Seen(v[j].state) &&
           (v[i].state == VertexState::kCutOff) == (v[j].state == VertexState::kCutOff);
  };
  std::size_t start = v.size();
  for (std::size_t i = 0; i < v.size() && start == v.size(); ++i) {
    if (!same(i, (i + v.size() - 1) % v.size())) start = i;
  }
  if (start == v.size()) {
    if (v.front().state == VertexState::kCutOff) return;
    Stroke all = stroke;
    if (!Seen(v.front().state)) Unseen(all);
    AddItem(list, Kind::kContour, all, contour.Points(), feature);
    return;
  }
  for (std::size_t done = 0; done < v.size();) {
    const std::size_t first = (start + done) % v.size();
    ContourUm run;
    std::size_t length = 0;
    while (done + length < v.size() && same(first, (first + length) % v.size())) {
      run.push_back(v[(first + length) % v.size()].at);
      ++length;
    }
    if (v[first].state != VertexState::kCutOff) {
      const std::size_t next = (first + length) % v.size();
      if (v[next].state != VertexState::kCutOff) run.push_back(v[next].at);  // close the seam
      Stroke part = stroke;
      if (!Seen(v[first].state)) Unseen(part);
      AddItem(list, Kind::kPath, part, std::move(run), feature);
    }
    done += length;
  }
}

void AddLiners(const SectionResult& result, DisplayList& list) {
  for (const LinerTrace& liner : result.section.liners) {
    const bool doubtful = !liner.outer.doubt.empty();
    AddTraced(list, liner.outer,
              {Ink::kLiner, LineStyle::kDashed, 0.6, doubtful ? "liner, doubtful" : "liner"},
              liner.lumen + "/liner");
  }
}

void AddWires(const SectionResult& result, DisplayList& list) {
  const Section& section = result.section;
  for (const WireTrace& wire : section.wires) {
    const std::string feature = WireFeature(wire);
    if (wire.state == WireState::kMissing || wire.state == WireState::kPulledOut) {
      AddEmptySlot(list, result, wire);
      continue;
    }
    Stroke stroke = WireStroke(section, wire);
    const bool amiss =
        wire.state == WireState::kExtra || wire.displaced || !wire.exposed_to.empty();
    if (amiss) stroke = {Ink::kFinding, LineStyle::kDashDot, 0.8, "wire with a finding"};
    if (wire.contour.vertices.size() >= 3) {
      AddTraced(list, wire.contour, stroke, feature);
    } else {
      AddItem(list, Kind::kContour, stroke,
              RoundAbout(wire.centroid, RadiusOf(section, wire, result.mean_pitch_um)), feature);
    }
  }
}

void AddFibres(const SectionResult& result, DisplayList& list) {
  for (const FibreTrace& fibre : result.section.fibres) {
    AddItem(list, Kind::kContour, {Ink::kWire, LineStyle::kDashDotDot, 0.8, "fibres"},
            RoundAbout(fibre.centre, fibre.radius_um), fibre.name);
    for (const PointUm at : fibre.at) {
      AddItem(list, Kind::kContour, {Ink::kWire, LineStyle::kSolid, 0.4, ""},
              RoundAbout(at, 1.0 * result.mean_pitch_um), fibre.name);
    }
  }
}

void AddVoids(const SectionResult& result, DisplayList& list) {
  for (const Void& v : result.section.voids) {
    const std::string feature = "void " + std::to_string(v.no);
    AddTraced(list, v.contour, VoidStroke(v.kind), feature);
    // Long ones and those that do not count show by themselves; corners would hide their ends.
    if ((v.kind != VoidClass::kVoid && v.kind != VoidClass::kDoubtful) || v.of == "outside")
      continue;
    DisplayItem dot;
    dot.kind = Kind::kDot;
    dot.ink = Ink::kVoid;
    dot.points = {v.centroid};
    dot.radius_um = std::sqrt(v.area_um2 / std::numbers::pi);
    dot.feature = feature;
    list.items.push_back(std::move(dot));
  }
}

void AddLayerNames(const SectionResult& result, DisplayList& list) {
  constexpr int kLast = 60;  // after values and findings
  const Section& section = result.section;
  for (const RingTrace& ring : section.rings) {
    const auto& v = ring.inner.vertices;
    if (v.size() >= 3) AddName(list, Ink::kRing, v[v.size() / 8].at, ring.name, ring.name, kLast);
  }
  for (const WireTrace& wire : section.wires) {
    if (wire.no <= 0 || wire.state == WireState::kMissing) continue;
    const WireLayerTrace* layer = nullptr;
    for (const WireLayerTrace& l : section.wire_layers) {
      if (l.name == wire.layer) layer = &l;
    }
    if (layer == nullptr) continue;
    const bool turn = layer->turns > 0;
    const int half = layer->expected / 2;
    const bool first = wire.no == 1 || (wire.family == 2 && wire.no == half + 1) ||
                       (turn && wire.no == layer->turns + 1);
    const bool named_turn = turn && wire.no % kNamedTurn == 0;
    if (!first && !named_turn) continue;
    AddName(list, Ink::kWire, wire.centroid, first ? WireFeature(wire) : std::to_string(wire.no),
            WireFeature(wire), first ? kLast + 1 : kLast + 2);
  }
  for (const FibreTrace& fibre : section.fibres) {
    AddName(list, Ink::kWire, fibre.centre,
            fibre.filaments > 0 ? fmt::format("{}\n{} filaments", fibre.name, fibre.filaments)
                                : fmt::format("{}\nfilaments not counted", fibre.name),
            fibre.name, kLast + 1);
  }
}

}  // namespace cutface
