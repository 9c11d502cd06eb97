// The wires of a section: two counter-running combs of a braid, one comb of other wires, rows of
// turns in a lengthwise cut, and what went wrong with single wires.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "phantom/as_built.h"
#include "phantom/inserts.h"

namespace cutface::phantom {
namespace {

constexpr int kWireVertices = 240;

PointPx Polar(double r, double angle) { return {r * std::cos(angle), r * std::sin(angle)}; }

struct WireSize {
  double radial = 0, tangential = 0;  // full sizes of the cut
  bool flat = false;
};

// A wire at angle a to the axis meets a cut across the axis at a, one along the axis at 90 - a.
WireSize SizeOf(const WireLayerDesign& layer, bool lengthwise, double pitch_um) {
  const double a = layer.braid_angle_deg.value_or(lengthwise ? 90 : 0) * kPi / 180;
  const double stretch = 1 / (lengthwise ? std::max(0.2, std::sin(a)) : std::cos(a));
  if (layer.flat_um) {
    return {layer.flat_um->first / pitch_um, layer.flat_um->second * stretch / pitch_um, true};
  }
  const double d = layer.round_um.value_or(50) / pitch_um;
  return {d, d * stretch, false};
}

// A wire at `radius` and `angle` about `centre`: an ellipse tangential to the ring, or a ribbon
// bent to it with rounded ends.
ContourPx WireAt(PointPx centre, double radius, double angle, const WireSize& size) {
  ContourPx out;
  const PointPx radial = Polar(1, angle), tangent = Polar(1, angle + kPi / 2);
  if (!size.flat) {
    for (int i = 0; i < kWireVertices; ++i) {
      const double t = 2 * kPi * i / kWireVertices;
      out.push_back(centre + (radius + 0.5 * size.radial * std::cos(t)) * radial +
                    (0.5 * size.tangential * std::sin(t)) * tangent);
    }
    return out;
  }
  const double half = 0.5 * size.radial;
  const double reach = std::max(0.0, 0.5 * size.tangential - half) / radius;
  constexpr int kSide = 60;
  for (int i = 0; i <= kSide; ++i) {
    out.push_back(centre + Polar(radius + half, angle - reach + 2 * reach * i / kSide));
  }
  for (int i = 1; i < kSide; ++i) {
    const double t = kPi * i / kSide;
    out.push_back(centre + Polar(radius, angle + reach) +
                  half * (std::cos(t) * Polar(1, angle + reach) +
                          std::sin(t) * Polar(1, angle + reach + kPi / 2)));
  }
  for (int i = 0; i <= kSide; ++i) {
    out.push_back(centre + Polar(radius - half, angle + reach - 2 * reach * i / kSide));
  }
  for (int i = 1; i < kSide; ++i) {
    const double t = kPi * i / kSide;
    out.push_back(centre + Polar(radius, angle - reach) -
                  half * (std::cos(t) * Polar(1, angle - reach) +
                          std::sin(t) * Polar(1, angle - reach + kPi / 2)));
  }
  return out;
}

struct Slot {
  double angle = 0, radius = 0;
  int family = 0;
};

// Angle after 12 o'clock, clockwise as drawn (y down), in [0, 2 pi).
double AfterTwelve(double angle) {
  const double a = std::fmod(angle + kPi / 2, 2 * kPi);
  return a < 0 ? a + 2 * kPi : a;
}

// Over and under: one over one below 16 carriers, else one over two. `n` counts crossings along the
// wire; the wires of both hands see the same height with opposite signs.
double Weave(double n, int carriers) {
  if (carriers < 16) return std::clamp(1.3 * std::cos(kPi * n), -1.0, 1.0);
  return std::clamp(1.6 * std::cos(0.5 * kPi * n - 0.25 * kPi), -1.0, 1.0);
}

std::vector<Slot> BraidSlots(const WireLayerDesign& layer, const WireSize& size, double radius,
                             double rise, double turn, Random& random) {
  const int carriers = *layer.carriers, ends = layer.ends.value_or(1), half = carriers / 2;
  const double step = 4 * kPi / carriers;
  const double apart = 1.06 * size.tangential / radius;  // wires abreast
  double phase[2] = {random.Uniform(0, step), random.Uniform(0, step)};
  phase[0] += turn;
  phase[1] -= turn;
  std::vector<Slot> slots;
  for (int family = 0; family < 2; ++family) {
    for (int i = 0; i < half; ++i) {
      const double n =
          family == 0 ? (phase[0] - phase[1]) / step + 2 * i : 2 * i + (phase[1] - phase[0]) / step;
      const double height = (family == 0 ? 1 : -1) * rise * Weave(n, carriers);
      for (int e = 0; e < ends; ++e) {
        const double aside = (e - 0.5 * (ends - 1)) * apart;
        slots.push_back({phase[family] + i * step + aside, radius + height, family + 1});
      }
    }
  }
  return slots;
}

// Numbers by family and clock; family 1 is the one with the first wire after 12 o'clock.
void Number(std::vector<Slot>& slots) {
  const auto before = [](const Slot& a, const Slot& b) {
    return AfterTwelve(a.angle) < AfterTwelve(b.angle);
  };
  const auto first = std::min_element(slots.begin(), slots.end(), before);
  if (first != slots.end() && first->family == 2) {
    for (Slot& slot : slots) slot.family = 3 - slot.family;
  }
  std::stable_sort(slots.begin(), slots.end(), [&](const Slot& a, const Slot& b) {
    return a.family != b.family ? a.family < b.family : before(a, b);
  });
}

void AddLengthwise(BuiltPart& part, const WireLayerDesign& layer, const WireSize& size,
                   const InsertRecipe& recipe, double pitch_um, Random& random) {
  const int count = layer.count.value_or(layer.carriers.value_or(16) * layer.ends.value_or(1));
  const double row = 0.5 * (layer.on_diameters_um.empty() ? 1000 : layer.on_diameters_um[0]);
  const auto [least, greatest] = BoundsOf(part.outline);
  const int turns = std::max(2, count / 2);
  const double pitch = (greatest.x - least.x - 2 * size.tangential) / turns;
  BuiltLayer built;
  built.name = layer.name;
  built.expected = 2 * turns;
  built.radius_px = row / pitch_um;
  built.wire_px = size.radial;
  built.pitch_px = pitch;
  built.cover = std::min(1.0, size.tangential / pitch);
  if (layer.braid_angle_deg) built.angle_rad = *layer.braid_angle_deg * kPi / 180;
  const double middle = 0.5 * (least.y + greatest.y);
  built.centre = {0.5 * (least.x + greatest.x), middle};
  int no = 0;
  for (const double side : {-1.0, 1.0}) {
    for (int i = 0; i < turns; ++i) {
      const double aside = recipe.wire_jitter_px * random.Normal();
      // The far half of a turn lies half a pitch further on.
      const double x = least.x + size.tangential + (i + (side < 0 ? 0.25 : 0.75)) * pitch + aside;
      BuiltWire wire;
      wire.layer = layer.name;
      wire.no = ++no;
      wire.flat = size.flat;
      const double y = middle + side * built.radius_px + recipe.wire_jitter_px * random.Normal();
      for (int k = 0; k < kWireVertices; ++k) {
        const double t = 2 * kPi * k / kWireVertices;
        PointPx p{0.5 * size.tangential * std::cos(t), 0.5 * size.radial * std::sin(t)};
        if (size.flat) {  // a ribbon's corners are rounded, its sides straight
          const double a = 0.5 * size.tangential, b = 0.5 * size.radial;
          const double q = 1 / std::pow(std::pow(std::abs(std::cos(t)), 6.0) +
                                            std::pow(std::abs(std::sin(t)), 6.0),
                                        1.0 / 6);
          p = {a * q * std::cos(t), b * q * std::sin(t)};
        }
        wire.contour.push_back(PointPx{x, y} + p);
      }
      part.inserts.wires.push_back(std::move(wire));
    }
  }
  part.inserts.layers.push_back(built);
}

void Shift(ContourPx& contour, PointPx by) {
  for (PointPx& p : contour) p = p + by;
}

bool Overlap(const ContourPx& a, const ContourPx& b) {
  const auto within = [](const ContourPx& outer, const ContourPx& inner) {
    return std::any_of(inner.begin(), inner.end(), [&](PointPx p) { return Inside(outer, p); });
  };
  return within(a, b) || within(b, a);
}

// Two pieces of metal cannot lie in one place: wires that were drawn into each other are pushed
// apart along the line of their middles until they touch. Draws nothing, so all else stays as it
// was.
void PartWires(std::vector<BuiltWire>& wires, std::size_t first) {
  constexpr int kRounds = 60;
  constexpr double kPush_px = 0.25;
  if (wires.size() <= first) return;
  const double span = WidthsOf(wires[first].contour).greatest;  // all of one size
  for (int round = 0; round < kRounds; ++round) {
    bool any = false;
    for (std::size_t i = first; i < wires.size(); ++i) {
      for (std::size_t j = first; j < i; ++j) {
        const PointPx apart = CentroidOf(wires[i].contour) - CentroidOf(wires[j].contour);
        if (Norm(apart) > span || !Overlap(wires[i].contour, wires[j].contour)) continue;
        any = true;
        const PointPx way = (1 / std::max(Norm(apart), 1e-6)) * apart;
        Shift(wires[i].contour, kPush_px * way);
        Shift(wires[j].contour, -kPush_px * way);
      }
    }
    if (!any) return;
  }
}

void AddLayer(BuiltPart& part, const WireLayerDesign& layer, const WireSize& size,
              const InsertRecipe& recipe, double pitch_um, Random& random) {
  double inner = 1e9, outer = 0;
  for (const double d : layer.on_diameters_um) {
    inner = std::min(inner, 0.5 * d / pitch_um);
    outer = std::max(outer, 0.5 * d / pitch_um);
  }
  if (layer.on_diameters_um.empty()) return;
  const double radius = 0.5 * (inner + outer), rise = 0.5 * (outer - inner);
  std::vector<Slot> slots;
  if (layer.carriers) {
    slots = BraidSlots(layer, size, radius, rise, recipe.comb_turn_rad, random);
  } else {
    const int n = layer.count.value_or(8);
    const double phase = random.Uniform(0, 2 * kPi / n);
    for (int i = 0; i < n; ++i) slots.push_back({phase + 2 * kPi * i / n, radius, 0});
  }
  Number(slots);
  BuiltLayer built;
  built.name = layer.name;
  built.expected = static_cast<int>(slots.size());
  built.families = layer.carriers ? 2 : 0;
  built.radius_px = radius;
  built.wire_px = size.radial;
  if (layer.braid_angle_deg) built.angle_rad = *layer.braid_angle_deg * kPi / 180;
  const double shift = recipe.ring_shift_share * radius;
  built.centre = {shift * random.Normal(), shift * random.Normal()};
  const double oval = recipe.ring_lobing * random.Normal(), turn = random.Uniform(0, 2 * kPi);
  const std::size_t before = part.inserts.wires.size();
  int no = 0;
  for (const Slot& slot : slots) {
    const double angle = slot.angle + recipe.wire_jitter_deg * kPi / 180 * random.Normal();
    const double r = slot.radius + radius * oval * std::cos(2 * slot.angle + turn) +
                     recipe.wire_jitter_px * std::clamp(random.Normal(), -2.0, 2.0);
    BuiltWire wire;
    wire.layer = layer.name;
    wire.no = ++no;
    wire.family = slot.family;
    wire.flat = size.flat;
    wire.contour = WireAt(built.centre, r, angle, size);
    part.inserts.wires.push_back(std::move(wire));
  }
  PartWires(part.inserts.wires, before);
  part.inserts.layers.push_back(built);
}

const BuiltLayer& LayerOf(const Inserts& inserts, const BuiltWire& wire) {
  for (const BuiltLayer& layer : inserts.layers) {
    if (layer.name == wire.layer) return layer;
  }
  return inserts.layers.front();
}

// Room about a place where a wire wants to go.
double Clearance(const BuiltPart& part, const ContourPx& contour, const BuiltWire* self) {
  const PointPx middle = CentroidOf(contour);
  double room = Inside(part.outline, middle) ? LeastGap(contour, part.outline).distance : 0;
  for (const BuiltLumen& lumen : part.lumens) {
    if (lumen.contour.empty()) continue;
    if (Inside(lumen.contour, middle)) return 0;
    room = std::min(room, LeastGap(contour, lumen.contour).distance);
  }
  for (const BuiltLiner& liner : part.inserts.liners) {
    if (Inside(liner.outer, middle)) return 0;
    room = std::min(room, LeastGap(contour, liner.outer).distance);
  }
  for (const BuiltWire& wire : part.inserts.wires) {
    if (&wire == self || wire.state == BuiltWireState::kMissing) continue;
    if (Distance(CentroidOf(wire.contour), middle) > 200) continue;
    room = std::min(room, LeastGap(contour, wire.contour).distance);
  }
  return room;
}

// Single wires that went wrong; each wire is used once.
class Spoiler {
 public:
  Spoiler(BuiltPart& part, const InsertRecipe& recipe, Random& random)
      : part_(part), recipe_(recipe), random_(random), used_(part.inserts.wires.size(), false) {}

  void Run() {
    for (int i = 0; i < recipe_.missing; ++i) {
      if (BuiltWire* wire = Take()) wire->state = BuiltWireState::kMissing;
    }
    for (int i = 0; i < recipe_.pulled_out; ++i) {
      if (BuiltWire* wire = Take()) wire->state = BuiltWireState::kPulledOut;
    }
    for (int i = 0; i < recipe_.displaced; ++i) Displace();
    for (int i = 0; i < recipe_.touching; ++i) Touch();
    for (int i = 0; i < recipe_.exposed_lumen; ++i) Expose(true);
    for (int i = 0; i < recipe_.exposed_outside; ++i) Expose(false);
    for (int i = 0; i < recipe_.extra; ++i) AddExtra();
  }

 private:
  BuiltWire* Take() {
    for (int tries = 0; tries < 60 && !used_.empty(); ++tries) {
      const auto i =
          static_cast<std::size_t>(random_.Integer(0, static_cast<int>(used_.size()) - 1));
      if (used_[i]) continue;
      used_[i] = true;
      return &part_.inserts.wires[i];
    }
    return nullptr;
  }

  void Displace() {
    BuiltWire* wire = Take();
    if (wire == nullptr) return;
    const BuiltLayer& layer = LayerOf(part_.inserts, *wire);
    const PointPx out = CentroidOf(wire->contour) - layer.centre;
    const PointPx along{-out.y / Norm(out), out.x / Norm(out)};
    const double span = WidthsOf(wire->contour).greatest;
    for (int tries = 0; tries < 30; ++tries) {
      ContourPx moved = wire->contour;
      const double side = random_.Chance(0.5) ? 1 : -1;
      Shift(moved, (side * span * random_.Uniform(0.9, 2.0)) * along);
      if (Clearance(part_, moved, wire) < 1) continue;
      wire->contour = std::move(moved);
      wire->displaced = true;
      return;
    }
  }

  // Beside its nearest neighbour until less than half a pixel is left.
  void Touch() {
    BuiltWire* wire = Take();
    if (wire == nullptr) return;
    BuiltWire* other = nullptr;
    double nearest = 1e9;
    for (BuiltWire& w : part_.inserts.wires) {
      if (&w == wire || w.state != BuiltWireState::kWire || w.layer != wire->layer) continue;
      const double d = LeastGap(w.contour, wire->contour).distance;
      if (d > 0 && d < nearest) {
        nearest = d;
        other = &w;
      }
    }
    if (other == nullptr) return;
    for (int round = 0; round < 8; ++round) {
      const Gap gap = LeastGap(wire->contour, other->contour);
      if (gap.distance < 0.5) break;
      Shift(wire->contour, (1 - 0.3 / gap.distance) * (gap.on_second - gap.on_first));
    }
    wire->touching = other->touching = true;
    wire->displaced = nearest > 0.7 * WidthsOf(wire->contour).greatest;
  }

  void Expose(bool lumen) {
    for (int tries = 0; tries < 12; ++tries) {
      BuiltWire* wire = Take();
      if (wire == nullptr) return;
      Gap gap{1e9, {}, {}};
      if (lumen) {
        for (const BuiltLumen& l : part_.lumens) {
          if (l.contour.empty()) continue;
          const Gap g = LeastGap(wire->contour, l.contour);
          if (g.distance < gap.distance) gap = g;
        }
      } else {
        gap = LeastGap(wire->contour, part_.outline);
      }
      const double size = WidthsOf(wire->contour).least;
      if (gap.distance <= 0 || gap.distance > 5 * size + 10) continue;
      const double into = gap.distance + random_.Uniform(0.25, 0.5) * size;
      ContourPx moved = wire->contour;
      Shift(moved, (into / gap.distance) * (gap.on_second - gap.on_first));
      wire->contour = std::move(moved);
      return;
    }
  }

  void AddExtra() {
    if (part_.inserts.wires.empty()) return;
    for (int tries = 0; tries < 60; ++tries) {
      const auto i = static_cast<std::size_t>(
          random_.Integer(0, static_cast<int>(part_.inserts.wires.size()) - 1));
      BuiltWire wire = part_.inserts.wires[i];
      const BuiltLayer& layer = LayerOf(part_.inserts, wire);
      const double turn = random_.Uniform(0, 2 * kPi);
      for (PointPx& p : wire.contour) p = layer.centre + Rotated(p - layer.centre, turn);
      if (Clearance(part_, wire.contour, nullptr) < 1.5) continue;
      wire.state = BuiltWireState::kExtra;
      wire.family = 0;
      wire.displaced = wire.touching = false;
      wire.no = 0;
      for (const BuiltWire& w : part_.inserts.wires) {
        if (w.layer == wire.layer) wire.no = std::max(wire.no, w.no);
      }
      ++wire.no;
      part_.inserts.wires.push_back(std::move(wire));
      used_.push_back(true);
      return;
    }
  }

  BuiltPart& part_;
  const InsertRecipe& recipe_;
  Random& random_;
  std::vector<bool> used_;
};

}  // namespace

std::string_view BuiltWireStateName(BuiltWireState state) {
  switch (state) {
    case BuiltWireState::kWire:
      return "wire";
    case BuiltWireState::kPulledOut:
      return "pulled out";
    case BuiltWireState::kMissing:
      return "missing";
    case BuiltWireState::kExtra:
      return "extra";
  }
  return "wire";
}

void AddWires(BuiltPart& part, const SectionDesign& section, const InsertRecipe& recipe,
              double pitch_um, Random& random) {
  for (const WireLayerDesign& layer : section.wires) {
    const WireSize size = SizeOf(layer, section.kind == "lengthwise", pitch_um);
    if (section.kind == "lengthwise") {
      AddLengthwise(part, layer, size, recipe, pitch_um, random);
    } else {
      AddLayer(part, layer, size, recipe, pitch_um, random);
    }
  }
  Spoiler(part, recipe, random).Run();
}

}  // namespace cutface::phantom
