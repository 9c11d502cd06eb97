// Plane geometry of points and closed contours: areas, widths, circles and ellipses, distances.
//
// Frames: PointPx (pixels, pixel centres on whole numbers) and PointUm (micrometres) are different
// types and only cutface/scale.h converts between them; every template here works in either frame
// and never mixes them. x points right, y down; a positive angle turns +x towards +y. A contour is
// a closed polygon, last vertex joined to the first, either winding unless a function says
// otherwise. Functions take spans; each one is there again for whole polygons (end of the file), so
// that Area(contour) finds its frame by itself.
//
// Degenerate input (fewer than 3 vertices, repeated vertices, zero area) is answered with the value
// of the shape it degenerates to (area 0, perimeter of the path there and back) unless an error is
// named. Coordinates must be finite; only the fits check it. Error of lengths and areas: a few
// units in the last place of the coordinates' spread. All functions are safe to call from several
// threads.
//
// Keywords: contour, polygon, caliper, feret width, least squares circle, minimum zone, inscribed.
#pragma once

#include <cmath>
#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <type_traits>
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
double Dot(Point<F> a, Point<F> b) {
  return a.x * b.x + a.y * b.y;
}
template <class F>
double Cross(Point<F> a, Point<F> b) {
  return a.x * b.y - a.y * b.x;
}
template <class F>
double Norm(Point<F> a) {
  return std::hypot(a.x, a.y);
}
template <class F>
double Distance(Point<F> a, Point<F> b) {
  return Norm(a - b);
}
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
Point<F> Centroid(
    std::span<const Point<F>> contour);  // of the enclosed area; zero area: of the line
template <class F>
Box<F> BoundingBox(std::span<const Point<F>> contour);  // empty: zeros
template <class F>
bool Contains(std::span<const Point<F>> contour, Point<F> p);  // even-odd; on the edge: either
// No two edges cross or touch; O(n log n) typical. Vertices repeated in a row count once; touching
// within rounding counts as touching. Fewer than 3 distinct vertices: false.
template <class F>
bool IsSimple(std::span<const Point<F>> contour);
// Vertices at equal arc length, at most `step` apart and at least 3, starting at vertex 0.
// REQUIRES: step > 0.
template <class F>
Polygon<F> Resampled(std::span<const Point<F>> contour, double step);
// The ellipse with the contour's area, centroid and directions of second moments of area (same
// ratio of axes). Zero area: zero axes.
template <class F>
Ellipse<F> MomentEllipse(std::span<const Point<F>> contour);

// Least and greatest width between parallel tangents (rotating calipers on the convex hull), with
// the two touching points of each. 1000 vertices: some 10 us.
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
Polygon<F> ConvexHull(std::span<const Point<F>> points);  // corners only, SignedArea >= 0

// --- fits ----------------------------------------------------------------------------------------

// Geometric (orthogonal distance) least squares. Errors: kInvalidContour for fewer than 3 (circle)
// or 5 (ellipse) points, collinear points, or no convergence. Checked against Gander, Golub &
// Strebel (BIT 34, 1994), Coope (1993) and the NIST circle reference pairs.
// `start` saves time when a circle nearby is known (1000 points: some 20 us); a bad one is
// forgiven.
template <class F>
Result<Circle<F>> FitCircle(std::span<const Point<F>> points,
                            const std::type_identity_t<std::optional<Circle<F>>>& start = {});
template <class F>
Result<Ellipse<F>> FitEllipse(std::span<const Point<F>> points);

// Two concentric circles at least radial distance that hold all points (ISO 12181-1 MZCI); exact
// for points. width = outer - inner.
template <class F>
struct Zone {
  Point<F> centre;
  double inner = 0;
  double outer = 0;
  double Width() const { return outer - inner; }
};
// Searched are all centres within the points' convex hull when the least-squares centre lies in it
// (a feature seen all round), else all within half the fitted radius of it (an arc). Errors:
// kInvalidContour for fewer than 3 points, collinear points, or an arc too short to fix a centre.
// Error of the width: below 1e-13 of the radius; that no other centre is better is proven to 1e-9
// of the radius, by branch and bound. 1000 points: below 1 ms.
template <class F>
Result<Zone<F>> MinimumZone(std::span<const Point<F>> points);
// The zone that is best near a known centre, by exchange of contacts alone; for points that moved a
// little (Monte Carlo draws). 1000 points: some 5 us.
template <class F>
Result<Zone<F>> MinimumZoneNear(std::span<const Point<F>> points, Point<F> start);

// Smallest circle that holds all points (exact). Errors: kInvalidContour when empty.
template <class F>
Result<Circle<F>> EnclosingCircle(std::span<const Point<F>> points);

// Largest circle inside the polygon (its edges, not only its vertices). `tolerance` is the accepted
// error of the radius (not below 1e-12 of the extent). Where several centres are as good (a
// rectangle), one of them. 2000 vertices: 0.2 to 2 ms; an exactly even curved gap some 20 ms.
// Errors: kInvalidContour (fewer than 3 vertices, zero area, not finite).
template <class F>
Result<Circle<F>> InscribedCircle(std::span<const Point<F>> contour, double tolerance = 1e-9);
// The largest circle with its centre near `start`: within a square of half side `window` (0: 3 % of
// the distance at the start), which moves along while the best centre lies at its rim; for contours
// that moved a little (Monte Carlo draws). Searches everything when the start lies outside.
template <class F>
Result<Circle<F>> InscribedCircleNear(std::span<const Point<F>> contour, Point<F> start,
                                      double window = 0, double tolerance = 1e-6);

// --- distances -----------------------------------------------------------------------------------

template <class F>
struct Nearest {
  double distance = 0;  // >= 0
  Point<F> on_first;
  Point<F> on_second;
  std::size_t edge_first = 0;  // edge i runs from vertex i to vertex i + 1
  std::size_t edge_second = 0;
};
// Least distance between the edges of two contours; 0 with a common point when they touch or cross.
// A contour inside the other is as far as its nearest edge. Of several nearest pairs the one with
// the least edge numbers. brute_force compares all edges with all edges: the slow twin that tests
// hold the fast one (trees of boxes) against; both give the same digits. REQUIRES: no contour is
// empty.
template <class F>
Nearest<F> LeastDistance(std::span<const Point<F>> first, std::span<const Point<F>> second,
                         bool brute_force = false);
template <class F>
Nearest<F> LeastDistance(Point<F> p, std::span<const Point<F>> contour);  // on_first = p
// The same among edges at most `window` edges away from those of a known nearest pair; for contours
// that moved a little, vertex by vertex (Monte Carlo draws).
template <class F>
Nearest<F> LeastDistanceNear(std::span<const Point<F>> first, std::span<const Point<F>> second,
                             const Nearest<F>& hint, std::size_t window);

// For each point the nearest place on the contour among edges at most `window` edges away from that
// of its hint (the answer before both moved a little). REQUIRES: as many hints as points.
template <class F>
std::vector<Nearest<F>> NearestToEachNear(std::span<const Point<F>> points,
                                          std::span<const Point<F>> contour,
                                          std::span<const Nearest<F>> hints, std::size_t window);

// Answers many point-to-contour and contour-to-contour questions about one contour (tree of boxes
// around runs of its edges). Keeps a copy of the contour. REQUIRES: not empty.
template <class F>
class ContourIndex {
 public:
  explicit ContourIndex(std::span<const Point<F>> contour);
  ~ContourIndex();
  ContourIndex(ContourIndex&&) noexcept;
  ContourIndex& operator=(ContourIndex&&) noexcept;
  // Nearest place on the contour within `limit`; nullopt when further. on_first = p.
  std::optional<Nearest<F>> NearestTo(Point<F> p, double limit) const;
  // Nearest place to each point, without limit; quick when neighbours in the list are neighbours in
  // the plane, as the vertices of a contour are.
  std::vector<Nearest<F>> NearestToEach(std::span<const Point<F>> points) const;
  // As LeastDistance(this, other), without building the trees again.
  Nearest<F> LeastDistanceTo(const ContourIndex& other) const;
  bool Holds(Point<F> p) const;  // as Contains
  // Negative inside.
  double SignedDistance(Point<F> p, double limit) const;  // +-limit when further than limit
  // The same without limit, down from edge `edge` of the contour, which becomes the nearest one
  // found: a walk along the contour that ends where it leads away. Right where `edge` belongs to a
  // place near p.
  double SignedDistanceFrom(Point<F> p, std::size_t& edge) const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

// --- shaping -------------------------------------------------------------------------------------

// Gaussian smoothing along the arc with roughness cut-off wavelength `cutoff`: passes one half of a
// ripple of that wavelength (weights of ISO 16610-21, alpha = sqrt(ln 2 / pi)). The filter S acts
// as 2 S - S S, which takes the shrinkage of curved contours away to second order: a circle of
// radius 3 cutoff keeps its radius to 1e-4. Vertices keep their number and order (steps may be
// uneven). A contour shorter than `cutoff`, and any for cutoff <= 0, comes back as it was. Cost
// grows with cutoff over step: 1000 vertices 3 um apart and 10 um: 0.1 ms.
template <class F>
Polygon<F> Smoothed(std::span<const Point<F>> contour, double cutoff);
// Parallel contour at `distance` outwards (negative: inwards), rounded joins (chords
// within 1e-4 of the distance), winding as given; the largest piece, empty when nothing is left.
template <class F>
Polygon<F> Offset(std::span<const Point<F>> contour, double distance);
// Outward unit normals at vertices (out of the enclosed area), from the two neighbouring edges;
// exact on circles, also with uneven steps. Zero where the contour turns straight back on itself.
template <class F>
Polygon<F> OutwardNormals(std::span<const Point<F>> contour);
// Area that both enclose (even-odd), by polygon clipping; error below 1e-8 of extent x perimeter.
template <class F>
double IntersectionArea(std::span<const Point<F>> first, std::span<const Point<F>> second);

// --- the same for whole polygons
// -------------------------------------------------------------------

template <class F>
std::span<const Point<F>> View(const Polygon<F>& polygon) {
  return {polygon.data(), polygon.size()};
}
template <class F>
double SignedArea(const Polygon<F>& contour) {
  return SignedArea(View(contour));
}
template <class F>
double Area(const Polygon<F>& contour) {
  return Area(View(contour));
}
template <class F>
double Perimeter(const Polygon<F>& contour) {
  return Perimeter(View(contour));
}
template <class F>
Point<F> Centroid(const Polygon<F>& contour) {
  return Centroid(View(contour));
}
template <class F>
Box<F> BoundingBox(const Polygon<F>& contour) {
  return BoundingBox(View(contour));
}
template <class F>
bool Contains(const Polygon<F>& contour, Point<F> p) {
  return Contains(View(contour), p);
}
template <class F>
bool IsSimple(const Polygon<F>& contour) {
  return IsSimple(View(contour));
}
template <class F>
Polygon<F> Resampled(const Polygon<F>& contour, double step) {
  return Resampled(View(contour), step);
}
template <class F>
Ellipse<F> MomentEllipse(const Polygon<F>& contour) {
  return MomentEllipse(View(contour));
}
template <class F>
Result<Circle<F>> FitCircle(const Polygon<F>& points,
                            const std::type_identity_t<std::optional<Circle<F>>>& start = {}) {
  return FitCircle(View(points), start);
}
template <class F>
Result<Ellipse<F>> FitEllipse(const Polygon<F>& points) {
  return FitEllipse(View(points));
}
template <class F>
Result<Zone<F>> MinimumZone(const Polygon<F>& points) {
  return MinimumZone(View(points));
}
template <class F>
Result<Zone<F>> MinimumZoneNear(const Polygon<F>& points, Point<F> start) {
  return MinimumZoneNear(View(points), start);
}
template <class F>
Result<Circle<F>> EnclosingCircle(const Polygon<F>& points) {
  return EnclosingCircle(View(points));
}
template <class F>
Result<Circle<F>> InscribedCircle(const Polygon<F>& contour, double tolerance = 1e-9) {
  return InscribedCircle(View(contour), tolerance);
}
template <class F>
Result<Circle<F>> InscribedCircleNear(const Polygon<F>& contour, Point<F> start, double window = 0,
                                      double tolerance = 1e-6) {
  return InscribedCircleNear(View(contour), start, window, tolerance);
}
template <class F>
Polygon<F> Smoothed(const Polygon<F>& contour, double cutoff) {
  return Smoothed(View(contour), cutoff);
}
template <class F>
Polygon<F> Offset(const Polygon<F>& contour, double distance) {
  return Offset(View(contour), distance);
}
template <class F>
double IntersectionArea(const Polygon<F>& first, const Polygon<F>& second) {
  return IntersectionArea(View(first), View(second));
}
template <class F>
Widths<F> WidthExtremes(const Polygon<F>& contour) {
  return WidthExtremes(View(contour));
}
template <class F>
Polygon<F> ConvexHull(const Polygon<F>& points) {
  return ConvexHull(View(points));
}
template <class F>
Polygon<F> OutwardNormals(const Polygon<F>& contour) {
  return OutwardNormals(View(contour));
}
template <class F>
Nearest<F> LeastDistance(const Polygon<F>& first, const Polygon<F>& second,
                         bool brute_force = false) {
  return LeastDistance(View(first), View(second), brute_force);
}
template <class F>
Nearest<F> LeastDistance(Point<F> p, const Polygon<F>& contour) {
  return LeastDistance(p, View(contour));
}
template <class F>
Nearest<F> LeastDistanceNear(const Polygon<F>& first, const Polygon<F>& second,
                             const Nearest<F>& hint, std::size_t window) {
  return LeastDistanceNear(View(first), View(second), hint, window);
}

}  // namespace cutface
