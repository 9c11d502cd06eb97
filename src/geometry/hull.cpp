#include <algorithm>
#include <limits>

#include "geometry/vec.h"

namespace cutface {
namespace {

// Drops points that lie inside a triangle of two kept points and the mean point: they cannot be
// corners of the hull. Exact for any order of points, and linear; along a contour it leaves little
// more than the hull, so that sorting costs nothing.
template <class F>
Polygon<F> HullCandidates(std::span<const Point<F>> points) {
  Point<F> mean;
  for (const Point<F>& p : points) mean = mean + p;
  mean = (1 / static_cast<double>(points.size())) * mean;
  Polygon<F> kept;
  kept.reserve(points.size());
  for (const Point<F>& p : points) {
    while (kept.size() >= 2) {
      const Point<F> a = kept[kept.size() - 2], b = kept.back();
      const double whole = Cross(a - mean, p - mean);
      if (whole == 0) break;
      const double side = whole > 0 ? 1 : -1;
      const bool inside = side * Cross(a - mean, b - mean) >= 0 &&
                          side * Cross(b - mean, p - mean) >= 0 && side * Cross(b - a, p - a) <= 0;
      // b beyond the line a-p as seen from the mean point turns the corner outwards and is kept.
      if (!inside) break;
      kept.pop_back();
    }
    kept.push_back(p);
  }
  return kept;
}

}  // namespace

template <class F>
Polygon<F> ConvexHull(std::span<const Point<F>> points) {
  if (points.empty()) return {};
  Polygon<F> sorted = HullCandidates(points);
  std::sort(sorted.begin(), sorted.end(),
            [](Point<F> a, Point<F> b) { return a.x < b.x || (a.x == b.x && a.y < b.y); });
  sorted.erase(std::unique(sorted.begin(), sorted.end()), sorted.end());
  if (sorted.size() < 3) return sorted;
  // Monotone chain (Andrew 1979): lower then upper, each turning one way.
  Polygon<F> hull;
  hull.reserve(sorted.size() + 1);
  const auto add = [&](Point<F> p, std::size_t base) {
    while (hull.size() >= base + 2 &&
           Cross(hull.back() - hull[hull.size() - 2], p - hull.back()) <= 0) {
      hull.pop_back();
    }
    hull.push_back(p);
  };
  for (const Point<F>& p : sorted) add(p, 0);
  const std::size_t base = hull.size() - 1;
  for (auto p = sorted.rbegin() + 1; p != sorted.rend(); ++p) add(*p, base);
  hull.pop_back();
  return hull;
}

template <class F>
Widths<F> WidthExtremes(std::span<const Point<F>> contour) {
  const Polygon<F> hull = ConvexHull(contour);
  const std::size_t n = hull.size();
  Widths<F> widths;
  if (n == 0) return widths;
  widths.least_at = widths.greatest_at = {hull[0], hull[0]};
  if (n == 1) return widths;
  widths.greatest = Distance(hull[0], hull[1]);
  widths.greatest_at = {hull[0], hull[1]};
  if (n == 2) return widths;
  widths.least = std::numeric_limits<double>::infinity();
  const auto consider = [&](std::size_t i, std::size_t j) {
    const double d = Length(hull[i] - hull[j]);
    if (d > widths.greatest) {
      widths.greatest = d;
      widths.greatest_at = {hull[i], hull[j]};
    }
  };
  std::size_t far = 1;
  for (std::size_t i = 0; i < n; ++i) {
    const Point<F> a = hull[i], edge = hull[Next(i, n)] - a;
    while (Cross(edge, hull[Next(far, n)] - hull[far]) > 0) {
      consider(i, far);
      far = Next(far, n);
    }
    consider(i, far);
    consider(Next(i, n), far);
    // With an edge parallel to this one its other end touches too.
    consider(i, Next(far, n));
    consider(Next(i, n), Next(far, n));
    const double length2 = Length2(edge);
    const double width = Cross(edge, hull[far] - a) / std::sqrt(length2);
    if (width < widths.least) {
      widths.least = width;
      widths.least_at = {a + (Dot(edge, hull[far] - a) / length2) * edge, hull[far]};
    }
  }
  return widths;
}

#define CF_DECLARE(F)                                           \
  template Polygon<F> ConvexHull<F>(std::span<const Point<F>>); \
  template Widths<F> WidthExtremes<F>(std::span<const Point<F>>);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
