#include "identify/wires.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "cutface/stats.h"
#include "identify/wire_mend.h"
#include "identify/wire_swap.h"
#include "identify/wire_tracer.h"

namespace cutface {
namespace wires {
namespace {

constexpr double kScatter_rad = 0.0175;     // of wires about their slots, before it is told
constexpr double kGateShare = 0.42;         // of the spacing of a family
constexpr double kNominalTolerance = 0.02;  // of a wire's diameter, standard uncertainty (cp)
constexpr double kUsualRise_px = 3;         // of wires over their layer's radii
constexpr double kMostOdd = 5;  // cost of a wire far off its layer: less than an empty slot
constexpr double kNoFit = 5;    // times the usual misfit: fitted into something else
constexpr double kSureScore = 0.35;
// A layer may be off its drawn place by so much of its radius and px; more is a mistake.
constexpr double kOffDrawn = 0.05, kOffDrawn_px = 4;
constexpr double kSlackShare = 0.05, kSlackLeast_px = 4, kSlackMost_px = 16;
constexpr double kThickest_px = 4;     // beyond what two wires on one another hold
constexpr double kAstray = 2.3;        // lengths of a wire that it may lie off its slot
constexpr double kMaskGrown_px = 0.5;  // of wires found, when others are looked for
constexpr double kPaleReach = 1.5;     // half lengths from a slot that one is looked for
constexpr double kStray = 0.5;         // likewise, anywhere on the face
constexpr double kClearLayer_px = 3;   // by which an extra wire is nearer to its own layer
constexpr double kSameSize = 0.25;     // of a half axis: layers' wires may be each other's
constexpr double kUnexplained = 0.35;  // of a wire's area
constexpr double kNoMetal = 0.5;       // mean share of metal in a wire's core

}  // namespace

void Tracer::TakeFrom(Tracer& from, const FittedWire& wire) {
  std::erase_if(from.wires_, [&](const FittedWire& w) {
    return w.angle == wire.angle && w.radius == wire.radius;
  });
  FittedWire mine = wire;
  mine.size = size_;
  wires_.push_back(mine);
}

double Tracer::OffLayer(PointPx p) const {
  if (wires_.empty()) return std::numeric_limits<double>::infinity();
  const double half = 0.5 * (layer_.outer - layer_.inner);
  return std::max(0.0, std::abs(Height(p)) - half);
}

double Tracer::Height(PointPx p) const {
  const PointPx d = p - centre_;
  return Norm(d) - weave_.Trend(std::atan2(d.y, d.x));
}

std::vector<FittedWire> Tracer::Spares() {
  std::vector<FittedWire> spares;
  if (wires_.empty()) return spares;
  for (int k : Combs(wires_).spare) spares.push_back(wires_[static_cast<std::size_t>(k)]);
  return spares;
}

bool Tracer::LacksOneLike(const FittedWire& wire) {
  if (wires_.empty() || std::abs(wire.size.across - size_.across) > kSameSize * size_.across)
    return false;
  const CombFit fit = Combs(wires_);
  const PointPx d = wire.At() - centre_;
  return std::any_of(fit.slots.begin(), fit.slots.end(), [&](const CombSlot& slot) {
    const double off = std::remainder(std::atan2(d.y, d.x) - slot.angle, 2 * M_PI);
    return slot.wire < 0 && radius_ * std::abs(off) < true_.along;
  });
}

void Tracer::Search(const std::vector<FittedWire>& taken) {
  FieldRequest request;
  const double margin = layer_.across + 8;
  request.inner = std::max(0.0, layer_.from - margin);
  request.outer = layer_.to + margin;
  // A layer need not lie where the drawing puts it; beside another one it is taken as drawn.
  const double slack = std::clamp(kSlackShare * layer_.Middle(), kSlackLeast_px, kSlackMost_px);
  const double room = slack + 2 * layer_.across;
  const double in = layer_.inner - layer_.from > room ? slack : 0;
  const double out = layer_.to - layer_.outer > room ? slack : 0;
  request.metal_from = layer_.inner - in - layer_.across - 1;
  request.metal_to = layer_.outer + out + layer_.across + 1;
  request.share =
      layer_.expected * M_PI * layer_.along * layer_.across /
      (M_PI * (request.metal_to * request.metal_to - request.metal_from * request.metal_from));
  request.thickest = 2 * layer_.across + layer_.along + kThickest_px;
  request.outline = outline_.empty() ? nullptr : &outline_;
  for (const ContourPx& bore : face_.bores) request.bores.push_back(&bore);
  for (const ContourPx& liner : face_.liners) request.liners.push_back(&liner);
  for (const ContourPx& ring : face_.rings) request.rings.push_back(&ring);
  request.side = face_.side;
  WireSearch search(micrograph_, tones_, frame_, layer_, blur_, taken);
  std::optional<WireTrial> best = search.Best(request);
  if (!best) {
    trace_.doubt = search.why();
    return;
  }
  bright_ = best->field.bright;
  // One light for all layers.
  if (face_.side == 0 && best->score > kSureScore) face_.side = bright_ ? 1 : -1;
  request.side = bright_ ? 1 : -1;
  request_ = request;
  field_ = std::move(best->field);
  limits_ = best->limits;
  size_ = best->size;
  score_ = best->score / std::min(1.0, field_.contrast);
  TellHaloOf(search, field_, limits_, best->wires, size_);
  if (!halo_.told && best->wires.size() != static_cast<std::size_t>(layer_.expected)) {
    trace_.doubt = "no wires of the drawn size were found: " + trace_.doubt;
    return;
  }
  Slot(std::move(best->wires));
}

void Tracer::TellHaloOf(WireSearch& search, const WireField& field, const FitLimits& limits,
                        const std::vector<FittedWire>& wires, WireSize& size) {
  size = search.SizeOf(field, limits, wires, size);
  halo_ = TellHalo(size, layer_.across, blur_);
  // At the ends of what is plausible the size itself is in doubt.
  halo_.told = halo_.across < search.MostHalo() - 0.02 && halo_.across > search.LeastHalo() + 0.02;
  true_ = {size.along - halo_.along, layer_.across, layer_.flat};
  // A size that nothing explains tells no angle.
  if (halo_.told) {
    trace_.long_um = 2 * true_.along * pitch_;
    trace_.short_um = 2 * true_.across * pitch_;
  }
  // The level of the ends is told from that of the sides to about a tenth of the blur.
  trace_.u_long_um = 2 * std::hypot(search.u_along(), search.u_across(), 0.1 * blur_) * pitch_;
  trace_.halo_um = halo_.across * pitch_;
  trace_.u_halo_um =
      std::hypot(kNominalTolerance * layer_.across, search.u_across(), 0.05) * pitch_;
  if (!halo_.told) {
    trace_.doubt =
        fmt::format("its wires look {:.1f} um across instead of {:.1f} um, which no blur explains",
                    2 * size.across * pitch_, 2 * layer_.across * pitch_);
  }
}

void Tracer::Slot(std::vector<FittedWire> wires) {
  Centre(wires);
  CombFit fit = Combs(wires);
  // A slot that seems empty is looked at again before it is called so.
  if (Rescue(field_, limits_, size_, fit, wires)) {
    Centre(wires);
    fit = Combs(wires);
  }
  DropUnlike(fit, wires);
  fit = Combs(wires);
  trace_.centre = Um(centre_);
  if (Misunderstood(fit)) return;
  wires_ = std::move(wires);
}

bool Tracer::Misunderstood(const CombFit& fit) {
  if (!Strange(fit)) return false;
  trace_.counted = trace_.families_told = false;
  const auto seated = std::count_if(fit.slots.begin(), fit.slots.end(),
                                    [](const CombSlot& s) { return s.wire >= 0; });
  trace_.doubt = fmt::format(
      "too many of its slots are empty, or too many wires have none ({} places look like wires, {} "
      "are drawn): its wires were not all told",
      static_cast<std::size_t>(seated) + fit.spare.size(), layer_.expected);
  return true;
}

void Tracer::Settle(const std::vector<FittedWire>& others, const std::vector<const Tracer*>& rest) {
  if (wires_.empty()) return;
  CombFit fit = Combs(wires_);
  if (LookIntoRest(fit, others)) fit = Combs(wires_);
  const UsualWire usual = UsualOf(fit, wires_);
  if (LookFurther(usual, others, rest)) {
    fit = Combs(wires_);
    DropOutlying(fit);
    fit = Combs(wires_);
  }
  // What was taken for a paler wire beside another one, and explains nothing once all have settled.
  if (std::erase_if(wires_,
                    [](const FittedWire& w) { return w.gain <= 0 && w.brightness < kNoMetal; }) > 0)
    fit = Combs(wires_);
  if (Misunderstood(fit)) return;
  trace_.counted = halo_.told;
  trace_.families_told = !fit.crossed;
  if (fit.crossed) {
    trace_.doubt =
        "the two hands of the braid cross at every wire here: which wire is of which "
        "family is not told";
  } else if (layer_.families == 2 && fit.rival < fit.cost + 3) {
    trace_.families_told = false;
    trace_.doubt = "two ways of parting the wires into families fit alike";
  }
  std::vector<FittedWire> all = wires_;
  all.insert(all.end(), others.begin(), others.end());
  const int blobs =
      UnexplainedBlobs(field_, all, size_, limits_.soft_px, layer_.inner - layer_.across,
                       layer_.outer + layer_.across, kUnexplained);
  if (blobs > 0) Doubt("metal is seen there that none of its wires explains");
  for (int k : fit.spare) {
    const PointPx at = wires_[static_cast<std::size_t>(k)].At();
    if (std::any_of(rest.begin(), rest.end(), [&](const Tracer* other) {
          return std::abs(other->OffLayer(at) - OffLayer(at)) < kClearLayer_px;
        }))
      Doubt("an extra wire lies as near to another layer: whose it is, is not told");
  }
  const bool empty = std::any_of(fit.slots.begin(), fit.slots.end(),
                                 [](const CombSlot& slot) { return slot.wire < 0; });
  if (empty && strays_ > 0)
    Doubt(
        "a wire seems to be missing, but elsewhere metal is seen that none of its wires explains");
  if (empty && blind_)
    Doubt("a wire seems to be missing; it may lie where the face is as bright or dark as metal");
  if (AnyOverlap(wires_, true_))
    Doubt("two of its wires were found in each other's place: they were not all told");
  lacks_ = empty;
  spare_ = !fit.spare.empty();
  Emit(field_, fit, wires_, others);
}

bool Tracer::LookIntoRest(const CombFit& fit, const std::vector<FittedWire>& others) {
  const bool empty = std::any_of(fit.slots.begin(), fit.slots.end(),
                                 [](const CombSlot& slot) { return slot.wire < 0; });
  if (!empty) return false;
  FitLimits room = limits_;
  room.inner = std::max(1.0, layer_.inner - 2 * layer_.across);
  room.outer = layer_.outer + 2 * layer_.across;
  std::vector<FittedWire> all = wires_;
  all.insert(all.end(), others.begin(), others.end());
  const std::vector<FittedWire> found = WiresInRest(field_, all, size_, room);
  wires_.insert(wires_.end(), found.begin(), found.end());
  return !found.empty();
}

bool Tracer::LookFurther(const UsualWire& usual, const std::vector<FittedWire>& others,
                         const std::vector<const Tracer*>& rest) {
  if (!usual.told || outline_.empty()) return false;
  FieldRequest request = request_;
  request.inner = 0;
  for (PointPx p : outline_)
    request.outer = std::max(request.outer, Norm(frame_.FromPicture(p)) + 2 * layer_.across);
  WireField field = MakeWireField(micrograph_, tones_, frame_, request);
  if (!field.why.empty()) return false;
  blind_ = field.blind;
  MaskWires(field, others, kMaskGrown_px);
  MaskWires(field, wires_, kMaskGrown_px);
  FitLimits wide = limits_;
  wide.inner = std::max(1.0, layer_.across);
  wide.outer = request.outer - layer_.across;
  bool any = false, touches = false, outside = false;
  for (const FittedWire& wire : LoneWires(field, size_, wide)) {
    if (!usual.Like(wire, bright_)) continue;
    const bool others_one = std::any_of(rest.begin(), rest.end(), [&](const Tracer* other) {
      // Where wires of both are told from one another by their size, places say nothing.
      return std::abs(other->across() - size_.across) < kSameSize * size_.across &&
             other->OffLayer(wire.At()) + kOtherLayer_px < OffLayer(wire.At());
    });
    if (others_one) continue;
    touches = touches || std::any_of(wires_.begin(), wires_.end(), [&](const FittedWire& w) {
                return Distance(w.At(), wire.At()) < 3 * size_.along;
              });
    outside = outside || wire.radius > request_.outer - size_.across;
    wires_.push_back(wire);
    any = true;
  }
  // What is left beside two wires in one's place is no third one.
  if (touches && !outside) SettleWires(field_, wide, wires_);
  std::vector<FittedWire> all = wires_;
  all.insert(all.end(), others.begin(), others.end());
  strays_ = UnexplainedBlobs(field, all, size_, limits_.soft_px, 0, request.outer, kStray);
  return any;
}

void Tracer::DropOutlying(const CombFit& fit) {
  // A void looks like dark metal: only beside the others is it told as an extra wire.
  const double room = 2 * layer_.across;
  const double from = bright_ ? layer_.from : std::max(layer_.from, layer_.inner - room),
               to = bright_ ? layer_.to : std::min(layer_.to, layer_.outer + room);
  std::vector<FittedWire> kept;
  for (std::size_t k = 0; k < wires_.size(); ++k) {
    const bool spare =
        std::find(fit.spare.begin(), fit.spare.end(), static_cast<int>(k)) != fit.spare.end();
    const double r = layer_.Middle() + Height(wires_[k].At());
    if (!spare || (r > from && r < to)) kept.push_back(wires_[k]);
  }
  wires_ = std::move(kept);
}

bool Tracer::Strange(const CombFit& fit) const {
  const auto empty = std::count_if(fit.slots.begin(), fit.slots.end(),
                                   [](const CombSlot& s) { return s.wire < 0; });
  const auto most = std::max<std::ptrdiff_t>(3, layer_.expected / 6);
  return empty > most || static_cast<std::ptrdiff_t>(fit.spare.size()) > most;
}

void Tracer::Centre(const std::vector<FittedWire>& wires) {
  centre_ = {0, 0};
  radius_ = layer_.Middle();
  std::vector<PointPx> at;
  for (const FittedWire& wire : wires) at.push_back(wire.At());
  if (at.size() < 6) return;
  const LayerCircle circle = CircleOfMost(at);
  if (Norm(circle.centre) > kOffDrawn * radius_ + kOffDrawn_px) return;
  centre_ = circle.centre;
  radius_ = circle.radius;
}

CombFit Tracer::Combs(const std::vector<FittedWire>& wires) {
  std::vector<double> angles, heights, odd;
  const double usual = 0.5 * (layer_.outer - layer_.inner) + 0.5 * layer_.across + kUsualRise_px;
  for (const FittedWire& wire : wires) {
    const PointPx d = wire.At() - centre_;
    angles.push_back(std::atan2(d.y, d.x));
    heights.push_back(Norm(d));
    const double off = std::max(0.0, std::abs(Norm(d) - radius_) - usual) / layer_.across;
    odd.push_back(std::min(kMostOdd, off * off));
  }
  WeavePlan plan;
  plan.radius = radius_;
  plan.rise = 0.5 * (layer_.outer - layer_.inner);
  plan.combs.families = layer_.families;
  plan.combs.groups = layer_.groups;
  plan.combs.ends = layer_.ends;
  plan.combs.apart_rad = 2 * 1.06 * true_.along / radius_;
  plan.combs.gate_rad = kGateShare * 2 * M_PI / layer_.groups;
  plan.combs.reach_rad = kAstray * 2 * true_.along / radius_;
  plan.combs.scatter_rad =
      std::min(std::max(kScatter_rad, 1.5 / radius_), 0.12 * 2 * M_PI / layer_.groups);
  WeaveFit fit = FitWeave(angles, heights, odd, plan);
  weave_ = fit.heights;
  return std::move(fit.combs);
}

FittedWire Tracer::AtSlot(const CombSlot& slot, const WireSize& size) const {
  FittedWire wire;
  PutAt(centre_ + weave_.At(slot) * PointPx{std::cos(slot.angle), std::sin(slot.angle)}, wire);
  wire.size = size;
  return wire;
}

bool Tracer::Rescue(const WireField& field, const FitLimits& limits, const WireSize& size,
                    const CombFit& fit, std::vector<FittedWire>& wires) const {
  bool any = false;
  std::vector<FittedWire> now = wires;
  for (const CombSlot& slot : fit.slots) {
    if (slot.wire >= 0) continue;
    const FittedWire there = AtSlot(slot, size);
    any = Part(field, limits, there, now) || any;
  }
  const double along =
      std::max({3.0, 3 * std::max(fit.scatter_rad, 0.004) * radius_, kPaleReach * size.along});
  const double across = 0.5 * (layer_.outer - layer_.inner) + 3;
  for (const CombSlot& slot : fit.slots) {
    if (slot.wire >= 0) continue;
    const FittedWire there = AtSlot(slot, size);
    const FittedWire pale = LookForPale(field, there, along, across, now);
    if (pale.strength <= 0) continue;
    now.push_back(pale);
    any = true;
  }
  if (!any) return false;
  SettleWires(field, limits, now);
  wires = std::move(now);
  return true;
}

bool Tracer::Part(const WireField& field, const FitLimits& limits, const FittedWire& there,
                  std::vector<FittedWire>& wires) {
  std::size_t nearest = wires.size();
  double least = 2.2 * there.size.along;
  for (std::size_t k = 0; k < wires.size(); ++k) {
    const double d = Distance(wires[k].At(), there.At());
    if (d < least) least = d, nearest = k;
  }
  return nearest < wires.size() && SplitWire(field, limits, nearest, wires);
}

void Tracer::DropUnlike(const CombFit& fit, std::vector<FittedWire>& wires) const {
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
  // Fitted into something larger.
  for (const CombSlot& slot : fit.slots) {
    if (slot.wire < 0) continue;
    const FittedWire& wire = wires[static_cast<std::size_t>(slot.wire)];
    drop[static_cast<std::size_t>(slot.wire)] =
        (wire.beyond > 0.6 && wire.misfit > worst) || wire.misfit > kNoFit * Median(misfit) + 0.05;
  }
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

}  // namespace wires

namespace {

constexpr double kBetterOrder = 0.1;  // by which another order must be better
constexpr double kSureOrder = 0.6;    // score of a layer that was understood
constexpr double kRoam = 5.5;         // wire sizes that a wire may have been pushed across
constexpr double kRoam_px = 12;

// How far from its drawn radii a layer's wires are looked for: half way to where the next layer's
// lie.
void TellRoom(std::vector<WirePlan>& layers) {
  for (std::size_t k = 0; k < layers.size(); ++k) {
    WirePlan& layer = layers[k];
    const double roam = kRoam * 2 * layer.across + kRoam_px;
    layer.from = layer.inner - roam;
    layer.to = layer.outer + roam;
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
  }
}

// Each layer's wires, in this order: those that were found are no metal of the next ones.
std::vector<wires::Tracer> FindInOrder(wires::Face& face, const std::vector<WirePlan>& layers,
                                       const std::vector<std::size_t>& order) {
  std::vector<wires::Tracer> tracers;
  tracers.reserve(layers.size());
  std::vector<FittedWire> taken;
  face.side = 0;
  for (std::size_t k : order) {
    wires::Tracer& tracer = tracers.emplace_back(face, layers[k]);
    tracer.Find(taken);
    taken.insert(taken.end(), tracer.wires().begin(), tracer.wires().end());
  }
  return tracers;
}

double LeastScore(const std::vector<wires::Tracer>& tracers) {
  double least = 1;
  for (const wires::Tracer& tracer : tracers) least = std::min(least, tracer.score());
  return least;
}

// Wires that a layer has beyond the drawn ones may be those of another layer, where that one's were
// not all told.
void DoubtExtrasBesideUntold(Section& section) {
  for (WireLayerTrace& layer : section.wire_layers) {
    const bool extra = std::any_of(section.wires.begin(), section.wires.end(), [&](const auto& w) {
      return w.layer == layer.name && w.state == WireState::kExtra;
    });
    if (!layer.counted || !extra) continue;
    for (const WireLayerTrace& other : section.wire_layers) {
      if (&other == &layer || other.counted) continue;
      layer.counted = false;
      layer.doubt = fmt::format("its extra wires may be those of {}, whose wires were not all told",
                                other.name);
      break;
    }
  }
}

}  // namespace

void wires::TraceWiresAt(const Warp& warp, const Micrograph& micrograph, const FaceTones& tones,
                         const Scale& scale, const SectionDesign& plane, Section& section) {
  std::vector<WirePlan> layers;
  for (const WireLayerDesign& design : plane.wires)
    layers.push_back(PlanOf(design, scale.mean_pitch_um()));
  TellRoom(layers);
  wires::Face face(micrograph, warp, tones, scale, section);
  // The largest wires first: smaller ones are easily fitted into them.
  std::vector<std::size_t> order(layers.size());
  for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return layers[a].across * layers[a].along > layers[b].across * layers[b].along;
  });
  std::vector<wires::Tracer> first = FindInOrder(face, layers, order), second;
  if (layers.size() > 1 && LeastScore(first) < kSureOrder) {
    // One layer's wires may have been taken for the other's.
    std::reverse(order.begin(), order.end());
    second = FindInOrder(face, layers, order);
  }
  std::vector<wires::Tracer>& tracers =
      !second.empty() && LeastScore(second) > LeastScore(first) + kBetterOrder ? second : first;
  wires::PassOn(tracers);
  wires::PassBySize(tracers);
  for (std::size_t k = 0; k < tracers.size(); ++k) {
    std::vector<FittedWire> others;
    std::vector<const wires::Tracer*> rest;
    for (std::size_t j = 0; j < tracers.size(); ++j) {
      if (j == k) continue;
      others.insert(others.end(), tracers[j].wires().begin(), tracers[j].wires().end());
      rest.push_back(&tracers[j]);
    }
    tracers[k].Settle(others, rest);
  }
  wires::DoubtSwaps(tracers);
  for (wires::Tracer& tracer : tracers) tracer.Finish();
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
  DoubtExtrasBesideUntold(section);
  NominalEdges nominal;
  nominal.outline = InPicture(plane.outline.contour, warp, scale);
  for (const LumenDesign& lumen : plane.lumens)
    nominal.lumens[lumen.name] = InPicture(lumen.shape.contour, warp, scale);
  MendAtWires(scale, nominal, section);
}

}  // namespace cutface
