#include "identify/oblique.h"

#include <Eigen/Dense>

namespace cutface {
namespace {

constexpr double kLeastStretch = 0.012;  // 9 degrees: less cannot be told from an oval part
constexpr double kAgreement = 2.5;       // common stretch against its standard error

// Second moments of area about the centroid, divided by area^2 so that only shape remains.
Eigen::Matrix2d ShapeMoments(std::span<const PointPx> contour) {
  const Ellipse<FramePx> e = MomentEllipse(contour);
  const double a = e.semi_major, b = e.semi_minor;
  Eigen::Matrix2d r;
  r << std::cos(e.angle), -std::sin(e.angle), std::sin(e.angle), std::cos(e.angle);
  const Eigen::Matrix2d d = Eigen::Vector2d(a / b, b / a).asDiagonal();
  return r * d * r.transpose();
}

// The symmetric matrix S with S N S = M (geometric mean), as a deviatoric log-stretch (e1, e2).
Eigen::Vector2d Deviator(const Eigen::Matrix2d& measured, const Eigen::Matrix2d& nominal) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> n(nominal);
  const Eigen::Matrix2d root = n.operatorSqrt(), inverse = n.operatorInverseSqrt();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> inner(root * measured * root);
  const Eigen::Matrix2d s = inverse * inner.operatorSqrt() * inverse;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> es(s);
  const double half = 0.5 * std::log(es.eigenvalues()(1) / es.eigenvalues()(0));
  const Eigen::Vector2d axis = es.eigenvectors().col(1);
  const double angle = std::atan2(axis.y(), axis.x());
  return {half * std::cos(2 * angle), half * std::sin(2 * angle)};
}

ContourPx TurnedNominal(const Pose& pose, double px_per_um, const ContourUm& nominal) {
  ContourPx out;
  for (PointUm p : nominal) {
    PointPx q{px_per_um * (pose.mirrored ? -p.x : p.x), px_per_um * p.y};
    out.push_back(Rotated(q, pose.rotation_rad));
  }
  if (pose.mirrored) std::reverse(out.begin(), out.end());
  return out;
}

}  // namespace

CommonStretch FindCommonStretch(const Pose& pose, double px_per_um,
                                std::span<const FeaturePair> features) {
  CommonStretch out;
  std::vector<Eigen::Vector2d> deviators;
  std::vector<double> weight;
  for (const FeaturePair& f : features) {
    if (f.measured.size() < 6) continue;
    const ContourPx nominal = TurnedNominal(pose, px_per_um, f.nominal);
    const Ellipse<FramePx> shape = MomentEllipse(std::span<const PointPx>(nominal));
    // A long slot says little across its length.
    if (shape.semi_major > 3 * shape.semi_minor) continue;
    deviators.push_back(Deviator(ShapeMoments(f.measured), ShapeMoments(nominal)));
    weight.push_back(std::sqrt(shape.semi_major * shape.semi_minor));
  }
  out.features = static_cast<int>(deviators.size());
  if (deviators.size() < 2) return out;
  // Geometric median (Weiszfeld): one collapsed lumen must not speak for the cut.
  Eigen::Vector2d mean = Eigen::Vector2d::Zero();
  double scatter = 0, sum = 0;
  for (int round = 0; round < 20; ++round) {
    Eigen::Vector2d next = Eigen::Vector2d::Zero();
    scatter = sum = 0;
    for (std::size_t k = 0; k < deviators.size(); ++k) {
      const double distance = (deviators[k] - mean).norm();
      const double w = weight[k] / std::max(0.003, distance);
      next += w * deviators[k];
      sum += w;
      scatter += weight[k] * distance;
    }
    mean = next / sum;
  }
  double weights = 0;
  for (double w : weight) weights += w;
  out.disagreement = scatter / weights;
  const double error =
      std::max(0.002, 1.2 * out.disagreement) / std::sqrt(static_cast<double>(deviators.size()));
  // The outline stands first; where it, or half of the rest, does not share the stretch, nothing
  // was tilted.
  if ((deviators.front() - mean).norm() > 0.6 * mean.norm()) return out;
  std::size_t sharing = 0;
  for (std::size_t k = 1; k < deviators.size(); ++k) {
    sharing += (deviators[k] - mean).norm() < 0.6 * mean.norm() ? 1 : 0;
  }
  if (2 * sharing < deviators.size() - 1) return out;
  out.stretch = std::exp(2 * mean.norm());
  out.axis_rad = 0.5 * std::atan2(mean.y(), mean.x());
  if (out.stretch > 1 + kLeastStretch && mean.norm() > kAgreement * error) {
    out.tilt_rad = std::acos(1 / out.stretch);
  }
  return out;
}

}  // namespace cutface
