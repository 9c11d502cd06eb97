#include <algorithm>
#include <numbers>

#include "geometry/vec.h"

namespace cutface {
namespace {

// Sums of a polygon's first and second moments of area about `origin` (Green's theorem).
struct Moments {
  double area = 0, x = 0, y = 0, xx = 0, xy = 0, yy = 0;
};

template <class F>
Moments AreaMoments(std::span<const Point<F>> contour, Point<F> origin) {
  Moments m;
  if (contour.empty()) return m;
  Point<F> a = contour.back() - origin;
  for (const Point<F>& vertex : contour) {
    const Point<F> b = vertex - origin;
    const double cross = Cross(a, b);
    m.area += cross;
    m.x += cross * (a.x + b.x);
    m.y += cross * (a.y + b.y);
    m.xx += cross * (a.x * a.x + a.x * b.x + b.x * b.x);
    m.yy += cross * (a.y * a.y + a.y * b.y + b.y * b.y);
    m.xy += cross * (2 * a.x * a.y + a.x * b.y + b.x * a.y + 2 * b.x * b.y);
    a = b;
  }
  return {m.area / 2, m.x / 6, m.y / 6, m.xx / 12, m.xy / 24, m.yy / 12};
}

template <class F>
Point<F> LineCentroid(std::span<const Point<F>> contour) {
  Point<F> sum;
  double length = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const Point<F> a = contour[i] - contour[0];
    const Point<F> b = contour[Next(i, contour.size())] - contour[0];
    const double l = Length(b - a);
    sum = sum + (0.5 * l) * (a + b);
    length += l;
  }
  return length > 0 ? contour[0] + (1 / length) * sum : contour[0];
}

}  // namespace

template <class F>
double SignedArea(std::span<const Point<F>> contour) {
  if (contour.size() < 3) return 0;
  double sum = 0;
  Point<F> a = contour[1] - contour[0];
  for (std::size_t i = 2; i < contour.size(); ++i) {
    const Point<F> b = contour[i] - contour[0];
    sum += Cross(a, b);
    a = b;
  }
  return 0.5 * sum;
}

template <class F>
double Area(std::span<const Point<F>> contour) {
  return std::abs(SignedArea(contour));
}

template <class F>
double Perimeter(std::span<const Point<F>> contour) {
  if (contour.empty()) return 0;
  double sum = 0;
  Point<F> a = contour.back();
  for (const Point<F>& b : contour) {
    sum += Length(b - a);
    a = b;
  }
  return sum;
}

template <class F>
Point<F> Centroid(std::span<const Point<F>> contour) {
  if (contour.empty()) return {};
  const Moments m = AreaMoments(contour, contour[0]);
  const Box<F> box = BoundingBox(contour);
  const Point<F> size = box.greatest - box.least;
  // Below this share of its box an area is rounding noise and cannot be divided by.
  if (std::abs(m.area) <= 1e-14 * Length2(size)) return LineCentroid(contour);
  return contour[0] + (1 / m.area) * Point<F>{m.x, m.y};
}

template <class F>
Box<F> BoundingBox(std::span<const Point<F>> contour) {
  if (contour.empty()) return {};
  Box<F> box{contour[0], contour[0]};
  for (const Point<F>& p : contour) {
    box.least = {std::min(box.least.x, p.x), std::min(box.least.y, p.y)};
    box.greatest = {std::max(box.greatest.x, p.x), std::max(box.greatest.y, p.y)};
  }
  return box;
}

template <class F>
bool Contains(std::span<const Point<F>> contour, Point<F> p) {
  if (contour.empty()) return false;
  bool inside = false;
  Point<F> a = contour.back() - p;
  for (const Point<F>& vertex : contour) {
    const Point<F> b = vertex - p;
    // Half-open in y, so that a ray through a vertex counts it once.
    if ((a.y > 0) != (b.y > 0) && (Cross(a, b) > 0) == (b.y > a.y)) inside = !inside;
    a = b;
  }
  return inside;
}

template <class F>
Polygon<F> Resampled(std::span<const Point<F>> contour, double step) {
  CF_CHECK(step > 0);
  const double length = Perimeter(contour);
  if (contour.empty() || length == 0) return Polygon<F>(contour.begin(), contour.end());
  const auto count =
      static_cast<std::size_t>(std::max(3.0, std::ceil(length / step * (1 - 1e-12))));
  Polygon<F> result;
  result.reserve(count);
  double passed = 0;  // arc length up to vertex i
  std::size_t i = 0;
  Point<F> a = contour[0], b = contour[Next(0, contour.size())];
  double edge = Length(b - a);
  for (std::size_t k = 0; k < count; ++k) {
    const double target = length * static_cast<double>(k) / static_cast<double>(count);
    while (passed + edge < target && i + 1 < contour.size()) {
      passed += edge;
      ++i;
      a = contour[i];
      b = contour[Next(i, contour.size())];
      edge = Length(b - a);
    }
    const double share = edge > 0 ? std::min(1.0, (target - passed) / edge) : 0.0;
    result.push_back(a + share * (b - a));
  }
  return result;
}

template <class F>
Ellipse<F> MomentEllipse(std::span<const Point<F>> contour) {
  Ellipse<F> ellipse{Centroid(contour), 0, 0, 0};
  const Moments m = AreaMoments(contour, ellipse.centre);
  if (contour.size() < 3 || m.area == 0) return ellipse;
  const double xx = m.xx / m.area, xy = m.xy / m.area, yy = m.yy / m.area;
  const double half_sum = 0.5 * (xx + yy);
  const double half_gap = std::hypot(0.5 * (xx - yy), xy);
  // A solid ellipse has second moments a^2 / 4 and b^2 / 4 per unit area.
  const double a = 2 * std::sqrt(std::max(0.0, half_sum + half_gap));
  const double b = 2 * std::sqrt(std::max(0.0, half_sum - half_gap));
  if (a == 0 || b == 0) return ellipse;
  const double to_area = std::sqrt(std::abs(m.area) / (std::numbers::pi * a * b));
  ellipse.semi_major = a * to_area;
  ellipse.semi_minor = b * to_area;
  ellipse.angle = 0.5 * std::atan2(2 * xy, xx - yy);
  if (ellipse.angle <= -std::numbers::pi / 2) ellipse.angle += std::numbers::pi;
  return ellipse;
}

template <class F>
Polygon<F> OutwardNormals(std::span<const Point<F>> contour) {
  const std::size_t n = contour.size();
  Polygon<F> normals(n);
  const double out = SignedArea(contour) >= 0 ? 1 : -1;
  for (std::size_t i = 0; i < n; ++i) {
    Point<F> before, after;
    for (std::size_t k = 1; k < n && before == Point<F>{}; ++k) {
      before = contour[i] - contour[(i + n - k) % n];
    }
    for (std::size_t k = 1; k < n && after == Point<F>{}; ++k) {
      after = contour[(i + k) % n] - contour[i];
    }
    // Weights of the other edge's length make the direction exact on a circle with uneven steps:
    // before / |before| * |after| + after / |after| * |before|.
    const Point<F> along = Length2(after) * before + Length2(before) * after;
    const double length = Length(along);
    if (length > 0) normals[i] = (out / length) * Point<F>{along.y, -along.x};
  }
  return normals;
}

#define CF_DECLARE(F)                                                  \
  template double SignedArea<F>(std::span<const Point<F>>);            \
  template double Area<F>(std::span<const Point<F>>);                  \
  template double Perimeter<F>(std::span<const Point<F>>);             \
  template Point<F> Centroid<F>(std::span<const Point<F>>);            \
  template Box<F> BoundingBox<F>(std::span<const Point<F>>);           \
  template bool Contains<F>(std::span<const Point<F>>, Point<F>);      \
  template Polygon<F> Resampled<F>(std::span<const Point<F>>, double); \
  template Ellipse<F> MomentEllipse<F>(std::span<const Point<F>>);     \
  template Polygon<F> OutwardNormals<F>(std::span<const Point<F>>);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
