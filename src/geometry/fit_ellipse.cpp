#include <fmt/format.h>

#include <Eigen/Dense>
#include <numbers>
#include <optional>

#include "geometry/vec.h"

namespace cutface {
namespace {

using Parameters = Eigen::Matrix<double, 5, 1>;  // centre x, y, semi axes a, b, angle
using Normal = Eigen::Matrix<double, 5, 5>;

constexpr int kEllipseIterations = 500;
// Axes longer than this many spreads of the points are no longer told from a parabola.
constexpr double kOpen = 1e4;
// Sets of up to this size are fitted from several starts; they are quick and may have several
// minima.
constexpr std::size_t kSmallSet = 60;

struct Foot {
  double x = 0, y = 0;
};

// Nearest point of the ellipse (a >= b > 0, axes along x and y) to (x, y) in the first quadrant:
// Newton's method for the multiplier t of g(t) = (a x / (t + a^2))^2 + (b y / (t + b^2))^2 - 1. g
// is convex and falls, so steps from its left end never overshoot (Eberly, "Distance from a point
// to an ellipse"; derivation in Hart, Graphics Gems IV).
Foot FootInQuadrant(double a, double b, double x, double y) {
  const double aa = a * a, bb = b * b;
  const double ax = a * x, by = b * y;
  if (y == 0 && ax < aa - bb) {
    const double fx = aa * x / (aa - bb);
    return {fx, b * std::sqrt(std::max(0.0, 1 - (fx / a) * (fx / a)))};
  }
  double t = std::max(by - bb, ax - aa);
  for (int i = 0; i < 200; ++i) {
    const double p = ax / (t + aa), q = by > 0 ? by / (t + bb) : 0;
    const double g = p * p + q * q - 1;
    if (g <= 0) break;
    const double slope = 2 * (p * p / (t + aa) + (by > 0 ? q * q / (t + bb) : 0));
    const double step = g / slope;
    t += step;
    if (step <= 1e-15 * (std::abs(t) + aa)) break;
  }
  Foot foot{aa * x / (t + aa), by > 0 ? bb * y / (t + bb) : 0};
  // Back onto the curve: t is rounded, and a foot beside the curve would bias the distance.
  const double scale = std::sqrt(foot.x * foot.x / aa + foot.y * foot.y / bb);
  if (scale > 0) foot = {foot.x / scale, foot.y / scale};
  return foot;
}

Foot NearestOnEllipse(double a, double b, double x, double y) {
  const double ux = std::abs(x), uy = std::abs(y);
  Foot foot;
  if (a >= b) {
    foot = FootInQuadrant(a, b, ux, uy);
  } else {
    const Foot turned = FootInQuadrant(b, a, uy, ux);
    foot = {turned.y, turned.x};
  }
  return {std::copysign(foot.x, x), std::copysign(foot.y, y)};
}

struct EllipseCost {
  double cost = std::numeric_limits<double>::infinity();
  Normal jtj = Normal::Zero();
  Parameters jte = Parameters::Zero();
};

// Sum of squared signed distances and its Gauss-Newton matrices. By the envelope theorem a foot
// point that slides along the curve does not change the distance to first order, so only the
// curve's own motion along its normal counts.
EllipseCost CostAt(const std::vector<Eigen::Vector2d>& points, const Parameters& e) {
  EllipseCost cost;
  const double a = e[2], b = e[3];
  if (!(a > 0 && b > 0)) return cost;
  const double c = std::cos(e[4]), s = std::sin(e[4]);
  cost.cost = 0;
  for (const Eigen::Vector2d& point : points) {
    const double dx = point.x() - e[0], dy = point.y() - e[1];
    const double x = c * dx + s * dy, y = c * dy - s * dx;
    const Foot f = NearestOnEllipse(a, b, x, y);
    const double nx0 = f.x / (a * a), ny0 = f.y / (b * b), length = std::hypot(nx0, ny0);
    const double nx = nx0 / length, ny = ny0 / length;  // outward normal, in the ellipse's axes
    const double distance = (x - f.x) * nx + (y - f.y) * ny;
    Parameters j;
    j << -(c * nx - s * ny), -(s * nx + c * ny), -nx * f.x / a, -ny * f.y / b,
        -(ny * f.x - nx * f.y);
    cost.cost += distance * distance;
    cost.jtj += j * j.transpose();
    cost.jte += j * distance;
  }
  return cost;
}

struct Found {
  Parameters ellipse;
  double cost = 0;
};

// Levenberg-Marquardt from a start, on points of unit spread; nullopt when it does not settle.
std::optional<Found> Descend(const std::vector<Eigen::Vector2d>& points, Parameters e) {
  EllipseCost at = CostAt(points, e);
  double damping = 1e-4;
  for (int i = 0; i < kEllipseIterations && std::isfinite(at.cost); ++i) {
    Normal m = at.jtj;
    m.diagonal() *= 1 + damping;
    // A circle has no angle: a trace of absolute damping keeps its step at zero.
    m.diagonal().array() += 1e-12 * at.jtj.trace();
    const Parameters step = -m.ldlt().solve(at.jte);
    if (!step.allFinite()) return std::nullopt;
    const EllipseCost next = CostAt(points, e + step);
    const double size = step.norm() / (1 + e.norm());
    // Near the minimum the cost no longer tells better from worse; the gradient still does.
    const double rounding = 1e-13 * at.cost + 1e-28;
    if (next.cost <= at.cost + rounding) {
      e += step;
      at = next;
      damping = std::max(1e-15, damping / 10);
      if (e[2] > kOpen || e[3] > kOpen) return std::nullopt;
      if (size <= 1e-12) return Found{e, at.cost};
    } else {
      if (size <= 1e-10) return Found{e, at.cost};
      damping *= 8;
    }
  }
  return std::nullopt;
}

// Ellipse of A x^2 + B x y + C y^2 + D x + E y + G = 0; nullopt when it is none.
std::optional<Parameters> FromConic(double A, double B, double C, double D, double E, double G) {
  const double det = 4 * A * C - B * B;
  if (!(det > 0)) return std::nullopt;
  const double x = (B * E - 2 * C * D) / det, y = (B * D - 2 * A * E) / det;
  const double value = G + 0.5 * (D * x + E * y);
  const double mean = 0.5 * (A + C), gap = std::hypot(0.5 * (A - C), 0.5 * B);
  const double small = mean >= 0 ? mean - gap : mean + gap,
               large = mean >= 0 ? mean + gap : mean - gap;
  const double aa = -value / small, bb = -value / large;
  if (!(aa > 0 && bb > 0 && std::isfinite(aa))) return std::nullopt;
  double angle = 0.5 * std::atan2(B, A - C);
  if (mean >= 0) angle += std::numbers::pi / 2;  // the major axis has the smaller eigenvalue
  return Parameters(x, y, std::sqrt(aa), std::sqrt(bb), angle);
}

// Direct algebraic fit of Fitzgibbon, Pilu & Fisher (IEEE PAMI 21, 1999) in the stable form of
// Halir & Flusser (1998). Always an ellipse, biased towards small ones: only a start.
std::optional<Parameters> DirectFit(const std::vector<Eigen::Vector2d>& points) {
  Eigen::Matrix3d s1 = Eigen::Matrix3d::Zero(), s2 = s1, s3 = s1;
  for (const Eigen::Vector2d& p : points) {
    const Eigen::Vector3d quadratic(p.x() * p.x(), p.x() * p.y(), p.y() * p.y());
    const Eigen::Vector3d linear(p.x(), p.y(), 1);
    s1 += quadratic * quadratic.transpose();
    s2 += quadratic * linear.transpose();
    s3 += linear * linear.transpose();
  }
  const Eigen::Matrix3d to_linear = -s3.inverse() * s2.transpose();
  const Eigen::Matrix3d reduced = s1 + s2 * to_linear;
  Eigen::Matrix3d m;
  m << reduced.row(2) / 2, -reduced.row(1), reduced.row(0) / 2;
  const Eigen::EigenSolver<Eigen::Matrix3d> solver(m);
  for (int i = 0; i < 3; ++i) {
    const Eigen::Vector3d q = solver.eigenvectors().col(i).real();
    if (4 * q[0] * q[2] - q[1] * q[1] <= 0) continue;
    const Eigen::Vector3d l = to_linear * q;
    return FromConic(q[0], q[1], q[2], l[0], l[1], l[2]);
  }
  return std::nullopt;
}

// Other starts: an ellipse of the points' own spread, also longer and moved sideways, as short arcs
// of large ellipses need.
std::vector<Parameters> SpreadStarts(const Eigen::Matrix2d& covariance) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> solver(covariance);
  const Eigen::Vector2d small = solver.eigenvectors().col(0), large = solver.eigenvectors().col(1);
  const double a = std::sqrt(2 * solver.eigenvalues()[1]);
  const double b = std::sqrt(2 * std::max(1e-6, solver.eigenvalues()[0]));
  const double angle = std::atan2(large.y(), large.x());
  std::vector<Parameters> starts;
  for (const double along : {-1.0, 0.0, 1.0}) {
    for (const double across : {-1.0, 0.0, 1.0}) {
      const Eigen::Vector2d c = along * a * large + across * b * small;
      starts.emplace_back(c.x(), c.y(), a * (1 + std::abs(along)), b * (1 + std::abs(across)),
                          angle);
    }
  }
  return starts;
}

// A close fit with points on all four sides of its centre has no rival.
bool IsPlain(const Found& found, const std::vector<Eigen::Vector2d>& points) {
  constexpr double kClose = 0.05;  // rms distance over the smaller semi axis
  const Parameters& e = found.ellipse;
  const double rms = std::sqrt(found.cost / static_cast<double>(points.size()));
  if (rms > kClose * std::min(e[2], e[3])) return false;
  unsigned quadrants = 0;
  for (const Eigen::Vector2d& p : points) {
    quadrants |= 1U << ((p.x() > e[0] ? 1U : 0U) + (p.y() > e[1] ? 2U : 0U));
  }
  return quadrants == 15U;
}

template <class F>
Ellipse<F> Canonical(const Parameters& e, Point<F> mean, double spread) {
  Ellipse<F> result{mean + spread * Point<F>{e[0], e[1]}, spread * e[2], spread * e[3], e[4]};
  if (result.semi_major < result.semi_minor) {
    std::swap(result.semi_major, result.semi_minor);
    result.angle += std::numbers::pi / 2;
  }
  result.angle = std::remainder(result.angle, std::numbers::pi);
  if (result.angle <= -std::numbers::pi / 2) result.angle += std::numbers::pi;
  return result;
}

}  // namespace

template <class F>
Result<Ellipse<F>> FitEllipse(std::span<const Point<F>> points) {
  if (points.size() < 5) {
    return Fail(Code::kInvalidContour,
                fmt::format("ellipse fit: {} points, at least 5 are needed", points.size()));
  }
  const double n = static_cast<double>(points.size());
  Point<F> mean;
  for (const Point<F>& p : points) mean = mean + (p - points[0]);
  mean = points[0] + (1 / n) * mean;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  for (const Point<F>& p : points) {
    const Eigen::Vector2d v(p.x - mean.x, p.y - mean.y);
    covariance += v * v.transpose() / n;
  }
  if (!covariance.allFinite()) {
    return Fail(Code::kInvalidContour, "ellipse fit: a coordinate is not a finite number");
  }
  const double trace = covariance.trace();
  if (covariance.determinant() <= 1e-14 * trace * trace) {
    return Fail(Code::kInvalidContour, "ellipse fit: the points lie on one straight line");
  }
  const double spread = std::sqrt(trace);
  std::vector<Eigen::Vector2d> scaled;
  scaled.reserve(points.size());
  for (const Point<F>& p : points) {
    scaled.emplace_back((p.x - mean.x) / spread, (p.y - mean.y) / spread);
  }
  std::optional<Found> best;
  const auto attempt = [&](const Parameters& start) {
    const auto found = Descend(scaled, start);
    if (found && (!best || found->cost < best->cost * (1 - 1e-9))) best = found;
  };
  if (const auto direct = DirectFit(scaled)) attempt(*direct);
  if (!best || (points.size() <= kSmallSet && !IsPlain(*best, scaled))) {
    for (const Parameters& start : SpreadStarts(covariance / trace)) attempt(start);
  }
  if (!best) {
    return Fail(Code::kInvalidContour,
                "ellipse fit: no convergence, the points fit an open curve as well as an ellipse");
  }
  return Canonical(best->ellipse, mean, spread);
}

#define CF_DECLARE(F) template Result<Ellipse<F>> FitEllipse<F>(std::span<const Point<F>>);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
