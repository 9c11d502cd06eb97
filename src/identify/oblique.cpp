#include "identify/oblique.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <vector>

namespace cutface {
namespace {

// Spreads (standard deviations) of good and ordinary extrusions, as shares of a length (common
// practice): half of the ovality that an outline, a ring or a lumen has of its own, size of a part
// and of a lumen against the drawing, offset of a lumen against the outline's radius.
constexpr double kOutlineOval = 0.004, kLumenOval = 0.008;
constexpr double kRingSize = 0.003, kLumenSize = 0.015;
constexpr double kWiresOval = 0.006, kWiresSize = 0.012;
constexpr double kPartOval = 0.012, kPartSize = 0.012;
constexpr double kLumenOffset = 0.006, kGroupOffset = 0.01, kTurn = 0.06;
constexpr double kRingEdge_px = 0.3;  // what edges leave unsure, in every spread
constexpr double kRobust = 2.0;       // spreads beyond which a residual counts less
constexpr double kSlender = 1.5;      // a slot says less across its length
constexpr double kShown = 2.6;        // standard uncertainties: a stretch is there
constexpr double kShared = 0.5;  // of the stretch that rings and lumens show without the outline
// Difference of costs at which one is believed: a squash needs more, for a tilt that is taken for a
// squash keeps lower limits too high.
constexpr double kTiltTold = 2.0, kSquashTold = 3.0;
constexpr double kLeastPartSize = 0.005, kMostPartSize = 0.02;
constexpr double kOneSided = 1.645;

using Params = Eigen::Matrix<double, 6, 1>;  // s, e1, e2, turn, shift x, shift y
using Params6 = Eigen::Matrix<double, 6, 6>;

struct Seen {
  bool lumen = false, wires = false, part = false;
  Eigen::Matrix2d moments, nominal;
  Eigen::Vector2d at, nominal_at;
  double slender = 1, radius = 1;
};

// Second moments of area about the centroid / area.
Eigen::Matrix2d Moments(std::span<const PointUm> contour) {
  const Ellipse<FrameUm> e = MomentEllipse(contour);
  Eigen::Matrix2d r;
  r << std::cos(e.angle), -std::sin(e.angle), std::sin(e.angle), std::cos(e.angle);
  const Eigen::Vector2d d(e.semi_major * e.semi_major, e.semi_minor * e.semi_minor);
  return r * d.asDiagonal() * r.transpose();
}

// ln of the symmetric S with S N S = M (geometric mean): what stretches N into M.
Eigen::Matrix2d LogStretch(const Eigen::Matrix2d& measured, const Eigen::Matrix2d& nominal) {
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> n(nominal);
  const Eigen::Matrix2d root = n.operatorSqrt(), inverse = n.operatorInverseSqrt();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> inner(root * measured * root);
  const Eigen::Matrix2d s = inverse * inner.operatorSqrt() * inverse;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> es(s);
  return es.eigenvectors() * es.eigenvalues().array().log().matrix().asDiagonal() *
         es.eigenvectors().transpose();
}

ContourUm Turned(double rotation_rad, bool mirrored, const ContourUm& nominal) {
  ContourUm out;
  for (PointUm p : nominal)
    out.push_back(Rotated(PointUm{mirrored ? -p.x : p.x, p.y}, rotation_rad));
  if (mirrored) std::reverse(out.begin(), out.end());
  return out;
}

struct Stretching {
  double iso = 0;     // ln of size against nominal
  Eigen::Vector2d e;  // deviator of ln of stretch
};
Eigen::Matrix2d RotationBy(double angle) {
  Eigen::Matrix2d r;
  r << std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle);
  return r;
}
// Against the nominal shape turned by `turn`: the pose's rotation is not exact where the face is
// stretched.
Stretching StretchOf(const Seen& s, double turn) {
  const Eigen::Matrix2d r = RotationBy(turn);
  const Eigen::Matrix2d log = LogStretch(s.moments, r * s.nominal * r.transpose());
  return {0.5 * log.trace(), {0.5 * (log(0, 0) - log(1, 1)), log(0, 1)}};
}

Seen ShapeOf(const FeaturePair& f, double rotation_rad, bool mirrored) {
  const ContourUm nominal = Turned(rotation_rad, mirrored, f.nominal);
  const std::span<const PointUm> drawn(nominal), seen(f.measured);
  const Ellipse<FrameUm> like = MomentEllipse(drawn);
  const PointUm at = Centroid(seen), was = Centroid(drawn);
  Seen s;
  s.lumen = f.kind == FeatureKind::kLumen;
  s.wires = f.kind == FeatureKind::kWires;
  s.part = f.kind == FeatureKind::kPartOutline;
  s.moments = Moments(seen);
  s.nominal = Moments(drawn);
  s.at = {at.x, at.y};
  s.nominal_at = {was.x, was.y};
  s.slender = std::max(1.0, like.semi_major / like.semi_minor / kSlender);
  s.radius = std::sqrt(like.semi_major * like.semi_minor);
  return s;
}

class StretchFit {
 public:
  StretchFit(const std::vector<Seen>& shapes, double pitch_um, double part_size, bool tilt,
             bool outline_counts = true)
      : shapes_(shapes),
        edge_um_(kRingEdge_px * pitch_um),
        part_size_(part_size),
        tilt_(tilt),
        outline_counts_(outline_counts) {}

  double cost = 1e300;
  Params at = Params::Zero();
  Params6 covariance = Params6::Identity();

  // From several starts, because a tilt's size depends on |e|, which has a corner at 0.
  void Run() {
    std::vector<Eigen::Vector2d> starts{Eigen::Vector2d(1e-4, 0), StretchOf(shapes_.front(), 0).e};
    Eigen::Vector2d mean = Eigen::Vector2d::Zero();
    for (const Seen& s : shapes_) mean += StretchOf(s, 0).e / static_cast<double>(shapes_.size());
    starts.push_back(mean);
    for (const Eigen::Vector2d& e : starts) {
      Params p = Params::Zero();
      p.segment<2>(1) = e;
      Descend(p);
    }
  }
  double Size() const { return at.segment<2>(1).norm(); }
  // Standard uncertainty of |e|, widened where features scatter more than is usual.
  double U() const {
    const Eigen::Vector2d e = at.segment<2>(1);
    if (!(e.norm() > 0)) return std::sqrt(covariance(1, 1));
    const Eigen::Vector2d along = e.normalized();
    const double own = std::sqrt(along.dot(covariance.block<2, 2>(1, 1) * along));
    const double excess = 2 * cost / std::max(1.0, static_cast<double>(Residuals(at).size()) - 6);
    return own * std::sqrt(std::max(1.0, excess));
  }

 private:
  Eigen::VectorXd Residuals(const Params& p) const {
    const double s = p(0), m = tilt_ ? p.segment<2>(1).norm() : 0;
    const Eigen::Vector2d e = p.segment<2>(1);
    const Seen& outline = shapes_.front();
    std::vector<double> r{s / part_size_, p(3) / kTurn, p(4) / (kGroupOffset * outline.radius),
                          p(5) / (kGroupOffset * outline.radius)};
    const Eigen::Matrix2d map = Map(s + m, e, p(3));
    for (const Seen& f : shapes_) {
      const double edge = edge_um_ / f.radius;
      const double oval = std::hypot(f.lumen   ? kLumenOval * f.slender
                                     : f.wires ? kWiresOval
                                     : f.part  ? kPartOval
                                               : kOutlineOval,
                                     edge);
      const double size = std::hypot(f.lumen   ? kLumenSize
                                     : f.wires ? kWiresSize
                                     : f.part  ? kPartSize
                                               : kRingSize,
                                     edge);
      const Stretching own = StretchOf(f, p(3));
      const bool counts = outline_counts_ || &f != &outline;
      r.push_back(counts ? (own.e.x() - e.x()) / oval : 0);
      r.push_back(counts ? (own.e.y() - e.y()) / oval : 0);
      r.push_back((own.iso - s - m) / size);
      if (!f.lumen) continue;
      const Eigen::Vector2d moved = (f.at - outline.at) - (f.nominal_at - outline.nominal_at);
      const Eigen::Vector2d off =
          moved - (map - Eigen::Matrix2d::Identity()) * (f.nominal_at - outline.nominal_at) -
          p.segment<2>(4);
      const double place = std::hypot(kLumenOffset * outline.radius, edge_um_);
      r.push_back(off.x() / place);
      r.push_back(off.y() / place);
    }
    return Eigen::Map<Eigen::VectorXd>(r.data(), static_cast<Eigen::Index>(r.size()));
  }
  // exp of a symmetric logarithm, after a turn.
  static Eigen::Matrix2d Map(double size, const Eigen::Vector2d& e, double turn) {
    const double n = e.norm(), ratio = n > 1e-9 ? std::sinh(n) / n : 1;
    Eigen::Matrix2d deviator;
    deviator << e.x(), e.y(), e.y(), -e.x();
    return std::exp(size) * (std::cosh(n) * Eigen::Matrix2d::Identity() + ratio * deviator) *
           RotationBy(turn);
  }
  static double Cost(const Eigen::VectorXd& r) {
    double sum = 0;
    for (const double v : r) sum += std::sqrt(1 + v * v / (kRobust * kRobust)) - 1;
    return kRobust * kRobust * sum;
  }

  // Levenberg and Marquardt with reweighting; the Jacobian by differences, all values being shares
  // but the shift.
  void Descend(Params p) {
    double lambda = 1e-3, now = Cost(Residuals(p));
    Params6 normal = Params6::Identity();
    const auto lengths = [&](int k) { return k < 4 ? 1e-6 : 1e-6 * shapes_.front().radius; };
    for (int round = 0; round < 60; ++round) {
      const Eigen::VectorXd r = Residuals(p);
      Eigen::MatrixXd jacobian(r.size(), 6);
      for (int k = 0; k < 6; ++k) {
        Params q = p;
        q(k) += lengths(k);
        jacobian.col(k) = (Residuals(q) - r) / lengths(k);
      }
      const Eigen::VectorXd weight = (1 + r.array().square() / (kRobust * kRobust)).rsqrt();
      normal = jacobian.transpose() * weight.asDiagonal() * jacobian;
      const Params gradient = jacobian.transpose() * (weight.array() * r.array()).matrix();
      bool better = false;
      while (!better && lambda < 1e8) {
        Params6 damped = normal;
        damped.diagonal() *= 1 + lambda;
        const Params next = p - damped.ldlt().solve(gradient);
        const double cost_there = Cost(Residuals(next));
        better = cost_there < now;
        lambda *= better ? 0.2 : 5;
        if (!better) continue;
        const bool done = now - cost_there < 1e-9;
        p = next;
        now = cost_there;
        if (done) round = 60;
      }
      if (!better) break;
    }
    if (now >= cost) return;
    cost = now;
    at = p;
    covariance = normal.inverse();
  }

  const std::vector<Seen>& shapes_;
  double edge_um_, part_size_;
  bool tilt_;
  bool outline_counts_;  // the shape of the outline; its size always does
};

double TiltOf(double m) { return std::acos(std::exp(-2 * std::max(0.0, m))); }

}  // namespace

double PartSizeOf(const SectionDesign& plane) {
  for (const Characteristic& c : plane.characteristics) {
    const bool size = c.quantity == "diameter" || c.quantity == "equivalent_diameter";
    if (!size || c.of != std::vector<std::string>{"outline"} || !c.lower || !c.upper) continue;
    // Limits are taken for two standard deviations: many parts lie near them.
    const double spread = 0.5 * (*c.upper - *c.lower) / (*c.upper + *c.lower);
    return std::clamp(spread, kLeastPartSize, kMostPartSize);
  }
  return kUsualPartSize;
}

CommonStretch FindCommonStretch(double rotation_rad, bool mirrored, double pitch_um,
                                std::span<const FeaturePair> features, double part_size) {
  CommonStretch out;
  std::vector<Seen> shapes;
  for (const FeaturePair& f : features) {
    if (f.measured.size() < 6 || f.nominal.size() < 6) continue;
    const Seen seen = ShapeOf(f, rotation_rad, mirrored);
    // A contour that crosses itself may enclose nothing: it says nothing of a stretch.
    if (seen.moments.determinant() > 0 && seen.at.allFinite()) shapes.push_back(seen);
  }
  out.features = static_cast<int>(shapes.size());
  const auto outline = [](FeatureKind kind) {
    return kind == FeatureKind::kOutline || kind == FeatureKind::kPartOutline;
  };
  if (features.empty() || !outline(features.front().kind) || shapes.size() < 2) return out;
  StretchFit tilted(shapes, pitch_um, part_size, true),
      squashed(shapes, pitch_um, part_size, false);
  tilted.Run();
  squashed.Run();
  const bool squash = tilted.cost - squashed.cost > kSquashTold;
  const bool tilt = squashed.cost - tilted.cost > kTiltTold;
  const StretchFit& chosen = squash ? squashed : tilted;
  const double m = chosen.Size(), u = chosen.U();
  out.axis_rad = 0.5 * std::atan2(chosen.at(2), chosen.at(1));
  out.stretch = std::exp(2 * m);
  out.most_rad = TiltOf(tilted.Size() + kOneSided * tilted.U());
  if (!(m > kShown * u)) return out;
  // An oval outline weighs more than all lumens together: what lies within must say the same.
  StretchFit within(shapes, pitch_um, part_size, !squash, false);
  within.Run();
  const Eigen::Vector2d e = chosen.at.segment<2>(1);
  if (within.at.segment<2>(1).dot(e) < kShared * e.squaredNorm()) return out;
  out.kind = squash ? StretchKind::kSquashed : tilt ? StretchKind::kOblique : StretchKind::kEither;
  if (squash) return out;
  out.tilt_rad = TiltOf(m);
  // m = -ln(cos t) / 2, so dm = tan(t) / 2 dt.
  out.u_tilt_rad = 2 * u / std::tan(out.tilt_rad);
  return out;
}

}  // namespace cutface
