#include <array>

#include "geometry/vec.h"

namespace cutface {
namespace {

template <class F>
struct Disc {
  Point<F> centre;
  double radius2 = 0;
};

template <class F>
Disc<F> Around(Point<F> a, Point<F> b) {
  const Point<F> centre = 0.5 * (a + b);
  return {centre, std::max(Length2(a - centre), Length2(b - centre))};
}

template <class F>
Disc<F> Around(Point<F> a, Point<F> b, Point<F> c) {
  const Point<F> u = b - a, v = c - a;
  const double d = 2 * Cross(u, v);
  if (d == 0) return {a, std::numeric_limits<double>::infinity()};
  const double uu = Length2(u), vv = Length2(v);
  const Point<F> offset{(v.y * uu - u.y * vv) / d, (u.x * vv - v.x * uu) / d};
  const Point<F> centre = a + offset;
  return {centre, std::max({Length2(a - centre), Length2(b - centre), Length2(c - centre)})};
}

// Smallest circle of up to four points by trying all pairs and triples, with its contact points.
template <class F>
Disc<F> SmallestOf(std::vector<Point<F>>& support) {
  const std::vector<Point<F>> all = support;
  Disc<F> best{{}, std::numeric_limits<double>::infinity()};
  const auto consider = [&](const Disc<F>& disc, std::vector<Point<F>> contacts) {
    if (!(disc.radius2 < best.radius2)) return;
    for (const Point<F>& p : all) {
      // Contacts themselves lie on the circle only within rounding.
      if (Length2(p - disc.centre) > disc.radius2 * (1 + 1e-14)) return;
    }
    best = disc;
    support = std::move(contacts);
  };
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (std::size_t j = i + 1; j < all.size(); ++j) {
      consider(Around(all[i], all[j]), {all[i], all[j]});
      for (std::size_t k = j + 1; k < all.size(); ++k) {
        consider(Around(all[i], all[j], all[k]), {all[i], all[j], all[k]});
      }
    }
  }
  return best;
}

}  // namespace

// The furthest point outside the present circle enters its contact points until none is outside.
// The radius grows with every step, so it ends (Welzl 1991 in the pivoting form of Gaertner 1999).
template <class F>
Result<Circle<F>> EnclosingCircle(std::span<const Point<F>> points) {
  if (points.empty()) return Fail(Code::kInvalidContour, "enclosing circle: no points");
  std::vector<Point<F>> support = {points[0]};
  Disc<F> disc{points[0], 0};
  for (std::size_t step = 0; step <= 10 * points.size(); ++step) {
    double furthest2 = 0;
    Point<F> furthest;
    for (const Point<F>& p : points) {
      const double distance2 = Length2(p - disc.centre);
      if (distance2 > furthest2) {
        furthest2 = distance2;
        furthest = p;
      }
    }
    if (!std::isfinite(furthest2)) break;
    if (furthest2 <= disc.radius2 * (1 + 1e-14)) break;
    support.push_back(furthest);
    const Disc<F> next = SmallestOf(support);
    if (!(next.radius2 > disc.radius2) || !std::isfinite(next.radius2)) break;  // rounding's end
    disc = next;
  }
  double radius2 = 0;
  for (const Point<F>& p : points) radius2 = std::max(radius2, Length2(p - disc.centre));
  if (!std::isfinite(radius2)) {
    return Fail(Code::kInvalidContour, "enclosing circle: a coordinate is not a finite number");
  }
  return Circle<F>{disc.centre, std::sqrt(radius2)};
}

#define CF_DECLARE(F) template Result<Circle<F>> EnclosingCircle<F>(std::span<const Point<F>>);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
