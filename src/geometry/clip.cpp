// Polygon offsetting and clipping with the Clipper library (polyclipping), whose numbers are whole:
// coordinates are scaled so that one part in 5e8 of the contours' extent is one step.
#include <clipper.hpp>

#include "geometry/vec.h"

namespace cutface {
namespace {

// Half the range in which Clipper's products stay in 64 bits.
constexpr double kGrid = 5e8;
// Rounded joins leave the true arc by at most this share of the distance.
constexpr double kArcTolerance = 1e-4;

template <class F>
struct Grid {
  Point<F> centre;
  double per_unit = 1;

  Grid(const Box<F>& box, double margin) : centre(0.5 * (box.least + box.greatest)) {
    const Point<F> size = box.greatest - box.least;
    const double half = 0.5 * std::max(size.x, size.y) + margin;
    if (half > 0) per_unit = kGrid / half;
  }
  ClipperLib::Path ToPath(std::span<const Point<F>> contour) const {
    ClipperLib::Path path;
    path.reserve(contour.size());
    for (const Point<F>& p : contour) {
      const Point<F> q = per_unit * (p - centre);
      path.emplace_back(std::llround(q.x), std::llround(q.y));
    }
    return path;
  }
  Polygon<F> FromPath(const ClipperLib::Path& path) const {
    Polygon<F> contour;
    contour.reserve(path.size());
    for (const ClipperLib::IntPoint& p : path) {
      contour.push_back(centre + (1 / per_unit) *
                                     Point<F>{static_cast<double>(p.X), static_cast<double>(p.Y)});
    }
    return contour;
  }
};

}  // namespace

template <class F>
Polygon<F> Offset(std::span<const Point<F>> contour, double distance) {
  if (contour.size() < 3) return {};
  const double turn = SignedArea(contour);
  const Grid<F> grid(BoundingBox(contour), std::max(0.0, distance));
  ClipperLib::Path path = grid.ToPath(contour);
  if (turn < 0) ClipperLib::ReversePath(path);
  const double delta = distance * grid.per_unit;
  ClipperLib::ClipperOffset offset(2.0, std::max(0.25, kArcTolerance * std::abs(delta)));
  offset.AddPath(path, ClipperLib::jtRound, ClipperLib::etClosedPolygon);
  ClipperLib::Paths pieces;
  offset.Execute(pieces, delta);
  const ClipperLib::Path* largest = nullptr;
  double most = 0;
  for (const ClipperLib::Path& piece : pieces) {
    const double area = ClipperLib::Area(piece);  // holes are negative
    if (area > most) {
      most = area;
      largest = &piece;
    }
  }
  if (!largest) return {};
  Polygon<F> result = grid.FromPath(*largest);
  if (turn < 0) std::reverse(result.begin(), result.end());
  return result;
}

template <class F>
double IntersectionArea(std::span<const Point<F>> first, std::span<const Point<F>> second) {
  if (first.size() < 3 || second.size() < 3) return 0;
  Box<F> box = BoundingBox(first);
  const Box<F> other = BoundingBox(second);
  box = {{std::min(box.least.x, other.least.x), std::min(box.least.y, other.least.y)},
         {std::max(box.greatest.x, other.greatest.x), std::max(box.greatest.y, other.greatest.y)}};
  const Grid<F> grid(box, 0);
  ClipperLib::Clipper clipper;
  clipper.AddPath(grid.ToPath(first), ClipperLib::ptSubject, true);
  clipper.AddPath(grid.ToPath(second), ClipperLib::ptClip, true);
  ClipperLib::Paths common;
  clipper.Execute(ClipperLib::ctIntersection, common, ClipperLib::pftEvenOdd,
                  ClipperLib::pftEvenOdd);
  double area = 0;
  for (const ClipperLib::Path& piece : common) area += ClipperLib::Area(piece);
  return std::abs(area) / (grid.per_unit * grid.per_unit);
}

#define CF_DECLARE(F)                                               \
  template Polygon<F> Offset<F>(std::span<const Point<F>>, double); \
  template double IntersectionArea<F>(std::span<const Point<F>>, std::span<const Point<F>>);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
