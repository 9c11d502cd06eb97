// Distances of many places from one wire: what does not depend on the place is told once.
// Keywords: signed distance, ellipse, bar.
#pragma once

#include <cmath>

#include "identify/wire_fit.h"

namespace cutface {

// Signed distance to the edge of an upright wire, `s` along its layer and `t` across from its
// middle, px. A bar is taken as straight.
double ShapeDistance(const WireSize& size, double s, double t);

class WireRuler {
 public:
  explicit WireRuler(const FittedWire& wire);

  // Signed distance to the edge, px, negative inside: DistanceToWire().
  double Distance(PointPx q) const;

  // The same between `least` (negative) and `most` (positive), px; beyond, where that is seen
  // without a root, any value beyond.
  double Within(PointPx q, double least, double most) const;

 private:
  double Shape(double s, double t) const;

  WireSize size_;
  double radius_ = 0, tilt_ = 0, cos_ = 1, sin_ = 0;
  PointPx radial_, middle_;
};

}  // namespace cutface
