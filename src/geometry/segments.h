// Distances between points and segments: the few lines that all distance searches share, so that
// fast and slow ways give the same digits.
#pragma once

#include <algorithm>

#include "geometry/vec.h"

namespace cutface {

// Nearest point of segment a-b to p.
template <class F>
Point<F> NearestOnSegment(Point<F> p, Point<F> a, Point<F> b) {
  const Point<F> edge = b - a, to_p = p - a;
  const double along = Dot(edge, to_p), length2 = Length2(edge);
  if (along <= 0) return a;
  if (along >= length2) return b;
  return a + (along / length2) * edge;
}

// Side of r seen from p towards q: +1, -1, or 0 within rounding (Shewchuk 1997, error bound A).
template <class F>
int SideOf(Point<F> p, Point<F> q, Point<F> r) {
  const double left = (p.x - r.x) * (q.y - r.y), right = (p.y - r.y) * (q.x - r.x);
  const double cross = left - right;
  const double bound = 3.3306690738754716e-16 * (std::abs(left) + std::abs(right));
  return cross > bound ? 1 : cross < -bound ? -1 : 0;
}

template <class F>
bool BoxesMeet(Point<F> a, Point<F> b, Point<F> c, Point<F> d) {
  return std::max(a.x, b.x) >= std::min(c.x, d.x) && std::max(c.x, d.x) >= std::min(a.x, b.x) &&
         std::max(a.y, b.y) >= std::min(c.y, d.y) && std::max(c.y, d.y) >= std::min(a.y, b.y);
}

// Whether the segments have a point in common; within rounding they do.
template <class F>
bool SegmentsMeet(Point<F> a, Point<F> b, Point<F> c, Point<F> d) {
  return BoxesMeet(a, b, c, d) && SideOf(a, b, c) * SideOf(a, b, d) <= 0 &&
         SideOf(c, d, a) * SideOf(c, d, b) <= 0;
}

template <class F>
struct NearPair {
  double distance2 = 0;
  Point<F> on_first, on_second;
};

// Nearest pair of segments a-b and c-d: an end of one of them takes part, unless they cross.
template <class F>
NearPair<F> SegmentDistance(Point<F> a, Point<F> b, Point<F> c, Point<F> d) {
  NearPair<F> best{Length2(c - a), a, c};
  const auto consider = [&](Point<F> first, Point<F> second) {
    const double distance2 = Length2(second - first);
    if (distance2 < best.distance2) best = {distance2, first, second};
  };
  consider(a, NearestOnSegment(a, c, d));
  consider(b, NearestOnSegment(b, c, d));
  consider(NearestOnSegment(c, a, b), c);
  consider(NearestOnSegment(d, a, b), d);
  if (best.distance2 > 0 && SegmentsMeet(a, b, c, d)) {
    const double turn = Cross(b - a, d - c);
    if (turn != 0) {
      const Point<F> at = a + (Cross(c - a, d - c) / turn) * (b - a);
      return {0, at, at};
    }
  }
  return best;
}

}  // namespace cutface
