#include "identify/wire_swap.h"

#include <algorithm>
#include <cmath>

namespace cutface::wires {
namespace {

constexpr double kUnlikeLayers = 1.25;  // ratio of areas: sizes tell layers apart
constexpr double kClearlyTheirs = 0.3;  // of the way from their size to the own one (log)

}  // namespace

void PassOn(std::vector<Tracer>& tracers) {
  for (Tracer& from : tracers) {
    const std::size_t spare = from.Spares().size();
    if (spare == 0) continue;
    struct Lost {
      FittedWire wire;
      double off = 0;
      Tracer* to = nullptr;
    };
    std::vector<Lost> lost;
    for (const FittedWire& wire : from.wires()) {
      const double own = from.OffLayer(wire.At());
      Lost best{wire, own, nullptr};
      double least = own - kOtherLayer_px;
      for (Tracer& to : tracers) {
        const double off = to.OffLayer(wire.At());
        if (&to != &from && off < least) least = off, best.to = &to;
      }
      if (best.to != nullptr) lost.push_back(best);
    }
    std::stable_sort(lost.begin(), lost.end(),
                     [](const Lost& a, const Lost& b) { return a.off > b.off; });
    if (lost.size() > spare) lost.resize(spare);
    for (const Lost& l : lost) l.to->TakeFrom(from, l.wire);
    // One that was pushed straight out of its own layer stands before its empty slot.
    for (const FittedWire& wire : from.Spares()) {
      const auto to = std::find_if(tracers.begin(), tracers.end(),
                                   [&](Tracer& t) { return &t != &from && t.LacksOneLike(wire); });
      if (to != tracers.end()) to->TakeFrom(from, wire);
    }
  }
}

void PassBySize(std::vector<Tracer>& tracers) {
  struct Passed {
    Tracer *from, *to;
    FittedWire wire;
  };
  // All are told first: one that was passed on is not looked at in its new layer, where its metal
  // was taken away.
  std::vector<Passed> passed;
  for (Tracer& from : tracers) {
    for (Tracer& to : tracers) {
      if (&to == &from || from.wires().empty() || to.wires().empty()) continue;
      const double apart = std::log(from.Area() / to.Area());
      if (std::abs(apart) < std::log(kUnlikeLayers)) continue;
      const auto lacks = to.expected() - static_cast<std::ptrdiff_t>(to.wires().size());
      if (lacks <= 0) continue;
      std::vector<Passed> theirs;
      for (const FittedWire& wire : from.wires()) {
        if (wire.alone && std::log(from.OwnArea(wire) / to.Area()) / apart < kClearlyTheirs)
          theirs.push_back({&from, &to, wire});
      }
      // More of them than it lacks: the sizes were not understood.
      if (static_cast<std::ptrdiff_t>(theirs.size()) <= lacks)
        passed.insert(passed.end(), theirs.begin(), theirs.end());
    }
  }
  for (const Passed& p : passed) p.to->TakeFrom(*p.from, p.wire);
}

void DoubtSwaps(std::vector<Tracer>& tracers) {
  const bool lacks =
      std::any_of(tracers.begin(), tracers.end(), [](const Tracer& t) { return t.lacks(); });
  const bool spare =
      std::any_of(tracers.begin(), tracers.end(), [](const Tracer& t) { return t.spare(); });
  if (tracers.size() < 2 || !lacks || !spare) return;
  for (Tracer& tracer : tracers) {
    if (tracer.lacks() || tracer.spare())
      tracer.Doubt("one layer lacks wires and one has extra ones: whose they are is not told");
  }
}

}  // namespace cutface::wires
