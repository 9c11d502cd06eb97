#include "identify/symmetry.h"

#include <numeric>

namespace cutface {
namespace {

constexpr double kSameShape = 0.97;  // overlap that no eye or process tells apart
constexpr double kOutlineSame = 0.01;

// Mean distance between an outline and itself turned, in radii, is at most `tolerance`.
bool OutlineFits(const ContourIndex<FrameUm>& index, const ContourUm& probe, PointUm about,
                 const Turn& turn, double radius, double tolerance) {
  const double most = tolerance * radius * static_cast<double>(probe.size());
  double sum = 0;
  for (PointUm p : probe) {
    const auto near = index.NearestTo(Applied(turn, about, p), radius);
    sum += near ? near->distance : radius;
    if (sum > most) return false;
  }
  return true;
}

struct Lump {
  double area = 0;
  PointUm centre;
};
std::vector<Lump> LumpsOf(const SectionDesign& plane) {
  std::vector<Lump> lumps;
  for (const LumenDesign& lumen : plane.lumens) {
    const std::span<const PointUm> contour(lumen.shape.contour);
    lumps.push_back({Area(contour), Centroid(contour)});
  }
  return lumps;
}

ContourUm Moved(const ContourUm& contour, PointUm about, const Turn& turn) {
  ContourUm out;
  out.reserve(contour.size());
  for (PointUm p : contour) out.push_back(Applied(turn, about, p));
  if (turn.mirrored) std::reverse(out.begin(), out.end());
  return out;
}

bool SameShape(const ContourUm& contour, PointUm about, const Turn& turn) {
  const ContourUm moved = Moved(contour, about, turn);
  const double area = Area(std::span<const PointUm>(contour));
  const double both =
      IntersectionArea(std::span<const PointUm>(contour), std::span<const PointUm>(moved));
  return both >= kSameShape * (2 * area - both);
}

}  // namespace

PointUm Applied(const Turn& turn, PointUm about, PointUm p) {
  PointUm q = p - about;
  if (turn.mirrored) q.x = -q.x;
  return about + Rotated(q, turn.angle_rad);
}

std::vector<Turn> OutlineTurns(const SectionDesign& plane, double step_rad, double tolerance) {
  const std::span<const PointUm> outline(plane.outline.contour);
  const double radius = std::sqrt(Area(outline) / M_PI);
  const PointUm about = Centroid(outline);
  const ContourIndex<FrameUm> index(outline);
  const ContourUm probe = Resampled(outline, Perimeter(outline) / 90);
  std::vector<Turn> turns;
  const int steps = static_cast<int>(std::lround(2 * M_PI / step_rad));
  for (bool mirrored : {false, true}) {
    for (int k = 0; k < steps; ++k) {
      const Turn turn{k * 2 * M_PI / steps, mirrored};
      if (plane.outline.kind == Shape::Kind::kCircle ||
          OutlineFits(index, probe, about, turn, radius, tolerance)) {
        turns.push_back(turn);
      }
    }
  }
  return turns;
}

LumenMap MapLumens(const SectionDesign& plane, const Turn& turn, double enough) {
  const PointUm about = Centroid(std::span<const PointUm>(plane.outline.contour));
  const std::vector<Lump> lumps = LumpsOf(plane);
  LumenMap map;
  map.least_overlap = 1;
  for (std::size_t i = 0; i < lumps.size(); ++i) {
    const ContourUm moved = Moved(plane.lumens[i].shape.contour, about, turn);
    const PointUm centre = Applied(turn, about, lumps[i].centre);
    const double area = lumps[i].area;
    int best = -1;
    double best_overlap = 0;
    for (std::size_t j = 0; j < lumps.size(); ++j) {
      const double other_area = lumps[j].area;
      const double reach = 0.6 * (std::sqrt(area) + std::sqrt(other_area)) * 2;
      if (Distance(centre, lumps[j].centre) > reach) continue;
      // No two areas share more than the smaller is of the larger.
      if (std::min(area, other_area) <= best_overlap * std::max(area, other_area)) continue;
      const double both = IntersectionArea(std::span<const PointUm>(moved),
                                           std::span<const PointUm>(plane.lumens[j].shape.contour));
      const double overlap = both / (area + other_area - both);
      if (overlap > best_overlap) {
        best_overlap = overlap;
        best = static_cast<int>(j);
      }
    }
    map.to.push_back(best);
    map.least_overlap = std::min(map.least_overlap, best_overlap);
    if (map.least_overlap < enough) break;
  }
  return map;
}

std::vector<std::vector<std::string>> InterchangeableNames(const SectionDesign& plane) {
  const std::size_t n = plane.lumens.size();
  std::vector<std::size_t> group(n);
  std::iota(group.begin(), group.end(), std::size_t{0});
  const std::span<const PointUm> outline(plane.outline.contour);
  const PointUm about = Centroid(outline);
  const double radius = std::sqrt(Area(outline) / M_PI);
  const ContourIndex<FrameUm> index(outline);
  const ContourUm probe = Resampled(outline, Perimeter(outline) / 90);
  const std::vector<Lump> lumps = LumpsOf(plane);
  const auto angle_of = [&](std::size_t k) {
    const PointUm c = lumps[k].centre - about;
    return std::atan2(c.y, c.x);
  };
  // Whether a turn could carry one onto the other with all but 3 % shared: of one size, and as far
  // out to a tenth of it (a shift by that much alone costs more than 3 %).
  const auto alike = [&](std::size_t i, std::size_t j) {
    const double least = std::min(lumps[i].area, lumps[j].area);
    return least >= kSameShape * std::max(lumps[i].area, lumps[j].area) &&
           std::abs(Distance(lumps[i].centre, about) - Distance(lumps[j].centre, about)) <=
               0.1 * std::sqrt(least);
  };
  // Only a turn that carries some lumen onto another can swap names.
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      if (group[i] == group[j] || !alike(i, j)) continue;
      const Turn turn{angle_of(j) - angle_of(i), false};
      if (!OutlineFits(index, probe, about, turn, radius, kOutlineSame)) continue;
      const LumenMap map = MapLumens(plane, turn, kSameShape);
      if (map.least_overlap < kSameShape) continue;
      for (std::size_t k = 0; k < n; ++k) {
        const std::size_t from = group[k], to = group[static_cast<std::size_t>(map.to[k])];
        if (from == to) continue;
        for (std::size_t& g : group) {
          if (g == from) g = to;
        }
      }
    }
  }
  std::vector<std::vector<std::string>> groups;
  for (std::size_t g = 0; g < n; ++g) {
    std::vector<std::string> names;
    for (std::size_t k = 0; k < n; ++k) {
      if (group[k] == g) names.push_back(plane.lumens[k].name);
    }
    if (names.size() > 1) groups.push_back(names);
  }
  return groups;
}

std::optional<Turn> OwnMirrorImage(const SectionDesign& plane) {
  const PointUm about = Centroid(std::span<const PointUm>(plane.outline.contour));
  // A lumen off the middle falls on itself under one mirroring only.
  Turn turn{0, true};
  double farthest = 0;
  for (const LumenDesign& lumen : plane.lumens) {
    const PointUm d = Centroid(std::span<const PointUm>(lumen.shape.contour)) - about;
    if (Norm(d) > farthest) farthest = Norm(d), turn.angle_rad = 2 * std::atan2(d.y, d.x) - M_PI;
  }
  if (!SameShape(plane.outline.contour, about, turn)) return std::nullopt;
  for (const RingDesign& ring : plane.rings) {
    if (!SameShape(ring.inner.contour, about, turn)) return std::nullopt;
  }
  const bool itself = std::all_of(
      plane.lumens.begin(), plane.lumens.end(),
      [&](const LumenDesign& lumen) { return SameShape(lumen.shape.contour, about, turn); });
  return itself ? std::optional<Turn>(turn) : std::nullopt;
}

}  // namespace cutface
