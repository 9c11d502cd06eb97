#include <algorithm>
#include <cmath>
#include <optional>

#include "cutface/stats.h"
#include "identify/wire_tracer.h"

namespace cutface::wires {
namespace {

constexpr double kHoleDepth = 0.22;  // share of the body's tone
// Likewise, of the noise: quantiles of some 60 pixels scatter by a fifth of it each.
constexpr double kHoleNoises = 1.2;
constexpr double kHoleReach = 2;  // half lengths of a wire from its slot
// Share of the body's tone by which a hole is lighter than dark metal, at least.
constexpr double kHoleLighter = 0.05;
constexpr double kHoleLeast = 0.045;  // likewise: to be called one
constexpr double kHoleSigmas = 4;     // of wires' own tones
constexpr double kHoleStep = 0.03;    // between the lightest wire and the darkest hole, at least
constexpr double kFarSigmas = 8;      // likewise: a hole however it fits
constexpr double kStepSigmas = 2;     // likewise, of wires' own tones
constexpr double kBunched_px = 1.5;   // between two wires' metal
constexpr double kHiddenShare = 0.3;  // of a slot's edge that lies under another wire

// Of some wires' tones the ones that stand apart above all others: holes.
struct LighterOnes {
  double usual = 0, scatter = 0;  // of the others
  double least = 0;               // between both
};
std::optional<LighterOnes> LighterOf(std::vector<double> lights) {
  std::sort(lights.begin(), lights.end());
  const std::size_t n = lights.size(), most = std::max<std::size_t>(2, n / 4);
  std::optional<LighterOnes> best;
  double clearest = 0;
  for (std::size_t k = 1; k <= most && k + 4 <= n; ++k) {
    const std::vector<double> dark(lights.begin(), lights.end() - static_cast<std::ptrdiff_t>(k));
    const double usual = Median(dark),
                 scatter = std::max(RobustSigma(dark), 0.7 * StandardDeviation(dark));
    const double step = lights[n - k] - dark.back();
    if (step < std::max(kHoleStep, kStepSigmas * scatter)) continue;
    if (lights[n - k] - usual < std::max(kHoleLeast, kHoleSigmas * scatter)) continue;
    const double clear = step / std::max(1e-6, StandardDeviation(dark));
    if (clear <= clearest) continue;
    clearest = clear;
    best = {usual, scatter, dark.back() + 0.5 * step};
  }
  return best;
}

double AfterTwelve(double angle) {
  const double a = std::fmod(angle + M_PI / 2, 2 * M_PI);
  return a < 0 ? a + 2 * M_PI : a;
}

}  // namespace

bool Tracer::Seen(const WireField& field, const FittedWire& wire) const {
  for (PointPx q : WireEdge(wire, 0, 16)) {
    const PointPx p = field.frame.ToPicture(q);
    if (p.x < 1 || p.y < 1 || p.x > micrograph_.width() - 2 || p.y > micrograph_.height() - 2)
      return false;
  }
  return true;
}

double Tracer::OffSlot(const CombSlot& slot, const FittedWire& wire) const {
  const PointPx d = wire.At() - centre_;
  return Norm(d) * std::remainder(std::atan2(d.y, d.x) - slot.angle, 2 * M_PI);
}

void Tracer::SortAbreast(const CombFit& fit, std::vector<Labelled>& all) const {
  const auto ends = static_cast<std::size_t>(std::max(1, layer_.ends));
  for (std::size_t first = 0; first + ends <= all.size(); first += ends) {
    std::vector<std::size_t> there;
    for (std::size_t k = first; k < first + ends; ++k) {
      if (all[k].state != WireState::kMissing) there.push_back(k);
    }
    std::vector<std::size_t> order = there;
    const auto place = [&](std::size_t k) { return OffSlot(fit.slots[first], all[k].wire); };
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return place(a) < place(b); });
    std::vector<Labelled> sorted;
    for (std::size_t k : order) sorted.push_back(all[k]);
    for (std::size_t i = 0; i < there.size(); ++i) {
      if (order[i] == there[i]) continue;
      Labelled& to = all[there[i]];
      to.wire = sorted[i].wire;
      to.state = sorted[i].state;
      to.shown = sorted[i].shown;
      to.off = to.state == WireState::kWire ? OffSlot(fit.slots[there[i]], to.wire) : 0;
    }
  }
}

void Tracer::Emit(const WireField& field, const CombFit& fit, const std::vector<FittedWire>& wires,
                  const std::vector<FittedWire>& others) {
  std::vector<Labelled> all;
  std::vector<int> spare = fit.spare;
  std::vector<FittedWire> filled = wires;  // and holes: each is one slot's
  filled.insert(filled.end(), others.begin(), others.end());
  double least[2] = {10, 10};
  for (const CombSlot& slot : fit.slots) {
    Labelled l;
    l.family = slot.family;
    l.clock = AfterTwelve(slot.angle);
    least[slot.family] = std::min(least[slot.family], l.clock);
    if (slot.wire >= 0) {
      l.wire = wires[static_cast<std::size_t>(slot.wire)];
      l.off = OffSlot(slot, l.wire);
      if (std::abs(l.off) > 2 * true_.along && LeftAHole(field, fit, filled, slot, l))
        spare.push_back(slot.wire);
    } else {
      l.wire = AtSlot(slot, {true_.along, true_.across, layer_.flat});
      l.state = WireState::kMissing;
      l.shown = Seen(field, l.wire);
      if (l.shown) LookInto(field, fit, filled, l);
      if (l.state == WireState::kMissing && Hidden(l.wire, wires))
        Doubt("where a wire seems to be missing another one covers its place");
    }
    if (l.state == WireState::kPulledOut) filled.push_back(l.wire);
    all.push_back(l);
  }
  if (!field.bright) TellDarkHoles(all);
  SeatBunched(fit, wires, spare, all);
  SortAbreast(fit, all);
  const bool swap = layer_.families == 2 && least[1] < least[0];
  for (Labelled& l : all)
    l.family = layer_.families == 2 ? (swap ? 2 - l.family : 1 + l.family) : 0;
  for (int f = 0; f < 2; ++f) {
    trace_.phase_rad[f] = fit.phase[swap ? 1 - f : f];
    trace_.u_phase_rad[f] = fit.u_phase[swap ? 1 - f : f];
  }
  std::stable_sort(all.begin(), all.end(), [](const Labelled& a, const Labelled& b) {
    return a.family != b.family ? a.family < b.family : a.clock < b.clock;
  });
  int no = 0;
  bool hidden = false;
  const std::size_t first = section_.wires.size();
  for (Labelled& l : all) {
    ++no;
    hidden = hidden || !l.shown;
    if (l.shown) Add(l, no);
  }
  for (int k : spare) {
    Labelled l;
    l.wire = wires[static_cast<std::size_t>(k)];
    l.state = WireState::kExtra;
    Add(l, ++no);
  }
  if (hidden) {
    trace_.counted = false;
    trace_.doubt = "part of the layer is cut off by the frame";
  }
  usual_off_ = fit.scatter_rad * radius_;
  for (std::size_t k = first; k < section_.wires.size(); ++k) {
    WireTrace& wire = section_.wires[k];
    wire.displaced = wire.state == WireState::kWire &&
                     std::abs(wire.off_um) > std::max(wire.long_um, 4 * usual_off_ * pitch_);
  }
}

bool Tracer::Touches(const FittedWire& wire, const std::vector<FittedWire>& wires) const {
  const auto metal = [&](FittedWire w) {
    w.size = true_;
    return w;
  };
  const ContourPx edge = WireEdge(metal(wire), 0, 48);
  return std::any_of(wires.begin(), wires.end(), [&](const FittedWire& other) {
    if (other.angle == wire.angle && other.radius == wire.radius) return false;
    return std::any_of(edge.begin(), edge.end(),
                       [&](PointPx q) { return DistanceToWire(metal(other), q) < kBunched_px; });
  });
}

void Tracer::SeatBunched(const CombFit& fit, const std::vector<FittedWire>& wires,
                         std::vector<int>& spare, std::vector<Labelled>& all) const {
  std::erase_if(spare, [&](int k) {
    const FittedWire& wire = wires[static_cast<std::size_t>(k)];
    if (!Touches(wire, wires)) return false;
    std::size_t seat = all.size();
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (all[i].state != WireState::kMissing || !all[i].shown) continue;
      if (seat == all.size() ||
          std::abs(OffSlot(fit.slots[i], wire)) < std::abs(OffSlot(fit.slots[seat], wire)))
        seat = i;
    }
    if (seat == all.size()) return false;
    all[seat].wire = wire;
    all[seat].state = WireState::kWire;
    all[seat].off = OffSlot(fit.slots[seat], wire);
    return true;
  });
}

bool Tracer::LeftAHole(const WireField& field, const CombFit& fit,
                       const std::vector<FittedWire>& wires, const CombSlot& slot,
                       Labelled& l) const {
  Labelled hole = l;
  hole.off = 0;
  hole.wire = AtSlot(slot, {true_.along, true_.across, layer_.flat});
  if (!Seen(field, hole.wire)) return false;
  LookInto(field, fit, wires, hole);
  if (hole.state != WireState::kPulledOut) return false;
  l = hole;
  return true;
}

void Tracer::Doubt(std::string why) {
  trace_.counted = false;
  if (trace_.doubt.empty()) trace_.doubt = std::move(why);
}

bool Tracer::Hidden(const FittedWire& slot, const std::vector<FittedWire>& wires) const {
  const ContourPx edge = WireEdge(slot, 0, 32);
  for (const FittedWire& wire : wires) {
    const auto within = std::count_if(edge.begin(), edge.end(),
                                      [&](PointPx q) { return DistanceToWire(wire, q) < 0; });
    if (static_cast<double>(within) > kHiddenShare * 32) return true;
  }
  return false;
}

void Tracer::LookInto(const WireField& field, const CombFit& fit,
                      const std::vector<FittedWire>& wires, Labelled& l) const {
  const double along = std::min(
      std::max({4.0, 4 * std::max(fit.scatter_rad, 0.004) * radius_, kHoleReach * true_.along}),
      0.4 * 2 * M_PI * radius_ / layer_.groups);
  const double across = 0.5 * (layer_.outer - layer_.inner) + 4;
  const HoleThere hole = LookForHole(field, l.wire, along, across, wires);
  if (hole.depth < std::max(kHoleDepth, kHoleNoises * field.noise)) return;
  l.state = WireState::kPulledOut;
  l.wire = hole.at;
}

// What surrounds most of the wires, relative tone: beside a bore or a rim a wire's own surroundings
// would make metal look lighter or darker than it is.
double Tracer::UsualAround(const std::vector<Labelled>& all) {
  std::vector<double> around;
  for (const Labelled& l : all) {
    if (l.state == WireState::kWire && l.wire.light > 0.01)
      around.push_back(l.wire.tone / l.wire.light);
  }
  return around.empty() ? 1 : std::max(0.05, Median(std::move(around)));
}

bool Tracer::AtBore(const FittedWire& wire) const {
  constexpr int kPlaces = 24, kLeast = 4;
  constexpr double kTouch_px = 1.5;
  const ContourPx edge = WireEdge(wire, 0, kPlaces);
  return std::any_of(face_.bores.begin(), face_.bores.end(), [&](const ContourPx& bore) {
    const ContourIndex<FramePx> index{std::span<const PointPx>(bore)};
    const auto there = std::count_if(edge.begin(), edge.end(), [&](PointPx q) {
      const PointPx p = frame_.ToPicture(q);
      return index.Holds(p) || index.NearestTo(p, kTouch_px).has_value();
    });
    return there >= kLeast;
  });
}

void Tracer::TellDarkHoles(std::vector<Labelled>& all) {
  std::vector<double> lights, misfits, brightness;
  const double around = UsualAround(all);
  for (const Labelled& l : all) {
    if (l.state != WireState::kWire) continue;
    lights.push_back(l.wire.tone / around);
    brightness.push_back(l.wire.brightness);
    misfits.push_back(l.wire.misfit);
  }
  const double usual_misfit = lights.empty() ? 0 : Median(std::move(misfits));
  const double usual_brightness = lights.empty() ? 0 : Median(std::move(brightness));
  const std::optional<LighterOnes> lighter = LighterOf(lights);
  // Would another hole be seen as well?
  const bool alike = lights.size() < 4 || kHoleLighter < kHoleSigmas * RobustSigma(lights);
  if (alike) Doubt("in this light a hole of a wire's size looks like a wire");
  if (alike && !lighter) return;
  const double usual = lighter ? lighter->usual : Median(lights);
  const double scatter = lighter ? lighter->scatter : RobustSigma(lights);
  const double least =
      lighter ? lighter->least : std::max(usual + kHoleLeast, usual + kHoleSigmas * scatter);
  const double unsure = usual + std::max(0.7 * kHoleLeast, 0.8 * kHoleSigmas * scatter);
  for (Labelled& l : all) {
    const double light = l.wire.tone / around;
    if (l.state != WireState::kWire || light < std::min(unsure, least)) continue;
    if (AtBore(l.wire)) continue;
    // A hole is not as dark as metal, and misses what a wire would show by so much.
    const bool far = light > usual + std::max(2 * kHoleLeast, kFarSigmas * scatter);
    const double paler = std::max(0.0, usual_brightness - l.wire.brightness);
    const double misfit = std::sqrt(std::max(0.0, l.wire.misfit * l.wire.misfit - paler * paler));
    if (light < least || misfit > (far ? 1.75 : 1.6) * usual_misfit) {
      Doubt("one of its wires may be a hole: in this light they look alike");
    } else {
      l.state = WireState::kPulledOut;
    }
  }
}

TracedContour Tracer::Contour(const FittedWire& wire) const {
  TracedContour contour;
  ContourPx edge;
  FittedWire metal = wire;
  metal.size = true_;
  for (PointPx q : WireEdge(metal, 0)) edge.push_back(frame_.ToPicture(q));
  if (SignedArea(edge) < 0) std::reverse(edge.begin(), edge.end());
  const ContourUm um = scale_.ToUm(std::span<const PointPx>(edge));
  const ContourUm normals = OutwardNormals(um);
  const double sigma = PlaceU(wire);
  for (std::size_t i = 0; i < um.size(); ++i)
    contour.vertices.push_back({um[i], normals[i], sigma, VertexState::kMeasured, 0});
  contour.u_common_um = trace_.u_halo_um;
  contour.bias_um = -trace_.halo_um;
  contour.edge_model = "wire";
  contour.edge_blur_px = blur_;
  return contour;
}

void Tracer::Add(const Labelled& l, int no) {
  WireTrace wire;
  wire.layer = trace_.name;
  wire.no = no;
  wire.family = l.family;
  wire.state = l.state;
  wire.centroid = Um(l.wire.At());
  wire.off_um = l.off * pitch_;
  if (l.state != WireState::kMissing) {
    wire.contour = Contour(l.wire);
    wire.u_centroid_um = PlaceU(l.wire);
    const auto ellipse = MomentEllipse(wire.contour.Points());
    wire.centroid = ellipse.centre;
    wire.long_um = 2 * ellipse.semi_major;
    wire.short_um = 2 * ellipse.semi_minor;
    wire.axis_rad = ellipse.angle;
  }
  section_.wires.push_back(std::move(wire));
}

}  // namespace cutface::wires
