#include "identify/lengthwise_cover.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "cutface/stats.h"
#include "identify/wire_mend.h"

namespace cutface {
namespace {

constexpr double kTouches_px = 5;     // a wall's edge that runs round a wire, off its metal
constexpr double kBesideBare_px = 4;  // beyond what was painted over: a bend of the traced edge
constexpr double kMostBare = 0.8;     // of a bore's vertices: round a row of wires they are many
constexpr double kHardlyBare = 0.28;  // of the round: a wire's own blur makes as much beside a bore

}  // namespace

std::optional<double> CoverOver(const TracedContour& edge, const CutWirePlace& place,
                                double outward, double pitch_um) {
  constexpr std::size_t kChord = 6;
  constexpr double kSameSide = 0.94;  // cosine: 20 degrees
  const double reach = place.reach_um;
  const std::vector<ContourVertex>& v = edge.vertices;
  if (v.size() < 4 * kChord) return std::nullopt;
  std::size_t nearest = 0;
  for (std::size_t i = 1; i < v.size(); ++i) {
    if (Distance(v[i].at, place.at) < Distance(v[nearest].at, place.at)) nearest = i;
  }
  if (Distance(v[nearest].at, place.at) > 2 * reach + 4 * pitch_um) return std::nullopt;
  const auto normal_at = [&](std::size_t i, std::size_t chord) {
    const PointUm d = v[(i + chord) % v.size()].at - v[(i + v.size() - chord) % v.size()].at;
    return (1 / std::max(1e-9, Norm(d))) * PointUm{d.y, -d.x};
  };
  // The side's own direction: over a stretch longer than the wire.
  std::size_t wide = kChord;
  while (wide < v.size() / 8 &&
         Distance(v[nearest].at, v[(nearest + wide) % v.size()].at) < 2.5 * reach)
    ++wide;
  const PointUm normal = normal_at(nearest, wide);
  std::vector<double> heights;
  for (std::size_t i = 0; i < v.size(); ++i) {
    const double aside = std::abs(Cross(normal, v[i].at - place.at));
    if (v[i].state == VertexState::kCutOff || aside < 1.3 * reach || aside > 9 * reach) continue;
    if (Distance(v[i].at, place.at) > 9 * reach || Dot(normal_at(i, kChord), normal) < kSameSide)
      continue;
    if (place.hidden(v[i].at)) continue;
    heights.push_back(outward * Dot(v[i].at - place.at, normal));
  }
  if (heights.size() < 6) return std::nullopt;
  double most = std::numeric_limits<double>::lowest();
  for (PointUm p : place.metal) most = std::max(most, outward * Dot(p - place.at, normal));
  return Median(std::move(heights)) - most;
}

void MendPaintedBore(const std::vector<PaintedDisc>& painted, const ContourUm& drawn,
                     LumenTrace& lumen) {
  std::vector<ContourVertex>& v = lumen.bore.vertices;
  std::vector<char> flagged(v.size(), 0);
  for (const PaintedDisc& disc : painted) {
    for (std::size_t i = 0; i < v.size(); ++i) {
      if (Distance(v[i].at, disc.at) < disc.reach_um) flagged[i] = 1;
    }
  }
  if (std::count(flagged.begin(), flagged.end(), 1) > 0 &&
      !BridgeAsDrawn(flagged, drawn, lumen.bore, kMostBare))
    BridgeContour(flagged, lumen.bore);
}

void MendBareBore(const std::vector<WireTrace>& wires, const ContourUm& drawn, double pitch_um,
                  LumenTrace& lumen) {
  std::vector<ContourVertex>& v = lumen.bore.vertices;
  std::vector<char> flagged(v.size(), 0);
  bool any = false;
  for (const WireTrace& wire : wires) {
    if (wire.exposed_to != lumen.names.front() || wire.contour.vertices.empty()) continue;
    const double reach = 0.5 * wire.long_um +
                         (kBesideBare_px + WireMargin_px(0.5 * wire.long_um / pitch_um)) * pitch_um;
    for (std::size_t i = 0; i < v.size(); ++i) {
      if (Distance(v[i].at, wire.centroid) < reach) flagged[i] = any = true;
    }
  }
  if (any && !BridgeAsDrawn(flagged, drawn, lumen.bore, kMostBare))
    BridgeContour(flagged, lumen.bore);
}

bool StandsOut(const TracedContour& edge, const CutWirePlace& place, double outward,
               double pitch_um) {
  if (edge.vertices.size() < 6) return false;
  const CutWire& wire = place.wire;
  const bool bore = outward < 0, bare = bore && wire.Bare();
  const auto cover = CoverOver(edge, place, outward, pitch_um);
  if (cover && !bare) return *cover < 0;
  // All its edge is told, and hardly any of it lies in a bore.
  if (bore && wire.bare_share > 0 && wire.bare_share < kHardlyBare &&
      wire.seen_share + wire.bare_share > kStandsFree)
    return false;
  if (wire.seen_share > kStandsFree) return false;
  // A bore's edge was settled round the wire, which was painted over with a margin.
  const double near_px = kTouches_px + (bare ? WireMargin_px(place.radius_px) : 0);
  return LeastDistance(place.metal, edge.Points()).distance < near_px * pitch_um;
}

}  // namespace cutface
