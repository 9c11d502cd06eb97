#include "identify/outline_fit.h"

#include <Eigen/Dense>

namespace cutface {
namespace {

using Vector6 = Eigen::Matrix<double, 6, 1>;
using Matrix6 = Eigen::Matrix<double, 6, 6>;

// Change of the linear part per parameter: size, stretch along x, stretch along the diagonal, turn.
Eigen::Matrix2d Basis(int k) {
  Eigen::Matrix2d m;
  switch (k) {
    case 0: m << 1, 0, 0, 1; break;
    case 1: m << 1, 0, 0, -1; break;
    case 2: m << 0, 1, 1, 0; break;
    default: m << 0, -1, 1, 0; break;
  }
  return m;
}

}  // namespace

double FitOutline(const ContourUm& nominal, std::span<const PointPx> traced,
                  std::span<const char> visible, const OutlineFitPriors& priors, Warp& start) {
  const Warp first = start;
  const double size_px = std::sqrt(std::abs(first.linear.determinant()) *
                                   Area(std::span<const PointUm>(nominal)) / M_PI);
  Vector6 prior_sigma;
  prior_sigma << priors.scale, priors.stretch, priors.stretch, priors.rotation_rad, 0.3, 0.3;
  const double place_sigma = priors.place_share;
  Vector6 state = Vector6::Zero();  // size, stretch x 2, turn, shift / size
  double rms = 0;
  for (int round = 0; round < 8; ++round) {
    Warp now = first;
    Eigen::Matrix2d change = Eigen::Matrix2d::Identity();
    for (int k = 0; k < 4; ++k) change += state(k) * Basis(k);
    now.linear = change * first.linear;
    now.shift = first.shift + size_px * state.tail<2>();
    const ContourPx placed = now(nominal);
    const ContourIndex<FramePx> index{std::span<const PointPx>(placed)};
    Matrix6 normal = Matrix6::Zero();
    Vector6 right = Vector6::Zero();
    double weight_sum = 0, square_sum = 0;
    for (std::size_t i = 0; i < traced.size(); ++i) {
      if (!visible[i]) continue;
      const auto near = index.NearestTo(traced[i], 0.4 * size_px);
      if (!near) continue;
      const PointPx a = placed[near->edge_second], b = placed[(near->edge_second + 1) % placed.size()];
      const double length = Distance(a, b);
      if (length <= 0) continue;
      const Eigen::Vector2d n((b.y - a.y) / length, -(b.x - a.x) / length);
      const PointPx gap = traced[i] - near->on_second;
      const double residual = (n.x() * gap.x + n.y() * gap.y) / size_px;
      const double weight = 1.0 / (1.0 + std::pow(residual / (2 * place_sigma), 2));
      const Eigen::Vector2d arm((near->on_second.x - now.shift.x()) / size_px,
                                (near->on_second.y - now.shift.y()) / size_px);
      Vector6 row;
      for (int k = 0; k < 4; ++k) row(k) = n.dot(Basis(k) * arm);
      row(4) = n.x();
      row(5) = n.y();
      normal += weight * row * row.transpose();
      right += weight * row * residual;
      weight_sum += weight;
      square_sum += weight * residual * residual;
    }
    if (weight_sum < 6) break;
    rms = size_px * std::sqrt(square_sum / weight_sum);
    // Neighbouring places are not independent: about forty of them count.
    const double scale = std::min(1.0, 40.0 / weight_sum) / (place_sigma * place_sigma);
    normal *= scale;
    right *= scale;
    for (int k = 0; k < 6; ++k) {
      const double p = 1.0 / (prior_sigma(k) * prior_sigma(k));
      normal(k, k) += p;
      right(k) -= p * state(k);
    }
    const Vector6 step = normal.ldlt().solve(right);
    state += step;
    if (step.norm() < 1e-6) break;
  }
  Eigen::Matrix2d change = Eigen::Matrix2d::Identity();
  for (int k = 0; k < 4; ++k) change += state(k) * Basis(k);
  start.linear = change * first.linear;
  start.shift = first.shift + size_px * state.tail<2>();
  return rms;
}

}  // namespace cutface
