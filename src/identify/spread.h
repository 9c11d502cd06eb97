// An ellipse as a matrix, and that matrix's root: how far a contour's area spreads.
#pragma once

#include <Eigen/Eigenvalues>
#include <cmath>

#include "cutface/geometry.h"

namespace cutface {

// Symmetric, px^2: the semi axes squared, along the ellipse's own axes.
inline Eigen::Matrix2d Spread(const Ellipse<FramePx>& ellipse) {
  const double c = std::cos(ellipse.angle), s = std::sin(ellipse.angle);
  const double a = ellipse.semi_major, b = ellipse.semi_minor;
  Eigen::Matrix2d turn;
  turn << c, -s, s, c;
  return turn * Eigen::Vector2d(a * a, b * b).asDiagonal() * turn.transpose();
}

// The symmetric matrix whose square is `spread`: maps the unit circle onto the ellipse.
inline Eigen::Matrix2d RootOf(const Eigen::Matrix2d& spread) {
  return Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d>(spread).operatorSqrt();
}

}  // namespace cutface
