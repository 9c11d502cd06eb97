#include "measure/flow.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace cutface::measure {
namespace {

// Vertices that carry the elements: about equal arc, but every corner stays. A corner is where the
// direction turns by more than `turn` within a couple of vertices.
std::vector<std::size_t> ElementCorners(std::span<const PointUm> c, int elements) {
  const std::size_t n = c.size();
  std::vector<double> arc(n + 1, 0);
  for (std::size_t i = 0; i < n; ++i) arc[i + 1] = arc[i] + Distance(c[i], c[(i + 1) % n]);
  const double step = arc[n] / elements;
  std::vector<std::size_t> kept{0};
  // Furthest vertex within one step and with little sag; sag far below a step keeps corners.
  for (std::size_t i = 0; i < n;) {
    std::size_t next = i + 1;
    for (std::size_t j = i + 2; j <= n && arc[j] - arc[i] <= step * 1.0001; ++j) {
      const PointUm chord = c[j % n] - c[i];
      const double length = Norm(chord);
      bool close = length > 0;
      for (std::size_t k = i + 1; close && k < j; ++k) {
        close = std::abs(Cross(chord, c[k] - c[i])) <= 0.03 * step * length;
      }
      if (!close) break;
      next = j;
    }
    if (next >= n) break;
    kept.push_back(next);
    i = next;
  }
  return kept;
}

// Along the straight element from a to b: the integral of ln|x - y|, and that of
// (|y|^2 - |x|^2) / 4 times the derivative of ln|x - y| along the normal out of the bore, both
// exact.
struct Influence {
  double single = 0, load = 0;
};
Influence Integrate(PointUm x, PointUm a, PointUm b) {
  const PointUm e = b - a;
  const double length = Norm(e);
  const PointUm t = (1 / length) * e, normal{t.y, -t.x};
  const double s1 = Dot(a - x, t), s2 = Dot(b - x, t);
  const double h = Dot(a - x, normal);  // > 0 where x lies on the bore's side of the element
  const double log1 = std::log(s1 * s1 + h * h), log2 = std::log(s2 * s2 + h * h);
  const double angle = std::atan2(h * (s2 - s1), h * h + s1 * s2);
  Influence out;
  out.single = 0.5 * (s2 * log2 - s1 * log1) - length + h * angle;
  out.load = 0.25 * h * (2 * Dot(x, normal) * angle + Dot(x, t) * (log2 - log1) + length);
  return out;
}

}  // namespace

FlowFigure SolveFlow(std::span<const PointUm> contour, int elements) {
  FlowFigure figure;
  const std::size_t vertices = contour.size();
  figure.slope_squared.assign(vertices, 0.0);
  if (vertices < 3) return figure;
  // About the centroid, and with a perimeter of pi: the equation degenerates for a wall of
  // logarithmic capacity 1, and this one's is at most 1/2.
  const PointUm centre = Centroid<FrameUm>(contour);
  const double size = Perimeter<FrameUm>(contour) / kPi, area = Area<FrameUm>(contour);
  if (!(size > 0) || !(area > 0)) return figure;
  const double slender = std::clamp(0.5 * size * std::sqrt(kPi / area), 1.0, 3.0);
  elements = static_cast<int>(elements * slender);
  std::vector<PointUm> unit(vertices);
  for (std::size_t i = 0; i < vertices; ++i) unit[i] = (1 / size) * (contour[i] - centre);
  const std::vector<std::size_t> kept = ElementCorners(unit, elements);
  const auto n = static_cast<Eigen::Index>(kept.size());

  std::vector<PointUm> a(kept.size()), b(kept.size()), middle(kept.size());
  for (std::size_t i = 0; i < kept.size(); ++i) {
    a[i] = unit[kept[i]];
    b[i] = unit[kept[(i + 1) % kept.size()]];
    middle[i] = 0.5 * (a[i] + b[i]);
  }
  // Green's third identity for w and x on the wall, less the same for the constant w(x): the
  // integral of ln|x - y| q is that of (w(y) - w(x)) dln|x - y|/dn.
  Eigen::MatrixXd single(n, n);
  Eigen::VectorXd right(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const PointUm x = middle[static_cast<std::size_t>(i)];
    double sum = 0;
    for (Eigen::Index j = 0; j < n; ++j) {
      const auto k = static_cast<std::size_t>(j);
      const Influence influence = Integrate(x, a[k], b[k]);
      single(i, j) = influence.single;
      sum += influence.load;
    }
    right(i) = sum;
  }
  const Eigen::VectorXd q = single.partialPivLu().solve(right);

  // K = 1/16 of the integral of r^2 (r.n) - 1/4 of the integral of r^2 q, both along the wall.
  double k = 0;
  for (std::size_t e = 0; e < kept.size(); ++e) {
    const double length = Distance(a[e], b[e]);
    const PointUm normal = (1 / length) * PointUm{b[e].y - a[e].y, a[e].x - b[e].x};
    const double square = (Dot(a[e], a[e]) + Dot(a[e], b[e]) + Dot(b[e], b[e])) / 3;
    const double slope_w = q(static_cast<Eigen::Index>(e));
    k += length * square * (Dot(middle[e], normal) / 16 - slope_w / 4);
    const double slope = slope_w - 0.5 * Dot(middle[e], normal);
    // What lies between the chord and the contour, to first order in its height.
    double sliver = 0;
    const std::size_t last = e + 1 < kept.size() ? kept[e + 1] : vertices;
    for (std::size_t v = kept[e]; v < last; ++v) {
      const PointUm p = unit[v] - a[e], next = unit[(v + 1) % vertices] - a[e];
      sliver += 0.5 * Cross(p, next);
      figure.slope_squared[v] = slope * slope * size * size;
    }
    k += slope * slope * sliver;
  }
  figure.k = k * size * size * size * size;
  return figure;
}

double NominalFlow(const Shape& shape) {
  switch (shape.kind) {
    case Shape::Kind::kCircle:
      return kPi * std::pow(shape.diameter_um / 2, 4) / 8;
    case Shape::Kind::kEllipse: {
      const double a = shape.size_x_um / 2, b = shape.size_y_um / 2;
      return kPi * a * a * a * b * b * b / (4 * (a * a + b * b));
    }
    case Shape::Kind::kRectangle:
    case Shape::Kind::kPath:
      break;
  }
  return SolveFlow(Resampled<FrameUm>(shape.contour, Perimeter<FrameUm>(shape.contour) / 960)).k;
}

}  // namespace cutface::measure
