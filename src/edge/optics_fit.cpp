#include "edge/optics_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

namespace cutface {
namespace {

// Bins are not independent and no model is exact: evidence counts by this share.
constexpr double kBinEvidenceShare = 0.5;
constexpr int kMost = 4;  // shared parameters

// Shared parameters are logarithms but for the depth; each has a normal prior.
struct Parameter {
  double OpticsState::*value;
  bool logarithmic;
  double mean, deviation, least, greatest, step;
};

std::vector<Parameter> ParametersOf(RimKind kind) {
  std::vector<Parameter> all = {
      {&OpticsState::blur, true, std::log(1.4), 0.5, std::log(0.4), std::log(5.0), 0.02}};
  if (kind == RimKind::kStep) return all;
  const bool band = kind == RimKind::kBand;
  all.push_back({&OpticsState::width, true, std::log(band ? 1.5 : 2.5), band ? 0.5 : 0.8,
                 std::log(0.4), std::log(band ? 4.0 : 9.0), 0.04});
  all.push_back({&OpticsState::depth, false, 0.3, 0.3, 0.0, 0.95, 0.02});
  if (band)
    all.push_back(
        {&OpticsState::offset, true, std::log(1.7), 0.6, std::log(0.2), std::log(6.0), 0.04});
  return all;
}

double ValueOf(const OpticsState& state, const Parameter& p) {
  return p.logarithmic ? std::log(std::max(1e-3, state.*p.value)) : state.*p.value;
}
void Put(OpticsState& state, const Parameter& p, double value) {
  const double held = std::clamp(value, p.least, p.greatest);
  state.*p.value = p.logarithmic ? std::exp(held) : held;
}

// Sums of one contour: 3 own parameters (x0, v, p), then the shared ones.
struct Sums {
  Eigen::Matrix<double, 3, 3> own = Eigen::Matrix<double, 3, 3>::Zero();
  Eigen::Matrix<double, 3, kMost> cross = Eigen::Matrix<double, 3, kMost>::Zero();
  Eigen::Matrix<double, kMost, kMost> shared = Eigen::Matrix<double, kMost, kMost>::Zero();
  Eigen::Matrix<double, 3, 1> own_right = Eigen::Matrix<double, 3, 1>::Zero();
  Eigen::Matrix<double, kMost, 1> shared_right = Eigen::Matrix<double, kMost, 1>::Zero();
};

class Fitter {
 public:
  Fitter(const std::vector<LinearProfile>& profiles, const std::vector<double>& trust,
         const OpticsState& start)
      : profiles_(profiles), trust_(trust), parameters_(ParametersOf(start.kind)) {
    fit_.state = start;
    for (const LinearProfile& profile : profiles) {
      const auto at = std::find(factors_.begin(), factors_.end(), profile.blur_factor);
      factor_of_.push_back(static_cast<std::size_t>(at - factors_.begin()));
      if (at == factors_.end()) factors_.push_back(profile.blur_factor);
    }
  }

  OpticsFit Run(const std::vector<double>& places, int rounds) {
    const Shapes first = ShapesAt(fit_.state);
    for (std::size_t c = 0; c < profiles_.size(); ++c)
      fit_.contours.push_back(FitArc(profiles_[c], first[factor_of_[c]], places[c], 0.25, 5));
    Score(first, fit_);
    double damping = 1e-3;
    for (int round = 0; round < rounds; ++round) {
      if (round == 0 || moved_) Linearise();
      OpticsFit next = Step(damping);
      Score(ShapesAt(next.state), next);
      moved_ = next.score < fit_.score;
      if (!moved_) {
        damping = std::max(damping, 1e-4) * 12;
        if (damping > 1e5) break;
        continue;
      }
      const double gain = fit_.score - next.score;
      fit_ = std::move(next);
      damping = std::max(1e-6, damping * 0.2);
      if (gain < 0.003) break;
    }
    Linearise();
    Doubt();
    return fit_;
  }

 private:
  // One for each factor of the blur that a profile has.
  using Shapes = std::vector<EdgeShape>;
  Shapes ShapesAt(const OpticsState& state) const {
    Shapes shapes;
    for (const double factor : factors_) {
      OpticsState here = state;
      here.blur *= factor;
      shapes.emplace_back(here);
    }
    return shapes;
  }

  double Freedom(std::size_t c) const {
    return std::max(1.0, static_cast<double>(profiles_[c].s.size()));
  }
  // Student-like: a contour that no optics explains (line, chips) must not rule the rest.
  double Weight(std::size_t c, const ArcFit& fit) const {
    return kBinEvidenceShare * trust_[c] / (1 + std::max(0.0, fit.chi2) / Freedom(c));
  }

  void Score(const Shapes& shapes, OpticsFit& fit) const {
    fit.score = 0;
    for (std::size_t c = 0; c < profiles_.size(); ++c) {
      const EdgeShape& shape = shapes[factor_of_[c]];
      const LinearProfile& d = profiles_[c];
      if (d.s.size() < 12) continue;
      ArcFit& arc = fit.contours[c];
      arc.chi2 = 0;
      for (std::size_t k = 0; k < d.s.size(); ++k) {
        const double t = d.s[k] - arc.x0;
        const double model = arc.v * (1 - shape.Step(t)) + arc.p * shape.Polymer(t);
        arc.chi2 += d.w[k] * (d.y[k] - model) * (d.y[k] - model);
      }
      fit.score += kBinEvidenceShare * trust_[c] * Freedom(c) * std::log1p(arc.chi2 / Freedom(c));
    }
    for (const Parameter& p : parameters_)
      fit.score += std::pow((ValueOf(fit.state, p) - p.mean) / p.deviation, 2);
  }

  void Linearise() {
    const Shapes shapes = ShapesAt(fit_.state);
    std::vector<Shapes> moved;
    std::array<double, kMost> inverse{};
    for (std::size_t j = 0; j < parameters_.size(); ++j) {
      const Parameter& p = parameters_[j];
      OpticsState state = fit_.state;
      const double value = ValueOf(state, p);
      Put(state, p, value + p.step <= p.greatest ? value + p.step : value - p.step);
      inverse[j] = 1 / (ValueOf(state, p) - value);
      moved.push_back(ShapesAt(state));
    }
    sums_.assign(profiles_.size(), {});
    for (std::size_t c = 0; c < profiles_.size(); ++c) {
      const LinearProfile& d = profiles_[c];
      if (d.s.size() < 12) continue;
      const ArcFit& arc = fit_.contours[c];
      Sums& sums = sums_[c];
      const std::size_t factor = factor_of_[c];
      const EdgeShape& shape = shapes[factor];
      for (std::size_t k = 0; k < d.s.size(); ++k) {
        const double t = d.s[k] - arc.x0;
        const EdgeShape::Values at = shape.At(t);
        const double step = at.step, polymer = at.polymer;
        const Eigen::Vector3d own(arc.v * at.step_slope - arc.p * at.polymer_slope, 1 - step,
                                  polymer);
        Eigen::Matrix<double, kMost, 1> shared = Eigen::Matrix<double, kMost, 1>::Zero();
        for (std::size_t j = 0; j < moved.size(); ++j) {
          shared(static_cast<Eigen::Index>(j)) =
              inverse[j] * (arc.p * (moved[j][factor].Polymer(t) - polymer) -
                            (j == 0 ? arc.v * (moved[j][factor].Step(t) - step) : 0.0));
        }
        const double r = d.y[k] - (arc.v * (1 - step) + arc.p * polymer);
        sums.own.noalias() += d.w[k] * own * own.transpose();
        sums.cross.noalias() += d.w[k] * own * shared.transpose();
        sums.shared.noalias() += d.w[k] * shared * shared.transpose();
        sums.own_right.noalias() += d.w[k] * r * own;
        sums.shared_right.noalias() += d.w[k] * r * shared;
      }
    }
  }

  // Normal equations of the shared parameters, each contour's own ones eliminated.
  void Reduce(double damping, Eigen::MatrixXd& matrix, Eigen::VectorXd& right) const {
    const Eigen::Index n = static_cast<Eigen::Index>(parameters_.size());
    matrix = Eigen::MatrixXd::Zero(n, n);
    right = Eigen::VectorXd::Zero(n);
    for (std::size_t c = 0; c < profiles_.size(); ++c) {
      if (profiles_[c].s.size() < 12) continue;
      const Sums& s = sums_[c];
      const double weight = Weight(c, fit_.contours[c]);
      const Eigen::Matrix3d inverse = Own(s, damping).inverse();
      const auto cross = s.cross.leftCols(n);
      matrix += weight * (s.shared.topLeftCorner(n, n) - cross.transpose() * inverse * cross);
      right += weight * (s.shared_right.head(n) - cross.transpose() * inverse * s.own_right);
    }
    for (Eigen::Index j = 0; j < n; ++j) {
      const Parameter& p = parameters_[static_cast<std::size_t>(j)];
      const double stiffness = 1 / (p.deviation * p.deviation);
      matrix(j, j) += stiffness;
      right(j) += stiffness * (p.mean - ValueOf(fit_.state, p));
    }
  }
  static Eigen::Matrix3d Own(const Sums& s, double damping) {
    Eigen::Matrix3d own = s.own;
    for (int k = 0; k < 3; ++k) own(k, k) *= 1 + damping;
    own.diagonal().array() += 1e-9 * (own.trace() + 1e-9);
    return own;
  }

  OpticsFit Step(double damping) const {
    Eigen::MatrixXd matrix;
    Eigen::VectorXd right;
    Reduce(damping, matrix, right);
    for (Eigen::Index j = 0; j < matrix.rows(); ++j) matrix(j, j) *= 1 + damping;
    const Eigen::VectorXd move = matrix.ldlt().solve(right);
    OpticsFit next = fit_;
    Eigen::VectorXd done = move;
    for (std::size_t j = 0; j < parameters_.size(); ++j) {
      const Parameter& p = parameters_[j];
      const Eigen::Index i = static_cast<Eigen::Index>(j);
      const double before = ValueOf(fit_.state, p);
      Put(next.state, p, before + std::clamp(move(i), -0.7, 0.7));
      done(i) = ValueOf(next.state, p) - before;
    }
    for (std::size_t c = 0; c < profiles_.size(); ++c) {
      if (profiles_[c].s.size() < 12) continue;
      const Sums& s = sums_[c];
      const Eigen::Vector3d own =
          Own(s, damping).inverse() * (s.own_right - s.cross.leftCols(done.size()) * done);
      ArcFit& arc = next.contours[c];
      arc.x0 = std::clamp(arc.x0 + std::clamp(own(0), -1.0, 1.0), -9.0, 9.0);
      arc.v += own(1);
      arc.p += own(2);
    }
    return next;
  }

  // Covariance of the places from the whole normal matrix.
  void Doubt() {
    Eigen::MatrixXd matrix;
    Eigen::VectorXd right;
    Reduce(0, matrix, right);
    const Eigen::MatrixXd shared = matrix.inverse();
    fit_.u_shared.assign(profiles_.size(), 0.3);
    for (std::size_t c = 0; c < profiles_.size(); ++c) {
      if (profiles_[c].s.size() < 12) continue;
      const Sums& s = sums_[c];
      const Eigen::Matrix3d inverse = Own(s, 0).inverse();
      const Eigen::RowVectorXd lever =
          inverse.row(0) * s.cross.leftCols(static_cast<Eigen::Index>(parameters_.size()));
      fit_.u_shared[c] = std::sqrt(std::max(0.0, (lever * shared * lever.transpose())(0, 0)));
    }
  }

  const std::vector<LinearProfile>& profiles_;
  const std::vector<double>& trust_;
  std::vector<Parameter> parameters_;
  std::vector<double> factors_;
  std::vector<std::size_t> factor_of_;  // one a profile
  OpticsFit fit_;
  std::vector<Sums> sums_;
  bool moved_ = true;
};

}  // namespace

OpticsFit FitOptics(const std::vector<LinearProfile>& profiles, const std::vector<double>& trust,
                    const OpticsState& start, const std::vector<double>& places, int rounds) {
  return Fitter(profiles, trust, start).Run(places, rounds);
}

}  // namespace cutface
