#include "measure/clock_gaps.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/stats.h"

namespace cutface::measure {
namespace {

constexpr double kDegrees = 180 / std::numbers::pi;
constexpr double kUnseen_px = 5, kUnseen_deg = 1.5;  // what identify tells at least
constexpr double kTaperShare = 0.05;  // of a liner gap's arc: where a taper ends, per end

struct ClockArc {
  double from = 0, to = 0;  // rad
  PointUm first, last;
};

ClockArc ArcOf(const ContourUm& contour, PointUm centre) {
  const PointUm middle = Centroid<FrameUm>(contour) - centre;
  ClockArc arc;
  double low = 1e9, high = -1e9;
  for (const PointUm p : contour) {
    const PointUm d = p - centre;
    const double off = std::atan2(Cross(middle, d), Dot(middle, d));
    if (off < low) low = off, arc.first = p;
    if (off > high) high = off, arc.last = p;
  }
  const double at = std::atan2(middle.y, middle.x);
  arc.from = at + low;
  arc.to = at + high;
  return arc;
}

double Across(const ContourUm& contour, PointUm centre) {
  double low = 1e300, high = 0;
  for (const PointUm p : contour) {
    low = std::min(low, Distance(p, centre));
    high = std::max(high, Distance(p, centre));
  }
  return high - low;
}

// Sums arcs; those that overlap are one.
void Sum(std::vector<ClockArc> arcs, ClockGaps& gaps) {
  constexpr double kTurn = 2 * std::numbers::pi;
  for (ClockArc& arc : arcs) {
    const double turns = kTurn * std::floor(arc.from / kTurn);
    arc.from -= turns;
    arc.to -= turns;
  }
  std::stable_sort(arcs.begin(), arcs.end(),
                   [](const ClockArc& a, const ClockArc& b) { return a.from < b.from; });
  std::vector<ClockArc> joined;
  for (const ClockArc& arc : arcs) {
    if (!joined.empty() && arc.from <= joined.back().to) {
      if (arc.to > joined.back().to) joined.back().to = arc.to, joined.back().last = arc.last;
    } else {
      joined.push_back(arc);
    }
  }
  if (joined.size() > 1 && joined.back().to - kTurn >= joined.front().from) {
    joined.back().to = std::max(joined.back().to, joined.front().to + kTurn);
    joined.back().last = joined.front().last;
    joined.erase(joined.begin());
  }
  gaps.count = static_cast<int>(joined.size());
  for (const ClockArc& arc : joined) {
    const double degrees = std::min(360.0, (arc.to - arc.from) * kDegrees);
    gaps.total_deg += degrees;
    if (degrees <= gaps.longest_deg) continue;
    gaps.longest_deg = degrees;
    gaps.ends = {arc.first, arc.last};
  }
  gaps.total_deg = std::min(360.0, gaps.total_deg);
}

template <class Chosen>
ClockGaps GapsAbout(const Face& face, int edge, double pitch_um, const Chosen& chosen) {
  ClockGaps gaps;
  const Feature& feature = face.features[static_cast<std::size_t>(edge)];
  if (!feature.Measurable() || !feature.whole) return gaps;
  gaps.told = true;
  const PointUm centre = Centroid<FrameUm>(feature.full);
  const double radius = std::sqrt(Area<FrameUm>(feature.full) / std::numbers::pi);
  gaps.unseen_deg = std::max(kUnseen_deg, kUnseen_px * pitch_um / radius * kDegrees);
  std::vector<ClockArc> arcs;
  double u_um = 0;
  for (int hole : face.voids) {
    const Feature& v = face.features[static_cast<std::size_t>(hole)];
    if (!v.Measurable() || !chosen(v, centre)) continue;
    arcs.push_back(ArcOf(v.full, centre));
    u_um = std::max(u_um, std::hypot(v.traced->u_common_um, Median(v.sigma)));
  }
  Sum(std::move(arcs), gaps);
  gaps.u_end_deg = u_um / radius * kDegrees;
  return gaps;
}

}  // namespace

ClockGaps BondGaps(const Face& face, const SectionDesign& plane, double pitch_um) {
  if (!plane.bond) return {};
  const int adhesive = face.FindLayer(plane.bond->adhesive);
  if (adhesive < 0) return {};
  const Layer& layer = face.layers[static_cast<std::size_t>(adhesive)];
  if (layer.inner < 0 || layer.outer < 0 ||
      !face.features[static_cast<std::size_t>(layer.outer)].Measurable())
    return {};
  return GapsAbout(face, layer.inner, pitch_um, [&](const Feature& v, PointUm centre) {
    return v.hole->kind == VoidClass::kBondGap && Across(v.full, centre) >= plane.bond->gap_um;
  });
}

ClockGaps LayerGaps(const Face& face, const Layer& layer, const SectionDesign& plane,
                    double pitch_um) {
  if (plane.bond && layer.name == plane.bond->adhesive) return BondGaps(face, plane, pitch_um);
  if (!plane.wires.empty() || !layer.name.ends_with("/liner")) return {};
  if (layer.inner < 0 || layer.outer < 0) return {};
  const auto outer_of = [&](const Layer& l) {
    return l.outer < 0 ? nullptr : &face.features[static_cast<std::size_t>(l.outer)];
  };
  if (!outer_of(layer)->Measurable()) return {};
  ClockGaps gaps = GapsAbout(face, layer.inner, pitch_um, [&](const Feature& v, PointUm) {
    if (v.hole->kind != VoidClass::kLinerGap) return false;
    const PointUm at = v.hole->centroid;
    const Layer* nearest = nullptr;
    double least = 1e300;
    for (const Layer& l : face.layers) {
      if (!l.name.ends_with("/liner") || outer_of(l) == nullptr || !outer_of(l)->Measurable())
        continue;
      const ContourIndex<FrameUm> index{std::span<const PointUm>(outer_of(l)->full)};
      const auto near = index.NearestTo(v.full.front(), 1e9);
      const double distance = near ? near->distance : Distance(at, v.full.front());
      if (distance < least) least = distance, nearest = &l;
    }
    return nearest == &layer || (nearest != nullptr && nearest->name == layer.name);
  });
  gaps.u_end_deg = std::hypot(gaps.u_end_deg, kTaperShare * gaps.longest_deg);
  return gaps;
}

}  // namespace cutface::measure
