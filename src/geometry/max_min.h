// The greatest least value of linear functions over a square: the linear programme behind the
// bounds of the minimum zone and of the inscribed circle.
#pragma once

#include <array>
#include <limits>

#include "geometry/vec.h"

namespace cutface {

// value(d) = at_centre + Dot(gradient, d)
template <class F>
struct LinearBound {
  double at_centre = 0;
  Point<F> gradient;
};

template <class F>
struct MaxMin {
  double value = 0;  // never below the true maximum, also when the iteration was cut short
  Point<F> at;       // where, relative to the square's centre
};

// Maximises the least of `bounds` over |x|, |y| <= half. Dual simplex in three variables (x, y,
// value): three bounds are tight at a time, the most violated one enters, the objective falls step
// by step to the maximum. Cost: some five passes over the bounds. REQUIRES: at least one bound.
template <class F>
MaxMin<F> MaximiseLeast(std::span<const LinearBound<F>> bounds, double half) {
  // A constraint is Dot(g, (x, y)) + v * value <= b; v is 1 for a bound and 0 for a side.
  struct Constraint {
    double gx, gy, v, b, multiplier;
  };
  const auto of_bound = [](const LinearBound<F>& k) {
    return Constraint{-k.gradient.x, -k.gradient.y, 1, k.at_centre, 0};
  };
  std::size_t lowest = 0;
  for (std::size_t k = 1; k < bounds.size(); ++k) {
    if (bounds[k].at_centre < bounds[lowest].at_centre) lowest = k;
  }
  const auto side = [half](double along_x, double along_y) {
    return Constraint{along_x, along_y, 0, half, 0};
  };
  const Point<F> g = bounds[lowest].gradient;
  std::array<Constraint, 3> tight = {of_bound(bounds[lowest]), side(g.x >= 0 ? 1 : -1, 0),
                                     side(0, g.y >= 0 ? 1 : -1)};
  tight[0].multiplier = 1;
  tight[1].multiplier = std::abs(g.x);
  tight[2].multiplier = std::abs(g.y);
  MaxMin<F> result;
  for (int step = 0; step < 40; ++step) {
    // Rows of the inverse of the tight constraints' matrix, by cofactors.
    const auto &p = tight[0], &q = tight[1], &r = tight[2];
    const double pq = p.gx * q.gy - p.gy * q.gx, qr = q.gx * r.gy - q.gy * r.gx;
    const double rp = r.gx * p.gy - r.gy * p.gx;
    const double det = p.v * qr + q.v * rp + r.v * pq;
    if (det == 0) return result;
    const double x = ((q.gy * r.v - q.v * r.gy) * p.b + (r.gy * p.v - r.v * p.gy) * q.b +
                      (p.gy * q.v - p.v * q.gy) * r.b) /
                     det;
    const double y = ((q.v * r.gx - q.gx * r.v) * p.b + (r.v * p.gx - r.gx * p.v) * q.b +
                      (p.v * q.gx - p.gx * q.v) * r.b) /
                     det;
    const double value = (qr * p.b + rp * q.b + pq * r.b) / det;
    if (step == 0 || value < result.value) result = {value, {x, y}};
    Constraint enters{0, 0, 0, 0, 0};
    bool optimal = true;
    double worst = 1e-13 * (std::abs(value) + half);
    for (const LinearBound<F>& k : bounds) {
      const double over = value - (k.at_centre + k.gradient.x * x + k.gradient.y * y);
      if (over > worst) {
        worst = over;
        optimal = false;
        enters = of_bound(k);
      }
    }
    for (const Constraint& k : {side(1, 0), side(-1, 0), side(0, 1), side(0, -1)}) {
      const double over = k.gx * x + k.gy * y - half;
      if (over > worst) {
        worst = over;
        optimal = false;
        enters = k;
      }
    }
    if (optimal) return result;
    // The entering constraint as a combination of the tight ones; the one whose multiplier would be
    // used up first leaves.
    const std::array<double, 3> share = {(enters.gx * (q.gy * r.v - q.v * r.gy) +
                                          enters.gy * (q.v * r.gx - q.gx * r.v) + enters.v * qr) /
                                             det,
                                         (enters.gx * (r.gy * p.v - r.v * p.gy) +
                                          enters.gy * (r.v * p.gx - r.gx * p.v) + enters.v * rp) /
                                             det,
                                         (enters.gx * (p.gy * q.v - p.v * q.gy) +
                                          enters.gy * (p.v * q.gx - p.gx * q.v) + enters.v * pq) /
                                             det};
    std::size_t leaves = 3;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < 3; ++i) {
      if (share[i] > 1e-14 && tight[i].multiplier / share[i] < least) {
        least = tight[i].multiplier / share[i];
        leaves = i;
      }
    }
    if (leaves == 3) return result;
    for (std::size_t i = 0; i < 3; ++i) tight[i].multiplier -= least * share[i];
    enters.multiplier = least;
    tight[leaves] = enters;
  }
  return result;
}

}  // namespace cutface
