// The registration of the drawing in the picture: an affine map from the design frame (um) to
// pixels.
//
// It only gives names and search bands; no measured value passes through it.
#pragma once

#include <Eigen/LU>

#include "cutface/geometry.h"
#include "cutface/scale.h"

namespace cutface {

struct Warp {
  Eigen::Matrix2d linear = Eigen::Matrix2d::Identity();  // px per um
  Eigen::Vector2d shift = Eigen::Vector2d::Zero();       // px

  PointPx operator()(PointUm p) const {
    return {linear(0, 0) * p.x + linear(0, 1) * p.y + shift.x(),
            linear(1, 0) * p.x + linear(1, 1) * p.y + shift.y()};
  }
  PointUm Inverse(PointPx p) const {
    const Eigen::Vector2d q = linear.inverse() * (Eigen::Vector2d(p.x, p.y) - shift);
    return {q.x(), q.y()};
  }
  ContourPx operator()(std::span<const PointUm> contour) const {
    ContourPx out;
    out.reserve(contour.size());
    for (PointUm p : contour) out.push_back((*this)(p));
    // A mirrored map turns the winding; contours keep positive area everywhere.
    if (linear.determinant() < 0) std::reverse(out.begin(), out.end());
    return out;
  }
};

// Where the drawing's contour lies in the picture, um.
inline ContourUm InPicture(const ContourUm& drawn, const Warp& warp, const Scale& scale) {
  const ContourPx px = warp(std::span<const PointUm>(drawn));
  return scale.ToUm(std::span<const PointPx>(px));
}

}  // namespace cutface
