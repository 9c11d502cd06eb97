#include "identify/wire_search.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"
#include "identify/wire_astray.h"

namespace cutface {
namespace {

constexpr double kBeyond = 0.25;      // metal just outside a wire that no wire explains
constexpr double kMuchMisfit = 0.35;  // likewise
constexpr double kRivalSide = 0.4;    // of the contrast: the other side is tried as well
constexpr std::size_t kSingles = 5;   // wires that stand alone, to tell the size from them
// Beyond so many proposals it is texture that looks like metal; wires are not told from it.
constexpr std::size_t kMostOfDrawn = 3, kMostSpecks = 24;
constexpr int kSizeRounds = 3;
constexpr double kTakenGrown_px = 0.8;
constexpr double kPoor = 0.6;        // of a score: wires were not understood
constexpr double kUsualHalo = 0.6;   // of the blur, by which wires look larger than they are
constexpr double kLeastWire_px = 4;  // smaller ones are not told from specks

// Places where metal goes on around a wire may hold two.
void SplitAll(const WireField& field, const FitLimits& limits, std::vector<FittedWire>& wires) {
  const std::size_t count = wires.size();
  bool any = false;
  for (std::size_t k = 0; k < count; ++k) {
    if (wires[k].beyond > kBeyond || wires[k].misfit > kMuchMisfit)
      any = SplitWire(field, limits, k, wires) || any;
  }
  if (any) SettleWires(field, limits, wires);
}

}  // namespace

WirePlan PlanOf(const WireLayerDesign& design, double pitch) {
  WirePlan layer;
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

std::string Unusable(const WirePlan& layer) {
  if (layer.expected < 1) return "the drawing does not say how many wires there are";
  if (layer.outer <= 0) return "the drawing does not say on which diameter its wires lie";
  if (layer.across <= 0) return "the drawing gives no size of its wires";
  if (2 * layer.across < kLeastWire_px)
    return fmt::format("its wires are {:.1f} px small, below {:.0f} px", 2 * layer.across,
                       kLeastWire_px);
  return "";
}

std::optional<WireTrial> WireSearch::Best(FieldRequest request) {
  const bool told = request.side != 0;
  std::optional<WireTrial> best = TrySide(request);
  // Beside a core of another tone the body's own may stand out more than the metal.
  if (!told && (!best || best->field.rival > kRivalSide)) {
    request.side = bright_ ? -1 : 1;
    std::optional<WireTrial> other = TrySide(request);
    if (other && (!best || other->score > best->score)) best = std::move(other);
  }
  if (best) bright_ = best->field.bright;
  return best;
}

// The wires if metal lies on the requested side of the body's tone. Where few are found the dark or
// bright edge of a bore or the wires of another layer may have been taken for metal of this one: it
// is looked for once more where it is drawn, and of the size that it is drawn.
std::optional<WireTrial> WireSearch::TrySide(const FieldRequest& request) {
  WireField field = MakeWireField(micrograph_, tones_, frame_, request);
  if (!field.why.empty()) {
    why_ = field.why;
    return std::nullopt;
  }
  bright_ = field.bright;
  MaskWires(field, taken_, kTakenGrown_px);
  const double clear = kPoor * std::min(1.0, field.contrast);
  std::optional<WireTrial> best;
  const auto take = [&](std::optional<WireTrial> trial) {
    if (trial && (!best || trial->score > best->score)) best = std::move(trial);
  };
  const double from = std::max(1.0, layer_.from);
  take(Try(field, from, layer_.to, FirstSize(field, request)));
  if (best && best->score >= clear) return best;
  const double near = std::max(from, request.metal_from),
               far = std::min(layer_.to, request.metal_to);
  // Light spreads from bright metal; dark metal looks as large as it is.
  const double usual = bright_ ? kUsualHalo * blur_ : 0;
  const double halo = std::clamp(usual, LeastHalo(), MostHalo());
  const WireSize drawn{layer_.along + halo, layer_.across + halo, layer_.flat};
  take(Try(field, near, far, drawn));
  // Where all wires lie in pairs, a pair must not pass for a larger wire.
  if (!best || best->score < clear) take(Try(field, near, far, drawn, true));
  if (!best || best->score < clear) take(Try(field, from, layer_.to, drawn, true));
  return best;
}

std::optional<WireTrial> WireSearch::Try(const WireField& field, double from, double to,
                                         const WireSize& start, bool as_drawn) {
  WireTrial trial;
  trial.field = field;
  FitLimits& limits = trial.limits;
  limits.inner = from;
  limits.outer = to;
  limits.soft_px = std::clamp(2.2 * blur_, 1.5, 6.0);
  limits.most = kMostOfDrawn * static_cast<std::size_t>(layer_.expected) + kMostSpecks;
  WireSize& size = trial.size;
  size = start;
  limits.halo_px = std::max(0.0, size.across - layer_.across);
  trial.wires = FindWires(field, size, limits);
  SplitAll(field, limits, trial.wires);
  // Places and size tell each other.
  for (int round = 0; !as_drawn && round < kSizeRounds && !trial.wires.empty(); ++round) {
    const WireSize better = SizeOf(field, limits, trial.wires, size);
    if (std::abs(better.along - size.along) + std::abs(better.across - size.across) <= 0.3) break;
    size = better;
    limits.halo_px = std::max(0.0, size.across - layer_.across);
    trial.wires = FindWires(field, size, limits);
    SplitAll(field, limits, trial.wires);
  }
  if (trial.wires.empty()) {
    why_ = "no wire was found, or far more places look like one than wires are drawn";
    return std::nullopt;
  }
  double clear = 0, astray = 0;
  for (const FittedWire& wire : trial.wires) {
    const bool placed = wire.radius > layer_.inner - layer_.across - 3 &&
                        wire.radius < layer_.outer + layer_.across + 3;
    (placed ? clear : astray) += std::clamp(wire.gain, 0.0, 1.0);
  }
  trial.score = (std::min<double>(clear, layer_.expected) - astray) / layer_.expected *
                std::min(1.0, field.contrast);
  return trial;
}

// Half-level size from the area of all metal, as if no wire were missing.
WireSize WireSearch::FirstSize(const WireField& field, const FieldRequest& request) const {
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
  double low = LeastHalo(), high = MostHalo();
  WireSize size;
  for (int k = 0; k < 30; ++k) {
    const double halo = 0.5 * (low + high);
    size = {layer_.along + halo, layer_.across + halo, layer_.flat};
    (size.Area() < each ? low : high) = halo;
  }
  return size;
}

// Median of what wires that stand alone show of themselves.
WireSize WireSearch::SizeOf(const WireField& field, const FitLimits& limits,
                            const std::vector<FittedWire>& wires, const WireSize& otherwise) {
  std::vector<double> along, across;
  for (const FittedWire& wire : wires) {
    if (!wire.alone || wire.gain < 0.6 || along.size() >= 24) continue;
    const WireSize own = OwnSize(field, limits, wire);
    // Two that lie on one another look like one of twice the size.
    if (std::abs(own.across - otherwise.across) > std::max(1.2, 0.3 * otherwise.across)) continue;
    if (std::abs(own.along - otherwise.along) > std::max(1.5, 0.35 * otherwise.along)) continue;
    along.push_back(own.along);
    across.push_back(own.across);
  }
  const std::size_t singles = along.size();
  if (singles < kSingles) return JointSize(field, limits, wires, otherwise);
  u_along_ = 1.25 * RobustSigma(along) / std::sqrt(static_cast<double>(singles));
  u_across_ = 1.25 * RobustSigma(across) / std::sqrt(static_cast<double>(singles));
  return Plausible({Median(std::move(along)), Median(std::move(across)), layer_.flat});
}

// One size for all wires at once, where few stand alone.
WireSize WireSearch::JointSize(const WireField& field, const FitLimits& limits,
                               const std::vector<FittedWire>& wires, const WireSize& start) {
  u_along_ = u_across_ = 0.15;
  std::vector<FittedWire> moved = wires;
  const auto cost = [&](const WireSize& size) {
    for (FittedWire& wire : moved) wire.size = size;
    return CostOfAll(field, limits, moved, start);
  };
  WireSize best = start;
  double least = cost(best);
  for (const double step : {0.6, 0.25, 0.1}) {
    for (int round = 0; round < 8; ++round) {
      bool better = false;
      for (int way = 0; way < 4; ++way) {
        WireSize tried = best;
        (way < 2 ? tried.along : tried.across) += way % 2 == 0 ? step : -step;
        const WireSize kept = Plausible(tried);
        if (kept.across != tried.across || kept.along != tried.along) continue;
        const double now = cost(tried);
        if (now < least - 1e-9) least = now, best = tried, better = true;
      }
      if (!better) break;
    }
  }
  return Plausible(best);
}

// Blur and halo make wires look larger by so much and no more; a wire is as long as its angle
// makes it, give or take a third.
WireSize WireSearch::Plausible(const WireSize& size) const {
  WireSize out = size;
  out.across = std::clamp(size.across, layer_.across + LeastHalo(), layer_.across + MostHalo());
  const double halo = out.across - layer_.across;
  out.along = std::clamp(size.along, 0.7 * layer_.along + halo, 1.35 * layer_.along + halo);
  return out;
}
double WireSearch::LeastHalo() const { return -std::min(0.35 * layer_.across, 1.0); }
double WireSearch::MostHalo() const {
  return bright_ ? std::min(0.9 * layer_.across + 1, 3.2 * blur_ + 1.2) : 0.35 * blur_ + 0.8;
}

}  // namespace cutface
