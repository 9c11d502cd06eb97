#include "identify/wires.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"
#include "identify/wire_comb.h"
#include "identify/wire_field.h"
#include "identify/wire_fit.h"
#include "identify/wire_halo.h"
#include "identify/wire_mend.h"

namespace cutface {
namespace {

constexpr double kScatter_rad = 0.0175;  // of wires about their slots, before it is told
constexpr double kGateShare = 0.42;      // of the spacing of a family
constexpr double kRoam = 5.5;            // wire sizes that a wire may have been pushed across
constexpr double kRoam_px = 12;
constexpr double kNominalTolerance = 0.02;  // of a wire's diameter, standard uncertainty (cp)
constexpr double kHoleDepth = 0.22;         // share of the body's tone
constexpr double kLeastWire_px = 4;         // smaller ones are not told from specks

struct Layer {
  const WireLayerDesign* design = nullptr;
  double inner = 0, outer = 0;   // radii of wires' middles, px
  double across = 0, along = 0;  // half axes as drawn
  bool flat = false;
  int expected = 0, families = 1, groups = 0, ends = 1;
  double from = 0, to = 0;  // radii that its wires may have been pushed to
  double Middle() const { return 0.5 * (inner + outer); }
};

Layer LayerOf(const WireLayerDesign& design, double pitch) {
  Layer layer;
  layer.design = &design;
  layer.flat = design.flat_um.has_value();
  const double size = design.flat_um ? design.flat_um->first : design.round_um.value_or(0);
  const double width = design.flat_um ? design.flat_um->second : size;
  layer.across = 0.5 * size / pitch;
  const double angle = design.braid_angle_deg.value_or(design.carriers ? 45.0 : 0.0);
  layer.along = 0.5 * width / pitch / std::cos(std::min(angle, 75.0) * M_PI / 180);
  layer.inner = std::numeric_limits<double>::infinity();
  for (double d : design.on_diameters_um) {
    layer.inner = std::min(layer.inner, 0.5 * d / pitch);
    layer.outer = std::max(layer.outer, 0.5 * d / pitch);
  }
  layer.families = design.carriers ? 2 : 1;
  layer.ends = design.carriers ? std::max(1, design.ends.value_or(1)) : 1;
  layer.groups = design.carriers ? std::max(1, *design.carriers / 2) : design.count.value_or(0);
  layer.expected = layer.families * layer.groups * layer.ends;
  return layer;
}

std::string Unusable(const Layer& layer) {
  if (layer.expected < 1) return "the drawing does not say how many wires there are";
  if (layer.outer <= 0) return "the drawing does not say on which diameter its wires lie";
  if (layer.across <= 0) return "the drawing gives no size of its wires";
  if (2 * layer.across < kLeastWire_px)
    return fmt::format("its wires are {:.1f} px small, below {:.0f} px", 2 * layer.across,
                       kLeastWire_px);
  return "";
}

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

  void Run(const Layer& layer) {
    layer_ = layer;
    trace_ = {};
    trace_.name = layer.design->name;
    trace_.expected = layer.expected;
    trace_.centre = Um({0, 0});
    trace_.doubt = Unusable(layer);
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
    const WireField field = MakeWireField(micrograph_, tones_, frame_, request);
    if (!field.why.empty()) {
      trace_.doubt = field.why;
      return;
    }
    FitLimits limits;
    limits.inner = std::max(1.0, layer_.from);
    limits.outer = layer_.to;
    limits.soft_px = std::clamp(2.2 * blur_, 1.5, 6.0);
    WireSize size = FirstSize(field, request);
    limits.halo_px = std::max(0.0, size.across - layer_.across);
    std::vector<FittedWire> wires = FindWires(field, size, limits);
    if (wires.empty()) {
      trace_.doubt = "no wire was found";
      return;
    }
    const WireSize better = SizeOf(field, limits, wires, size);
    if (std::abs(better.along - size.along) + std::abs(better.across - size.across) > 0.3) {
      size = better;
      limits.halo_px = std::max(0.0, size.across - layer_.across);
      wires = FindWires(field, size, limits);
      if (wires.empty()) {
        trace_.doubt = "no wire was found";
        return;
      }
    }
    TellHaloOf(field, limits, wires, size);
    Number(field, limits, size, std::move(wires));
  }

  // Half-level size from the area of all metal, as if no wire were missing.
  WireSize FirstSize(const WireField& field, const FieldRequest& request) const {
    double area = 0;
    for (int y = 0; y < field.metal.rows; ++y) {
      for (int x = 0; x < field.metal.cols; ++x) {
        if (field.metal(y, x) <= 0.5f) continue;
        const double r =
            Norm(field.frame.FromPicture({1.0 * (x + field.roi.x), 1.0 * (y + field.roi.y)}));
        if (r > request.metal_from - 6 && r < request.metal_to + 6) area += 1;
      }
    }
    const double each = area / layer_.expected;
    double low = -0.4 * layer_.across, high = 0.8 * layer_.across + 2;
    WireSize size;
    for (int k = 0; k < 30; ++k) {
      const double halo = 0.5 * (low + high);
      size = {layer_.along + halo, layer_.across + halo, layer_.flat};
      (size.Area() < each ? low : high) = halo;
    }
    return size;
  }

  // Median of what wires that stand alone show of themselves.
  WireSize SizeOf(const WireField& field, const FitLimits& limits,
                  const std::vector<FittedWire>& wires, const WireSize& otherwise) {
    std::vector<double> along, across;
    for (const FittedWire& wire : wires) {
      if (!wire.alone || wire.gain < 0.6 || along.size() >= 24) continue;
      const WireSize own = OwnSize(field, limits, wire);
      along.push_back(own.along);
      across.push_back(own.across);
    }
    singles_ = along.size();
    if (singles_ < 3) return otherwise;
    u_along_ = 1.25 * RobustSigma(along) / std::sqrt(static_cast<double>(singles_));
    u_across_ = 1.25 * RobustSigma(across) / std::sqrt(static_cast<double>(singles_));
    return {Median(std::move(along)), Median(std::move(across)), layer_.flat};
  }

  void TellHaloOf(const WireField& field, const FitLimits& limits,
                  const std::vector<FittedWire>& wires, WireSize& size) {
    size = SizeOf(field, limits, wires, size);
    halo_ = TellHalo(size, layer_.across, blur_);
    true_ = {size.along - halo_.along, layer_.across, layer_.flat};
    trace_.halo_um = halo_.across * pitch_;
    trace_.u_halo_um = std::hypot(kNominalTolerance * layer_.across, u_across_, 0.05) * pitch_;
    if (!halo_.told) {
      trace_.doubt = fmt::format(
          "its wires look {:.1f} um across instead of {:.1f} um, which no blur explains",
          2 * size.across * pitch_, 2 * layer_.across * pitch_);
    } else if (singles_ < 3) {
      trace_.doubt = "too few of its wires stand apart to tell their size";
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
    trace_.centre = Um(centre_);
    if (fit.crossed) {
      trace_.doubt =
          "the two hands of the braid cross at every wire here: which wire is of which "
          "family is not told";
    } else if (layer_.families == 2 && fit.rival < fit.cost + 3) {
      trace_.doubt = "two ways of parting the wires into families fit alike";
    }
    Emit(field, fit, wires);
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
    std::vector<double> angles;
    for (const FittedWire& wire : wires) {
      const PointPx d = wire.At() - centre_;
      angles.push_back(std::atan2(d.y, d.x));
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

  bool Rescue(const WireField& field, const FitLimits& limits, const WireSize& size,
              const CombFit& fit, std::vector<FittedWire>& wires) const {
    std::vector<FittedWire> more = wires;
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire >= 0) continue;
      FittedWire wire = AtSlot(slot, size), best = wire;
      double most = -1;
      for (double rise : {0.0, layer_.inner - layer_.Middle(), layer_.outer - layer_.Middle()}) {
        wire.radius = best.radius;
        wire.radius = Norm(AtSlot(slot, size).At()) + rise;
        double metal = 0;
        for (PointPx q : WireEdge(wire, -0.4 * size.across, 24))
          metal += field.MetalAt(field.frame.ToPicture(q));
        if (metal > most) most = metal, best = wire;
      }
      if (most > 0.4 * 24) more.push_back(best);
    }
    if (more.size() == wires.size()) return false;
    SettleWires(field, limits, more);
    if (more.size() <= wires.size()) return false;
    wires = std::move(more);
    return true;
  }

  // Places without a slot that are not like the layer's wires are not called extra wires.
  void DropUnlike(const CombFit& fit, std::vector<FittedWire>& wires) const {
    std::vector<double> light, gain;
    for (const CombSlot& slot : fit.slots) {
      if (slot.wire < 0) continue;
      light.push_back(wires[static_cast<std::size_t>(slot.wire)].brightness);
      gain.push_back(wires[static_cast<std::size_t>(slot.wire)].gain);
    }
    if (light.size() < 3) return;
    const double usual = Median(light), usual_gain = Median(gain);
    std::vector<char> drop(wires.size(), 0);
    for (int k : fit.spare) {
      const FittedWire& wire = wires[static_cast<std::size_t>(k)];
      drop[static_cast<std::size_t>(k)] =
          wire.brightness < 0.75 * usual || wire.gain < 0.55 * usual_gain;
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
      } else {
        l.wire = AtSlot(slot, {true_.along, true_.across, layer_.flat});
        l.state = WireState::kMissing;
        l.shown = Seen(field, l.wire);
        if (l.shown && field.bright) LookInto(field, fit, l);
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
    if (hidden) trace_.doubt = "part of the layer is cut off by the frame";
  }

  void LookInto(const WireField& field, const CombFit& fit, Labelled& l) const {
    const double along = std::max(3.0, 3 * std::max(fit.scatter_rad, 0.004) * radius_);
    const double across = 0.5 * (layer_.outer - layer_.inner) + 3;
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
    const double least = std::max(0.05, 6 * scatter);
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
  Layer layer_;
  WireLayerTrace trace_;
  PointPx centre_;
  double radius_ = 1;
  std::size_t singles_ = 0;
  double u_along_ = 0.2, u_across_ = 0.2;
  Halo halo_;
  WireSize true_;
};

}  // namespace

void TraceWires(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                const Scale& scale, const SectionDesign& plane, Section& section) {
  if (plane.wires.empty() || plane.kind == "lengthwise") return;
  std::vector<Layer> layers;
  for (const WireLayerDesign& design : plane.wires)
    layers.push_back(LayerOf(design, scale.mean_pitch_um()));
  Tracer tracer(micrograph, pose, tones, scale, section);
  for (std::size_t k = 0; k < layers.size(); ++k) {
    Layer& layer = layers[k];
    const double roam = kRoam * 2 * layer.across + kRoam_px;
    layer.from = layer.inner - roam;
    layer.to = layer.outer + roam;
    // Half way to the next layer's metal.
    for (std::size_t j = 0; j < layers.size(); ++j) {
      const Layer& other = layers[j];
      if (j == k || other.outer <= 0) continue;
      if (other.Middle() > layer.Middle()) {
        const double gap = other.inner - other.across - (layer.outer + layer.across);
        layer.to = std::min(layer.to, layer.outer + std::max(0.5, 0.5 * gap));
      } else {
        const double gap = layer.inner - layer.across - (other.outer + other.across);
        layer.from = std::max(layer.from, layer.inner - std::max(0.5, 0.5 * gap));
      }
    }
    tracer.Run(layer);
  }
  MendAtWires(scale, section);
}

}  // namespace cutface
