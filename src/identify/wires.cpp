#include "identify/wires.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "cutface/stats.h"
#include "identify/wire_comb.h"
#include "identify/wire_field.h"
#include "identify/wire_fit.h"
#include "identify/wire_halo.h"
#include "identify/wire_mend.h"
#include "identify/wire_search.h"

namespace cutface {
namespace {

constexpr double kScatter_rad = 0.0175;  // of wires about their slots, before it is told
constexpr double kGateShare = 0.42;      // of the spacing of a family
constexpr double kRoam = 5.5;            // wire sizes that a wire may have been pushed across
constexpr double kRoam_px = 12;
constexpr double kNominalTolerance = 0.02;  // of a wire's diameter, standard uncertainty (cp)
constexpr double kHoleDepth = 0.22;         // share of the body's tone
constexpr double kSureScore = 0.35;

double AfterTwelve(double angle) {
  const double a = std::fmod(angle + M_PI / 2, 2 * M_PI);
  return a < 0 ? a + 2 * M_PI : a;
}

class Tracer {
 public:
  Tracer(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones, const Scale& scale,
         Section& section)
      : micrograph_(micrograph),
        tones_(tones),
        scale_(scale),
        section_(section),
        pitch_(scale.mean_pitch_um()),
        frame_(pose.warp, pitch_),
        blur_(std::clamp(section.picture.blur_px, 0.5, 4.0)) {
    if (section.outline) outline_ = scale.ToPx(std::span<const PointUm>(section.outline->Points()));
    for (const LumenTrace& lumen : section.lumens) {
      if (lumen.bore.vertices.size() > 5)
        bores_.push_back(scale.ToPx(std::span<const PointUm>(lumen.bore.Points())));
    }
  }

  void Run(const WirePlan& layer) {
    layer_ = layer;
    trace_ = {};
    trace_.name = layer.design->name;
    trace_.expected = layer.expected;
    trace_.centre = Um({0, 0});
    trace_.doubt = Unusable(layer);
    trace_.counted = false;
    if (trace_.doubt.empty()) Find();
    section_.wire_layers.push_back(trace_);
  }

 private:
  PointUm Um(PointPx q) const { return scale_.ToUm(frame_.ToPicture(q)); }

  void Find() {
    FieldRequest request;
    const double margin = layer_.across + 8;
    request.inner = std::max(0.0, layer_.from - margin);
    request.outer = layer_.to + margin;
    request.metal_from = layer_.inner - layer_.across - 1;
    request.metal_to = layer_.outer + layer_.across + 1;
    request.share =
        layer_.expected * M_PI * layer_.along * layer_.across /
        (M_PI * (request.metal_to * request.metal_to - request.metal_from * request.metal_from));
    request.outline = outline_.empty() ? nullptr : &outline_;
    for (const ContourPx& bore : bores_) request.bores.push_back(&bore);
    request.side = side_;
    WireSearch search(micrograph_, tones_, frame_, layer_, blur_);
    std::optional<WireTrial> best = search.Best(request);
    if (!best) {
      trace_.doubt = search.why();
      return;
    }
    // One light for all layers.
    if (side_ == 0 && best->score > kSureScore) side_ = best->field.bright ? 1 : -1;
    const WireField& field = best->field;
    bright_ = field.bright;
    std::vector<FittedWire>& wires = best->wires;
    WireSize size = best->size;
    const FitLimits& limits = best->limits;
    TellHaloOf(search, field, limits, wires, size);
    if (!halo_.told && wires.size() != static_cast<std::size_t>(layer_.expected)) {
      trace_.doubt = "no wires of the drawn size were found: " + trace_.doubt;
      return;
    }
    Number(field, limits, size, std::move(wires));
  }

  void TellHaloOf(WireSearch& search, const WireField& field, const FitLimits& limits,
                  const std::vector<FittedWire>& wires, WireSize& size) {
    size = search.SizeOf(field, limits, wires, size);
    halo_ = TellHalo(size, layer_.across, blur_);
    // At the ends of what is plausible the size itself is in doubt.
    halo_.told =
        halo_.across < search.MostHalo() - 0.02 && halo_.across > search.LeastHalo() + 0.02;
    true_ = {size.along - halo_.along, layer_.across, layer_.flat};
    trace_.long_um = 2 * true_.along * pitch_;
    trace_.short_um = 2 * true_.across * pitch_;
    // The level of the ends is told from that of the sides to about a tenth of the blur.
    trace_.u_long_um = 2 * std::hypot(search.u_along(), search.u_across(), 0.1 * blur_) * pitch_;
    trace_.halo_um = halo_.across * pitch_;
    trace_.u_halo_um =
        std::hypot(kNominalTolerance * layer_.across, search.u_across(), 0.05) * pitch_;
    if (!halo_.told) {
      trace_.doubt = fmt::format(
          "its wires look {:.1f} um across instead of {:.1f} um, which no blur explains",
          2 * size.across * pitch_, 2 * layer_.across * pitch_);
    }
  }

  void Number(const WireField& field, const FitLimits& limits, const WireSize& size,
              std::vector<FittedWire> wires) {
    Centre(wires);
    CombFit fit = Combs(wires);
    // A slot that seems empty is looked at again before it is called so.
    if (Rescue(field, limits, size, fit, wires)) {
      Centre(wires);
      fit = Combs(wires);
    }
    DropUnlike(fit, wires);
    fit = Combs(wires);
    DropOthers(fit, wires);
    fit = Combs(wires);
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire >= 0) of_others_.push_back(wires[static_cast<std::size_t>(slot.wire)]);
    }
    trace_.centre = Um(centre_);
    trace_.counted = halo_.told;
    if (Strange(fit)) {
      trace_.counted = trace_.families_told = false;
      trace_.doubt =
          "too many of its slots are empty, or too many wires have none: its wires were "
          "not all told";
      for (const FittedWire& wire : wires) Add({wire, WireState::kWire, 0, 0, 0, true}, 0);
      return;
    }
    trace_.families_told = !fit.crossed;
    if (fit.crossed) {
      trace_.doubt =
          "the two hands of the braid cross at every wire here: which wire is of which "
          "family is not told";
    } else if (layer_.families == 2 && fit.rival < fit.cost + 3) {
      trace_.families_told = false;
      trace_.doubt = "two ways of parting the wires into families fit alike";
    }
    Emit(field, fit, wires);
  }

  // A layer of which much is amiss was not understood.
  bool Strange(const CombFit& fit) const {
    const auto empty = std::count_if(fit.slots.begin(), fit.slots.end(),
                                     [](const CombSlot& s) { return s.wire < 0; });
    const auto most = std::max<std::ptrdiff_t>(3, layer_.expected / 6);
    return empty > most || static_cast<std::ptrdiff_t>(fit.spare.size()) > most;
  }

  // Of a circle through the wires' middles; wires far off it do not count.
  void Centre(const std::vector<FittedWire>& wires) {
    centre_ = {0, 0};
    radius_ = layer_.Middle();
    ContourPx at;
    for (const FittedWire& wire : wires) at.push_back(wire.At());
    for (int round = 0; round < 3 && at.size() >= 6; ++round) {
      const auto circle = FitCircle(at);
      if (!circle || Norm(circle->centre) > 0.05 * radius_ + 4) return;
      centre_ = circle->centre;
      radius_ = circle->radius;
      const double gate = 0.5 * (layer_.outer - layer_.inner) + 2 * layer_.across;
      std::erase_if(at, [&](PointPx p) { return std::abs(Distance(p, centre_) - radius_) > gate; });
    }
  }

  CombFit Combs(const std::vector<FittedWire>& wires) const {
    std::vector<double> angles, heights;
    for (const FittedWire& wire : wires) {
      const PointPx d = wire.At() - centre_;
      angles.push_back(std::atan2(d.y, d.x));
      heights.push_back(Norm(d));
    }
    CombPlan plan;
    plan.families = layer_.families;
    plan.groups = layer_.groups;
    plan.ends = layer_.ends;
    plan.apart_rad = 2 * 1.06 * true_.along / radius_;
    plan.gate_rad = kGateShare * 2 * M_PI / layer_.groups;
    plan.scatter_rad =
        std::min(std::max(kScatter_rad, 1.5 / radius_), 0.12 * 2 * M_PI / layer_.groups);
    CombFit fit = FitCombs(angles, plan);
    PartByHeight(angles, heights, 0.6 * layer_.across, plan, fit);
    return fit;
  }

  bool Seen(const WireField& field, const FittedWire& wire) const {
    for (PointPx q : WireEdge(wire, 0, 16)) {
      const PointPx p = field.frame.ToPicture(q);
      if (p.x < 1 || p.y < 1 || p.x > micrograph_.width() - 2 || p.y > micrograph_.height() - 2)
        return false;
    }
    return true;
  }

  FittedWire AtSlot(const CombSlot& slot, const WireSize& size) const {
    const PointPx at = centre_ + radius_ * PointPx{std::cos(slot.angle), std::sin(slot.angle)};
    FittedWire wire;
    wire.angle = std::atan2(at.y, at.x);
    wire.radius = Norm(at);
    wire.size = size;
    return wire;
  }

  // Wires that the search overlooked: paler ones at empty slots, and pairs that lie so close that
  // they were taken for one.
  bool Rescue(const WireField& field, const FitLimits& limits, const WireSize& size,
              const CombFit& fit, std::vector<FittedWire>& wires) const {
    bool any = false;
    std::vector<FittedWire> now = wires;
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire >= 0) continue;
      const FittedWire there = AtSlot(slot, size);
      any = Part(field, limits, there, now) || any;
    }
    const double along = std::max(3.0, 3 * std::max(fit.scatter_rad, 0.004) * radius_);
    const double across = 0.5 * (layer_.outer - layer_.inner) + 3;
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire >= 0) continue;
      const FittedWire there = AtSlot(slot, size);
      const FittedWire pale = LookForPale(field, there, along, across);
      const bool taken = std::any_of(now.begin(), now.end(), [&](const FittedWire& w) {
        return Distance(w.At(), pale.At()) < 1.2 * size.across;
      });
      if (pale.strength <= 0 || taken) continue;
      now.push_back(pale);
      any = true;
    }
    if (!any) return false;
    SettleWires(field, limits, now);
    wires = std::move(now);
    return true;
  }

  // The wire next to an empty slot may be two.
  static bool Part(const WireField& field, const FitLimits& limits, const FittedWire& there,
                   std::vector<FittedWire>& wires) {
    std::size_t nearest = wires.size();
    double least = 2.2 * there.size.along;
    for (std::size_t k = 0; k < wires.size(); ++k) {
      const double d = Distance(wires[k].At(), there.At());
      if (d < least) least = d, nearest = k;
    }
    return nearest < wires.size() && SplitWire(field, limits, nearest, wires);
  }

  // Places without a slot that are not like the layer's wires are not called extra wires.
  void DropUnlike(const CombFit& fit, std::vector<FittedWire>& wires) const {
    std::vector<double> light, gain, misfit, tone;
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire < 0) continue;
      light.push_back(wires[static_cast<std::size_t>(slot.wire)].brightness);
      gain.push_back(wires[static_cast<std::size_t>(slot.wire)].gain);
      misfit.push_back(wires[static_cast<std::size_t>(slot.wire)].misfit);
      tone.push_back(wires[static_cast<std::size_t>(slot.wire)].light);
    }
    if (light.size() < 3) return;
    const double usual = Median(light), usual_gain = Median(gain);
    const double worst = 2.2 * Median(misfit) + 0.02;
    const double off = std::max(0.06, 5 * RobustSigma(tone)), usual_tone = Median(tone);
    std::vector<char> drop(wires.size(), 0);
    for (int k : fit.spare) {
      const FittedWire& wire = wires[static_cast<std::size_t>(k)];
      drop[static_cast<std::size_t>(k)] =
          wire.brightness < 0.75 * usual || wire.beyond > 0.45 || wire.misfit > worst ||
          (!bright_ && wire.light > usual_tone + off) || wire.gain < 0.55 * usual_gain ||
          wire.radius < layer_.from + 0.5 || wire.radius > layer_.to - 0.5;
    }
    std::vector<FittedWire> kept;
    for (std::size_t k = 0; k < wires.size(); ++k) {
      if (!drop[k]) kept.push_back(wires[k]);
    }
    wires = std::move(kept);
  }

  // A wire of another layer that this layer's size was fitted into.
  void DropOthers(const CombFit& fit, std::vector<FittedWire>& wires) const {
    std::vector<char> drop(wires.size(), 0);
    for (int k : fit.spare) {
      for (const FittedWire& other : of_others_) {
        if (DistanceToWire(other, wires[static_cast<std::size_t>(k)].At()) < 0)
          drop[static_cast<std::size_t>(k)] = 1;
      }
    }
    std::vector<FittedWire> kept;
    for (std::size_t k = 0; k < wires.size(); ++k) {
      if (!drop[k]) kept.push_back(wires[k]);
    }
    wires = std::move(kept);
  }

  struct Labelled {
    FittedWire wire;
    WireState state = WireState::kWire;
    int family = 0;
    double clock = 0;
    double off = 0;  // px along the layer from the slot
    bool shown = true;
  };

  void Emit(const WireField& field, const CombFit& fit, const std::vector<FittedWire>& wires) {
    std::vector<Labelled> all;
    double least[2] = {10, 10};
    for (const CombSlot& slot : fit.slots) {
      Labelled l;
      l.family = slot.family;
      l.clock = AfterTwelve(slot.angle);
      least[slot.family] = std::min(least[slot.family], l.clock);
      if (slot.wire >= 0) {
        l.wire = wires[static_cast<std::size_t>(slot.wire)];
        const PointPx d = l.wire.At() - centre_;
        l.off = Norm(d) * std::remainder(std::atan2(d.y, d.x) - slot.angle, 2 * M_PI);
      } else {
        l.wire = AtSlot(slot, {true_.along, true_.across, layer_.flat});
        l.state = WireState::kMissing;
        l.shown = Seen(field, l.wire);
        if (l.shown) LookInto(field, fit, l);
      }
      all.push_back(std::move(l));
    }
    if (!field.bright) TellDarkHoles(fit, wires, all);
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
    for (int k : fit.spare) {
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

  void LookInto(const WireField& field, const CombFit& fit, Labelled& l) const {
    const double along =
        std::min(std::max({4.0, 4 * std::max(fit.scatter_rad, 0.004) * radius_, true_.along}),
                 0.4 * 2 * M_PI * radius_ / layer_.groups);
    const double across = 0.5 * (layer_.outer - layer_.inner) + 4;
    const HoleThere hole = LookForHole(field, l.wire, along, across);
    if (hole.depth < std::max(kHoleDepth, 4 * field.noise)) return;
    l.state = WireState::kPulledOut;
    l.wire = hole.at;
  }

  // Against dark metal holes look like wires; they are a little lighter than those.
  void TellDarkHoles(const CombFit& fit, const std::vector<FittedWire>& wires,
                     std::vector<Labelled>& all) const {
    std::vector<double> lights;
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire >= 0) lights.push_back(wires[static_cast<std::size_t>(slot.wire)].light);
    }
    if (lights.size() < 4) return;
    const double usual = Median(lights), scatter = RobustSigma(lights);
    const double least = std::max(0.08, 6 * scatter);
    for (Labelled& l : all) {
      if (l.state == WireState::kWire && l.wire.light > usual + least)
        l.state = WireState::kPulledOut;
    }
  }

  TracedContour Contour(const FittedWire& wire) const {
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

  // Of a wire's middle: from the misfit along its edge; more where neighbours touch.
  double PlaceU(const FittedWire& wire) const {
    const double px = std::clamp(0.25 * wire.misfit, 0.05, 1.0);
    return (wire.alone ? px : 1.6 * px) * pitch_;
  }

  void Add(const Labelled& l, int no) {
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

  const Micrograph& micrograph_;
  const FaceTones& tones_;
  const Scale& scale_;
  Section& section_;
  double pitch_;
  LayerFrame frame_;
  double blur_;
  ContourPx outline_;
  std::vector<ContourPx> bores_;
  std::vector<FittedWire> of_others_;  // wires in slots of the layers before
  WirePlan layer_;
  WireLayerTrace trace_;
  PointPx centre_;
  double radius_ = 1;
  double usual_off_ = 0;
  bool bright_ = true;
  int side_ = 0;  // +1, -1 once a layer has told whether metal is bright or dark
  Halo halo_;
  WireSize true_;
};

}  // namespace

void TraceWires(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                const Scale& scale, const SectionDesign& plane, Section& section) {
  if (plane.wires.empty() || plane.kind == "lengthwise") return;
  std::vector<WirePlan> layers;
  for (const WireLayerDesign& design : plane.wires)
    layers.push_back(PlanOf(design, scale.mean_pitch_um()));
  Tracer tracer(micrograph, pose, tones, scale, section);
  // The largest wires first: smaller ones fit into them, not the other way round.
  std::vector<std::size_t> order(layers.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return layers[a].across * layers[a].along > layers[b].across * layers[b].along;
  });
  for (std::size_t k : order) {
    WirePlan& layer = layers[k];
    const double roam = kRoam * 2 * layer.across + kRoam_px;
    layer.from = layer.inner - roam;
    layer.to = layer.outer + roam;
    // Half way to where the next layer's wires lie.
    for (std::size_t j = 0; j < layers.size(); ++j) {
      const WirePlan& other = layers[j];
      if (j == k || other.outer <= 0) continue;
      if (other.Middle() > layer.Middle()) {
        layer.to =
            std::min(layer.to, layer.outer + std::max(0.5, 0.5 * (other.inner - layer.outer)));
      } else {
        layer.from =
            std::max(layer.from, layer.inner - std::max(0.5, 0.5 * (layer.inner - other.outer)));
      }
    }
    tracer.Run(layer);
  }
  const auto place = [&](const std::string& name) {
    const auto at = std::find_if(plane.wires.begin(), plane.wires.end(),
                                 [&](const WireLayerDesign& d) { return d.name == name; });
    return at - plane.wires.begin();
  };
  std::stable_sort(section.wire_layers.begin(), section.wire_layers.end(),
                   [&](const WireLayerTrace& a, const WireLayerTrace& b) {
                     return place(a.name) < place(b.name);
                   });
  std::stable_sort(
      section.wires.begin(), section.wires.end(),
      [&](const WireTrace& a, const WireTrace& b) { return place(a.layer) < place(b.layer); });
  MendAtWires(scale, section);
}

}  // namespace cutface
