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

namespace max_min {

// gx x + gy y + gv value <= limit; gv is 1 for a bound and 0 for a side of the square.
struct Constraint {
  double gx = 0, gy = 0, gv = 0, limit = 0, multiplier = 0;
};

// Three tight constraints, and the inverse of their matrix by cofactors.
struct Basis {
  std::array<Constraint, 3> tight;
  std::array<double, 3> to_x{}, to_y{}, to_value{};

  bool Invert() {
    for (std::size_t i = 0; i < 3; ++i) {
      const Constraint &q = tight[(i + 1) % 3], &r = tight[(i + 2) % 3];
      to_x[i] = q.gy * r.gv - q.gv * r.gy;
      to_y[i] = q.gv * r.gx - q.gx * r.gv;
      to_value[i] = q.gx * r.gy - q.gy * r.gx;
    }
    const double det =
        tight[0].gv * to_value[0] + tight[1].gv * to_value[1] + tight[2].gv * to_value[2];
    if (det == 0) return false;
    for (std::size_t i = 0; i < 3; ++i) {
      to_x[i] /= det;
      to_y[i] /= det;
      to_value[i] /= det;
    }
    return true;
  }
  double Solve(const std::array<double, 3>& row) const {
    return row[0] * tight[0].limit + row[1] * tight[1].limit + row[2] * tight[2].limit;
  }
  // The entering constraint is a combination of the tight ones; the one whose multiplier is used up
  // first leaves. False when none does.
  bool Exchange(Constraint enters) {
    std::array<double, 3> share{};
    std::size_t leaves = 3;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < 3; ++i) {
      share[i] = enters.gx * to_x[i] + enters.gy * to_y[i] + enters.gv * to_value[i];
      if (share[i] > 1e-14 && tight[i].multiplier / share[i] < least) {
        least = tight[i].multiplier / share[i];
        leaves = i;
      }
    }
    if (leaves == 3) return false;
    for (std::size_t i = 0; i < 3; ++i) tight[i].multiplier -= least * share[i];
    enters.multiplier = least;
    tight[leaves] = enters;
    return true;
  }
};

template <class F>
Constraint OfBound(const LinearBound<F>& bound) {
  return {-bound.gradient.x, -bound.gradient.y, 1, bound.at_centre, 0};
}

}  // namespace max_min

// Maximises the least of `bounds` over |x|, |y| <= half. Dual simplex in three variables (x, y,
// value): three constraints are tight at a time, the most violated one enters, the objective falls
// step by step to the maximum. Cost: some five passes over the bounds. REQUIRES: at least one
// bound.
template <class F>
MaxMin<F> MaximiseLeast(std::span<const LinearBound<F>> bounds, double half) {
  using max_min::Constraint;
  std::size_t lowest = 0;
  for (std::size_t k = 1; k < bounds.size(); ++k) {
    if (bounds[k].at_centre < bounds[lowest].at_centre) lowest = k;
  }
  const std::array<Constraint, 4> sides = {
      Constraint{1, 0, 0, half, 0}, Constraint{-1, 0, 0, half, 0}, Constraint{0, 1, 0, half, 0},
      Constraint{0, -1, 0, half, 0}};
  const Point<F> g = bounds[lowest].gradient;
  max_min::Basis basis;
  basis.tight = {max_min::OfBound(bounds[lowest]), sides[g.x >= 0 ? 0 : 1],
                 sides[g.y >= 0 ? 2 : 3]};
  basis.tight[0].multiplier = 1;
  basis.tight[1].multiplier = std::abs(g.x);
  basis.tight[2].multiplier = std::abs(g.y);
  MaxMin<F> result;
  constexpr int kMaxExchanges = 40;
  for (int step = 0; step < kMaxExchanges && basis.Invert(); ++step) {
    const double x = basis.Solve(basis.to_x), y = basis.Solve(basis.to_y);
    const double value = basis.Solve(basis.to_value);
    if (step == 0 || value < result.value) result = {value, {x, y}};
    const Constraint* enters = nullptr;
    Constraint candidate;
    double worst = 1e-13 * (std::abs(value) + half);
    for (const LinearBound<F>& k : bounds) {
      const double over = value - (k.at_centre + k.gradient.x * x + k.gradient.y * y);
      if (over > worst) {
        worst = over;
        candidate = max_min::OfBound(k);
        enters = &candidate;
      }
    }
    for (const Constraint& side : sides) {
      const double over = side.gx * x + side.gy * y - half;
      if (over > worst) {
        worst = over;
        enters = &side;
      }
    }
    if (!enters || !basis.Exchange(*enters)) break;
  }
  return result;
}

}  // namespace cutface
