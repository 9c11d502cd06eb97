#include <algorithm>
#include <cmath>

#include "phantom/shapes.h"
#include "phantom/trapper.h"

namespace cutface::phantom {

bool SamePlaneTurned(const SectionDesign& a, const SectionDesign& b, bool over) {
  // What one person can tell from another part of the kind: parts scatter by about as much.
  constexpr double kPlace = 0.012, kSize = 0.025;
  if (a.lumens.size() != b.lumens.size()) return false;
  struct Spot {
    PointUm at;
    double size;
  };
  const auto spots = [](const SectionDesign& plane) {
    const PointUm c = Centroid(std::span<const PointUm>(plane.outline.contour));
    std::vector<Spot> out;
    for (const LumenDesign& lumen : plane.lumens) {
      const std::span<const PointUm> contour(lumen.shape.contour);
      out.push_back({Centroid(contour) - c, 2 * std::sqrt(std::abs(Area<FrameUm>(contour)) / kPi)});
    }
    return out;
  };
  const std::vector<Spot> first = spots(a), second = spots(b);
  const double radius =
      std::sqrt(std::abs(Area<FrameUm>(std::span<const PointUm>(a.outline.contour))) / kPi);
  double furthest = 0;
  for (const PointUm p : a.outline.contour) furthest = std::max(furthest, Norm(p));
  const bool round = furthest < 1.05 * radius;
  const auto meets = [&](double turn, bool flip) {
    return std::all_of(first.begin(), first.end(), [&](const Spot& s) {
      const PointUm at = Rotated(flip ? PointUm{-s.at.x, s.at.y} : s.at, turn);
      return std::any_of(second.begin(), second.end(), [&](const Spot& t) {
        return Distance(at, t.at) < kPlace * radius && std::abs(s.size / t.size - 1) < kSize;
      });
    });
  };
  for (const bool flip : {false, true}) {
    if (flip && !over) break;
    const int steps = round ? 720 : 2;
    for (int i = 0; i < steps; ++i) {
      if (meets(2 * kPi * i / steps, flip)) return true;
    }
  }
  return false;
}

SectionDesign TurnedOver(const SectionDesign& plane) {
  SectionDesign over = plane;
  const auto turn = [](Shape& shape) {
    for (PointUm& p : shape.contour) p.x = -p.x;
  };
  turn(over.outline);
  for (LumenDesign& lumen : over.lumens) turn(lumen.shape);
  return over;
}

}  // namespace cutface::phantom
