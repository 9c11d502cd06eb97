// Curves to polygons, fine enough that no measurement can tell: chord error at most the tolerance
// and at most about two degrees of turn per edge. Keywords: flatten, Bezier, elliptical arc,
// polyline.
#pragma once

#include "cutface/geometry.h"

namespace cutface {

// Drops repeated vertices and the closing one, turns the contour to positive signed area (vertex 0
// stays first). False when fewer than 3 vertices or no area are left.
bool TidyContour(ContourUm& contour);

class PolylineBuilder {
 public:
  explicit PolylineBuilder(double tolerance_um) : tolerance_um_(tolerance_um) {}

  void Start(PointUm at) { points_.assign(1, at); }
  void LineTo(PointUm to) { Push(to); }
  void QuadraticTo(PointUm control, PointUm to);
  void CubicTo(PointUm first, PointUm second, PointUm to);
  // End point form of SVG: radii are enlarged when they cannot reach; a zero radius is a line.
  void ArcTo(double rx, double ry, double turn_rad, bool large, bool sweep, PointUm to);
  // Centre form; appends the points after the first: angles are eccentric (before `turn_rad`).
  void ArcAbout(PointUm centre, double rx, double ry, double turn_rad, double from_rad,
                double sweep_rad);

  // True when more vertices came together than any drawing needs; further ones are dropped.
  bool full() const { return points_.size() >= kMostVertices; }
  ContourUm Take() { return std::move(points_); }

 private:
  static constexpr std::size_t kMostVertices = 40'000;
  void Push(PointUm to) {
    if (!full()) points_.push_back(to);
  }
  void Cubic(PointUm a, PointUm b, PointUm c, PointUm d, int depth);

  double tolerance_um_;
  ContourUm points_;
};

}  // namespace cutface
