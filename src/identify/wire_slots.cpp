#include "identify/wire_slots.h"

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"

namespace cutface {
namespace {

double Turned(double a) { return std::remainder(a, 2 * M_PI); }

// Heights of the wires in slots like this one, itself left out.
std::vector<double> HeightsAlike(const CombFit& fit, const CombSlot& slot,
                                 const std::vector<FittedWire>& wires, const SlotFrame& frame) {
  std::vector<double> heights;
  for (const CombSlot& other : fit.slots) {
    if (other.wire < 0 || other.family != slot.family || &other == &slot) continue;
    const double steps = Turned(other.angle - slot.angle) / frame.step_rad;
    const double whole = std::round(steps);
    if (std::abs(steps - whole) > 0.3 || std::fmod(std::abs(whole), 2.0) > 0.5) continue;
    const double height = Norm(wires[static_cast<std::size_t>(other.wire)].At() - frame.centre);
    if (std::abs(height - frame.radius) < frame.most_off) heights.push_back(height);
  }
  return heights;
}

}  // namespace

PointPx SlotPlace(const CombFit& fit, const CombSlot& slot, const std::vector<FittedWire>& wires,
                  const SlotFrame& frame) {
  std::vector<double> heights = HeightsAlike(fit, slot, wires, frame);
  const double height = heights.size() < 2 ? frame.radius : Median(std::move(heights));
  return frame.centre + height * PointPx{std::cos(slot.angle), std::sin(slot.angle)};
}

void SwapByHeight(const std::vector<FittedWire>& wires, PointPx centre, const SlotFrame& frame,
                  CombFit& fit) {
  constexpr double kClear = 3;  // log-likelihood
  // How far wires usually lie from their slots, both ways.
  std::vector<double> along, up;
  for (const CombSlot& slot : fit.slots) {
    if (slot.wire < 0) continue;
    const PointPx d = wires[static_cast<std::size_t>(slot.wire)].At() - centre;
    along.push_back(frame.radius * Turned(std::atan2(d.y, d.x) - slot.angle));
    up.push_back(Norm(d) - Norm(SlotPlace(fit, slot, wires, frame) - centre));
  }
  if (along.size() < 6) return;
  const double s_along = std::max(0.4, RobustSigma(along)), s_up = std::max(0.4, RobustSigma(up));
  const auto cost = [&](const CombSlot& slot, int wire) {
    const PointPx d = wires[static_cast<std::size_t>(wire)].At() - centre;
    const double a = frame.radius * Turned(std::atan2(d.y, d.x) - slot.angle) / s_along;
    const double u = (Norm(d) - Norm(SlotPlace(fit, slot, wires, frame) - centre)) / s_up;
    return 1.4 * std::log1p(0.36 * a * a) + 1.4 * std::log1p(0.36 * u * u);
  };
  // Of two wires that cross, one over and one under, either may lie nearer to either slot.
  for (CombSlot& one : fit.slots) {
    if (one.wire < 0 || one.family != 0) continue;
    for (CombSlot& other : fit.slots) {
      if (other.wire < 0 || other.family == 0) continue;
      if (std::abs(Turned(one.angle - other.angle)) > 0.3 * frame.step_rad) continue;
      const double better = cost(one, one.wire) + cost(other, other.wire) - cost(one, other.wire) -
                            cost(other, one.wire);
      if (better > kClear) std::swap(one.wire, other.wire);
    }
  }
  for (CombSlot& empty : fit.slots) {
    if (empty.wire >= 0) continue;
    CombSlot* best = nullptr;
    double most = kClear;
    for (CombSlot& slot : fit.slots) {
      if (slot.wire < 0 || slot.family == empty.family) continue;
      if (std::abs(Turned(slot.angle - empty.angle)) > 0.3 * frame.step_rad) continue;
      const double better = cost(slot, slot.wire) - cost(empty, slot.wire);
      if (better > most) most = better, best = &slot;
    }
    if (best != nullptr) std::swap(best->wire, empty.wire);
  }
}

}  // namespace cutface
