#include "identify/wire_ruler.h"

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

constexpr double kFarOff = 1e9;     // px: beyond whatever is asked
constexpr double kRounding = 1e-6;  // px: by which a bound must be clear
constexpr double kBent = 1.3;

double EllipseDistance(double s, double t, double a, double b) {
  const double k = std::hypot(s / a, t / b);
  if (k < 1e-6) return -std::min(a, b);
  return k * (k - 1) / std::hypot(s / (a * a), t / (b * b));
}

}  // namespace

double ShapeDistance(const WireSize& size, double s, double t) {
  if (!size.flat) return EllipseDistance(s, t, size.along, size.across);
  const double reach = std::max(0.0, size.along - size.across);
  return std::hypot(std::max(0.0, std::abs(s) - reach), t) - size.across;
}

WireRuler::WireRuler(const FittedWire& wire)
    : size_(wire.size),
      radius_(wire.radius),
      tilt_(wire.tilt),
      cos_(std::cos(wire.tilt)),
      sin_(std::sin(wire.tilt)),
      radial_{std::cos(wire.angle), std::sin(wire.angle)},
      middle_(wire.radius * radial_) {}

double WireRuler::Shape(double s, double t) const {
  if (tilt_ != 0) {
    const double along = cos_ * s + sin_ * t;
    t = cos_ * t - sin_ * s;
    s = along;
  }
  return ShapeDistance(size_, s, t);
}

double WireRuler::Distance(PointPx q) const {
  if (!size_.flat) {
    const PointPx d = q - middle_;
    return Shape(Cross(radial_, d), Dot(radial_, d));
  }
  const double turn = std::atan2(Cross(radial_, q), Dot(radial_, q));
  return Shape(radius_ * turn, Norm(q) - radius_);
}

double WireRuler::Within(PointPx q, double least, double most) const {
  const PointPx d = q - middle_;
  if (size_.flat) {
    // Around the layer a straight way is at most kBent of the bent one beside the bar's middle
    // line.
    const double beyond = kBent * (size_.along + most + kRounding);
    const bool thin = radius_ > (size_.across + most) / (kBent * kBent - 1);
    return thin && d.x * d.x + d.y * d.y > beyond * beyond ? kFarOff : Distance(q);
  }
  const double s = Cross(radial_, d), t = Dot(radial_, d);
  const double on = cos_ * s + sin_ * t, up = cos_ * t - sin_ * s;
  // The ellipse's own measure k grows by at most 1 / least half axis a pixel: |k - 1| of them lie
  // between here and the edge at least, and EllipseDistance() says no less.
  const double a = size_.along, b = size_.across, short_axis = std::min(a, b);
  const double square = on * on / (a * a) + up * up / (b * b);
  const double out = 1 + (most + kRounding) / short_axis;
  if (square > out * out) return kFarOff;
  const double in = 1 + (least - kRounding) / short_axis;
  if (in > 0 && square < in * in) return -kFarOff;
  return Shape(s, t);
}

}  // namespace cutface
