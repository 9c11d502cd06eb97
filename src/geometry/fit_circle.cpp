#include <fmt/format.h>

#include <optional>

#include "geometry/vec.h"

namespace cutface {
namespace {

// A fitted radius beyond this many spreads of the points is a straight line within rounding.
constexpr double kStraight = 1e6;
constexpr int kMaxIterations = 300;

// Means of a centred point set up to the moments that the algebraic fit needs; z = x^2 + y^2.
struct CircleMoments {
  double xx = 0, yy = 0, xy = 0, xz = 0, yz = 0, zz = 0;
};

template <class F>
CircleMoments MomentsAbout(std::span<const Point<F>> points, Point<F> mean) {
  CircleMoments m;
  for (const Point<F>& point : points) {
    const Point<F> p = point - mean;
    const double z = Length2(p);
    m.xx += p.x * p.x;
    m.yy += p.y * p.y;
    m.xy += p.x * p.y;
    m.xz += p.x * z;
    m.yz += p.y * z;
    m.zz += z * z;
  }
  const double n = static_cast<double>(points.size());
  return {m.xx / n, m.yy / n, m.xy / n, m.xz / n, m.yz / n, m.zz / n};
}

// Algebraic fit of Taubin (IEEE PAMI 13, 1991) from the moments: least root of the characteristic
// polynomial by Newton's method from 0, which never passes it (Chernov, Circular and Linear
// Regression, 2010). Relative to the mean point. Only a start: on short arcs it differs from the
// geometric fit.
template <class F>
Point<F> TaubinCentre(const CircleMoments& m) {
  const double mz = m.xx + m.yy, cov = m.xx * m.yy - m.xy * m.xy, var_z = m.zz - mz * mz;
  const double a3 = 4 * mz, a2 = -3 * mz * mz - m.zz;
  const double a1 = var_z * mz + 4 * cov * mz - m.xz * m.xz - m.yz * m.yz;
  const double a0 =
      m.xz * (m.xz * m.yy - m.yz * m.xy) + m.yz * (m.yz * m.xx - m.xz * m.xy) - var_z * cov;
  double root = 0;
  for (int i = 0; i < 60; ++i) {
    const double value = a0 + root * (a1 + root * (a2 + root * a3));
    const double slope = a1 + root * (2 * a2 + root * 3 * a3);
    const double next = root - value / slope;
    if (!std::isfinite(next) || std::abs(next - root) <= 1e-14 * std::abs(next)) break;
    root = next;
  }
  const double det = 2 * (root * root - root * mz + cov);
  return {(m.xz * (m.yy - root) - m.yz * m.xy) / det, (m.yz * (m.xx - root) - m.xz * m.xy) / det};
}

// Sum of squared radial distances about a centre, for the best radius there, with its gradient and
// full second derivative in the centre (so that large residuals converge quadratically as well).
template <class F>
struct CircleCost {
  Point<F> centre;
  double radius = 0, cost = 0;
  double gx = 0, gy = 0, hxx = 0, hxy = 0, hyy = 0;
};

template <class F>
CircleCost<F> CostAt(std::span<const Point<F>> points, Point<F> centre, double near_radius) {
  double e_sum = 0, ee = 0, ux = 0, uy = 0, eux = 0, euy = 0, uxx = 0, uxy = 0;
  double w_sum = 0, wxx = 0, wxy = 0, v_sum = 0, vxx = 0, vxy = 0;  // w = e / d, v = 1 / d
  for (const Point<F>& point : points) {
    const Point<F> p = point - centre;
    const double d = Length(p);
    const double v = d > 0 ? 1 / d : 0;
    const double x = p.x * v, y = p.y * v, e = d - near_radius, w = e * v;
    const double xx = x * x, xy = x * y;
    e_sum += e;
    ee += e * e;
    ux += x;
    uy += y;
    eux += e * x;
    euy += e * y;
    uxx += xx;
    uxy += xy;
    w_sum += w;
    wxx += w * xx;
    wxy += w * xy;
    v_sum += v;
    vxx += v * xx;
    vxy += v * xy;
  }
  const double n = static_cast<double>(points.size()), e = e_sum / n;
  CircleCost<F> c{centre, near_radius + e, ee - e * e_sum};
  c.gx = -(eux - e * ux);
  c.gy = -(euy - e * uy);
  c.hxx = uxx - ux * ux / n + (w_sum - wxx) - e * (v_sum - vxx);
  c.hxy = uxy - ux * uy / n - wxy + e * vxy;
  c.hyy = (n - uxx) - uy * uy / n + wxx - e * vxx;
  return c;
}

// Damped Newton steps from a start; nullopt when they do not settle.
template <class F>
std::optional<Circle<F>> Settle(std::span<const Point<F>> points, Circle<F> start, double spread) {
  CircleCost<F> at = CostAt(points, start.centre, start.radius);
  const double n = static_cast<double>(points.size());
  double damping = 0;
  for (int i = 0; i < kMaxIterations; ++i) {
    if (!(at.radius < kStraight * spread)) return std::nullopt;
    const double lift = damping * n;
    const double hxx = at.hxx + lift, hyy = at.hyy + lift;
    const double det = hxx * hyy - at.hxy * at.hxy;
    if (!(hxx + hyy > 0 && det > 1e-16 * (hxx + hyy) * (hxx + hyy))) {
      damping = damping == 0 ? 1e-3 : 4 * damping;
      if (damping > 1e12) return std::nullopt;
      continue;
    }
    const Point<F> step{(at.hxy * at.gy - hyy * at.gx) / det, (at.hxy * at.gx - hxx * at.gy) / det};
    const double length = Length(step);
    const CircleCost<F> next = CostAt(points, at.centre + step, at.radius);
    // Near the minimum the cost no longer tells better from worse; the gradient still does.
    const double rounding = 1e-13 * at.cost + n * std::pow(1e-14 * at.radius, 2);
    if (next.cost <= at.cost + rounding) {
      const bool undamped = damping == 0;
      at = next;
      damping = damping < 1e-6 ? 0 : damping / 8;
      // Newton steps square the error, so the step after one of 1e-8 is below rounding.
      if (undamped && length <= 1e-8 * at.radius) return Circle<F>{at.centre, at.radius};
    } else {
      damping = damping == 0 ? 1e-4 : 6 * damping;
      if (length <= 1e-12 * at.radius) return Circle<F>{at.centre, at.radius};
    }
  }
  return std::nullopt;
}

// A circle that fits no better than the best straight line has crept along a slope that flattens
// out towards an infinite radius; it is no minimum.
template <class F>
std::optional<Circle<F>> Descend(std::span<const Point<F>> points, Circle<F> start, double spread,
                                 double line_cost) {
  const auto circle = Settle(points, start, spread);
  if (!circle) return std::nullopt;
  const double cost = CostAt(points, circle->centre, circle->radius).cost;
  if (cost >= line_cost * (1 - 1e-9)) return std::nullopt;
  return circle;
}

}  // namespace

template <class F>
Result<Circle<F>> FitCircle(std::span<const Point<F>> points,
                            const std::type_identity_t<std::optional<Circle<F>>>& start) {
  if (points.size() < 3) {
    return Fail(Code::kInvalidContour,
                fmt::format("circle fit: {} points, at least 3 are needed", points.size()));
  }
  Point<F> mean;
  for (const Point<F>& p : points) mean = mean + (p - points[0]);
  mean = points[0] + (1 / static_cast<double>(points.size())) * mean;
  const CircleMoments m = MomentsAbout(points, mean);
  if (!std::isfinite(m.zz)) {
    return Fail(Code::kInvalidContour, "circle fit: a coordinate is not a finite number");
  }
  const double sum = m.xx + m.yy;
  // Variance across over variance along: the square of how far the points leave a straight line.
  if (m.xx * m.yy - m.xy * m.xy <= 1e-14 * sum * sum) {
    return Fail(Code::kInvalidContour, "circle fit: the points lie on one straight line");
  }
  const double spread = std::sqrt(sum);
  const double across = 0.5 * (sum - std::hypot(m.xx - m.yy, 2 * m.xy));
  const double line_cost = across * static_cast<double>(points.size());
  if (start) {
    if (const auto circle = Descend(points, *start, spread, line_cost)) return *circle;
  }
  const Point<F> offset = TaubinCentre<F>(m);
  if (std::isfinite(offset.x) && std::isfinite(offset.y)) {
    const Circle<F> taubin{mean + offset, std::sqrt(Length2(offset) + sum)};
    if (const auto circle = Descend(points, taubin, spread, line_cost)) return *circle;
  }
  if (const auto circle = Descend(points, {mean, spread}, spread, line_cost)) return *circle;
  return Fail(Code::kInvalidContour,
              "circle fit: no convergence, the points fit a straight line as well as a circle");
}

#define CF_DECLARE(F)                                                \
  template Result<Circle<F>> FitCircle<F>(std::span<const Point<F>>, \
                                          const std::optional<Circle<F>>&);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
