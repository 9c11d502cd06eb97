// Gaps by the clock: edges as radii about a middle, and the place of a gap between two of them.
// Used by gaps.cpp and dark_arcs.cpp alone. Keywords: polar, unrolled, cyclic.
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "cutface/geometry.h"

namespace cutface {

inline constexpr double kWholeTurn = 2 * std::numbers::pi;
inline constexpr double kOpenShare = 0.6;  // of the usual tone: darker is open

// An edge by the clock about a centre inside it: radius at equal angles.
struct Polar {
  PointPx centre;
  std::vector<double> radius;  // px
  int size() const { return static_cast<int>(radius.size()); }
  PointPx Way(double place) const {
    const double a = kWholeTurn * place / size();
    return {std::cos(a), std::sin(a)};
  }
};

// REQUIRES: the contour turns about `centre` once (star-shaped); else the radius is that of the
// outermost crossing.
Polar PolarOf(const ContourPx& contour, PointPx centre, int size);

// Of values by the clock: any whole place, and between two.
double Cyclic(const std::vector<double>& v, int k);
double Between(const std::vector<double>& v, double place);

struct GapFound {
  double from = 0, to = 0;  // places, to > from
  ContourPx contour;
  double width_px = 0;
};

// A gap's outline: `low` and `high` radii at each of its places.
template <class Low, class High>
ContourPx ArcOutline(const Polar& about, double from, double to, const Low& low, const High& high) {
  ContourPx inner, outer;
  const auto add = [&](double place) {
    const PointPx way = about.Way(place);
    inner.push_back(about.centre + low(place) * way);
    outer.push_back(about.centre + high(place) * way);
  };
  add(from);
  for (int k = static_cast<int>(std::ceil(from + 0.3)); k < to - 0.3; ++k) add(k);
  add(to);
  outer.insert(outer.end(), inner.rbegin(), inner.rend());
  return outer;
}

// Whether a gap of these places at `radius` px is long enough to be told.
bool LongEnough(double from, double to, const Polar& polar, double radius);

}  // namespace cutface
