// Plane geometry of points and closed contours: areas, widths, circles and ellipses, distances.
//
// Frames: PointPx (pixels, pixel centres on whole numbers) and PointUm (micrometres) are different
// types and only cutface/scale.h converts between them; every template here works in either frame
// and never mixes them. x points right, y down; a positive angle turns +x towards +y. A contour is a
// closed polygon, last vertex joined to the first, either winding unless a function says otherwise.
//
// Keywords: contour, polygon, caliper, feret width, least squares circle, minimum zone, inscribed.
#pragma once

#include <cstddef>
#include <cmath>
#include <memory>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "cutface/base.h"

namespace cutface {

template <class Frame>
struct Point {
  double x = 0;
  double y = 0;
  friend Point operator+(Point a, Point b) { return {a.x + b.x, a.y + b.y}; }
  friend Point operator-(Point a, Point b) { return {a.x - b.x, a.y - b.y}; }
  friend Point operator*(double s, Point a) { return {s * a.x, s * a.y}; }
  friend bool operator==(Point a, Point b) { return a.x == b.x && a.y == b.y; }
};
struct FramePx;
struct FrameUm;
using PointPx = Point<FramePx>;
using PointUm = Point<FrameUm>;
template <class Frame>
using Polygon = std::vector<Point<Frame>>;
using ContourPx = Polygon<FramePx>;
using ContourUm = Polygon<FrameUm>;

template <class F>
double Dot(Point<F> a, Point<F> b) { return a.x * b.x + a.y * b.y; }
template <class F>
double Cross(Point<F> a, Point<F> b) { return a.x * b.y - a.y * b.x; }
template <class F>
double Norm(Point<F> a) { return std::hypot(a.x, a.y); }
template <class F>
double Distance(Point<F> a, Point<F> b) { return Norm(a - b); }
template <class F>
Point<F> Rotated(Point<F> p, double radians) {
  const double c = std::cos(radians), s = std::sin(radians);
  return {c * p.x - s * p.y, s * p.x + c * p.y};
}

template <class F>
struct Circle {
  Point<F> centre;
  double radius = 0;
};
template <class F>
struct Ellipse {
  Point<F> centre;
  double semi_major = 0;
  double semi_minor = 0;
  double angle = 0;  // of the major axis, radians in (-pi/2, pi/2]
};
template <class F>
struct Segment {
  Point<F> a;
  Point<F> b;
};
template <class F>
struct Box {
  Point<F> least;
  Point<F> greatest;
};

// --- contours as a whole -------------------------------------------------------------------------

template <class F>
double SignedArea(std::span<const Point<F>> contour);  // > 0 when it turns +x towards +y
template <class F>
double Area(std::span<const Point<F>> contour);  // >= 0
template <class F>
double Perimeter(std::span<const Point<F>> contour);
template <class F>
Point<F> Centroid(std::span<const Point<F>> contour);  // of the enclosed area
template <class F>
Box<F> BoundingBox(std::span<const Point<F>> contour);
template <class F>
bool Contains(std::span<const Point<F>> contour, Point<F> p);  // even-odd
template <class F>
bool IsSimple(std::span<const Point<F>> contour);  // no two edges cross or touch; O(n log n) typical
// Vertices at equal arc length, at most `step` apart, starting at vertex 0.
template <class F>
Polygon<F> Resampled(std::span<const Point<F>> contour, double step);
// Second moments of area about the centroid: equivalent-ellipse axes (full lengths) and angle.
template <class F>
Ellipse<F> MomentEllipse(std::span<const Point<F>> contour);

// Least and greatest width between parallel tangents (rotating calipers on the convex hull), with
// the two touching points of each.
template <class F>
struct Widths {
  double least = 0;
  Segment<F> least_at;
  double greatest = 0;
  Segment<F> greatest_at;
};
template <class F>
Widths<F> WidthExtremes(std::span<const Point<F>> contour);
template <class F>
Polygon<F> ConvexHull(std::span<const Point<F>> points);

// --- fits ----------------------------------------------------------------------------------------

// Geometric (orthogonal distance) least squares. Errors: kInvalidContour for fewer than 3 (circle) or
// 5 (ellipse) points, collinear points, or no convergence. Checked against Gander, Golub & Strebel
// (BIT 34, 1994), Coope (1993) and the NIST circle reference pairs.
template <class F>
Result<Circle<F>> FitCircle(std::span<const Point<F>> points);
template <class F>
Result<Ellipse<F>> FitEllipse(std::span<const Point<F>> points);

// Two concentric circles at least radial distance that hold all points (ISO 12181-1 MZCI); exact for
// points. width = outer - inner.
template <class F>
struct Zone {
  Point<F> centre;
  double inner = 0;
  double outer = 0;
  double Width() const { return outer - inner; }
};
template <class F>
Result<Zone<F>> MinimumZone(std::span<const Point<F>> points);

// Smallest circle that holds all points (exact). Errors: kInvalidContour when empty.
template <class F>
Result<Circle<F>> EnclosingCircle(std::span<const Point<F>> points);

// Largest circle inside the polygon (its edges, not only its vertices). `tolerance` is the accepted
// error of the radius. Errors: kInvalidContour (fewer than 3 vertices, zero area).
template <class F>
Result<Circle<F>> InscribedCircle(std::span<const Point<F>> contour, double tolerance = 1e-9);

// --- distances -----------------------------------------------------------------------------------

template <class F>
struct Nearest {
  double distance = 0;      // >= 0
  Point<F> on_first;
  Point<F> on_second;
  std::size_t edge_first = 0;   // edge i runs from vertex i to vertex i + 1
  std::size_t edge_second = 0;
};
// Least distance between the edges of two contours; 0 with a common point when they touch or cross.
// brute_force compares all edges with all edges: the slow twin that tests hold the fast one against.
template <class F>
Nearest<F> LeastDistance(std::span<const Point<F>> first, std::span<const Point<F>> second,
                         bool brute_force = false);
template <class F>
Nearest<F> LeastDistance(Point<F> p, std::span<const Point<F>> contour);  // on_first = p

// Answers many point-to-contour and contour-to-contour questions about one contour (uniform grid of
// its edges). Keeps a copy of the contour.
template <class F>
class ContourIndex {
 public:
  explicit ContourIndex(std::span<const Point<F>> contour);
  ~ContourIndex();
  ContourIndex(ContourIndex&&) noexcept;
  ContourIndex& operator=(ContourIndex&&) noexcept;
  // Nearest place on the contour within `limit`; nullopt when further.
  std::optional<Nearest<F>> NearestTo(Point<F> p, double limit) const;
  // Negative inside.
  double SignedDistance(Point<F> p, double limit) const;  // +-limit when further than limit

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

// --- shaping -------------------------------------------------------------------------------------

// Gaussian smoothing of a closed contour along its arc with roughness cut-off wavelength
// `cutoff` (50 % transmission, ISO 16610-21 constant), vertices moved only along `normals`-free
// least change: shrinkage of curved contours is compensated to second order.
template <class F>
Polygon<F> Smoothed(std::span<const Point<F>> contour, double cutoff);
// Parallel contour at `distance` outwards (negative: inwards), rounded joins; largest piece.
template <class F>
Polygon<F> Offset(std::span<const Point<F>> contour, double distance);
// Outward unit normals at vertices (out of the enclosed area), from the two neighbouring edges.
template <class F>
Polygon<F> OutwardNormals(std::span<const Point<F>> contour);
// Areas of intersection etc. by polygon clipping.
template <class F>
double IntersectionArea(std::span<const Point<F>> first, std::span<const Point<F>> second);

}  // namespace cutface
