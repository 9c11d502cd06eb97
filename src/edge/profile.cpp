#include "edge/profile.h"

#include <array>
#include <cmath>

#include <Eigen/Dense>

namespace cutface {
namespace {

double Phi(double z) { return 0.5 * std::erfc(-z * M_SQRT1_2); }

// exp(-u / length) for u > 0, blurred by a Gaussian.
double BlurredDecay(double s, double blur, double length) {
  const double r = blur / length;
  const double e = 0.5 * r * r - s / length;
  if (e > 50) return 0;  // far outside, where Phi underflows first
  return std::exp(e) * Phi(s / blur - r);
}

// The extra term of a model beside the step.
double Extra(EdgeModel model, double s, double blur, double width) {
  switch (model) {
    case EdgeModel::kStep: return 0;
    case EdgeModel::kRim: return BlurredDecay(s, blur, width);
    case EdgeModel::kBand: return Phi(s / blur) - Phi((s - width) / blur);
    case EdgeModel::kGap: return Phi((s + width) / blur) - Phi(s / blur);
  }
  return 0;
}

struct Data {
  std::vector<double> s, y, w;  // linearised tone and weight
};

Data Linearised(const ProfileBins& bins, double gamma, const ProfileFitOptions& options) {
  Data d;
  double low = 1e9, high = -1e9;
  for (std::size_t k = 0; k < bins.tone.size(); ++k) {
    if (bins.weight[k] <= 0) continue;
    low = std::min(low, bins.tone[k]);
    high = std::max(high, bins.tone[k]);
  }
  const double floor = options.misfit_floor * std::max(0.01, high - low);
  for (std::size_t k = 0; k < bins.tone.size(); ++k) {
    const double s = bins.Centre(k);
    if (bins.weight[k] <= 0 || s < options.from || s > options.to) continue;
    const double tone = std::max(1e-3, bins.tone[k]);
    const double variance = options.noise * options.noise / bins.weight[k] + floor * floor;
    // The slope of the encoding carries the error over.
    const double slope = gamma * std::pow(std::max(0.03, tone), gamma - 1);
    d.s.push_back(s);
    d.y.push_back(std::pow(tone, gamma));
    d.w.push_back(1.0 / (variance * slope * slope));
  }
  return d;
}

struct Levels {
  double v = 0, p = 1, a = 0, cost = 0;
};

// Levels for given place, blur and width: linear least squares, with the extra term kept to the sign
// that the model's physics allows.
Levels SolveLevels(const Data& d, EdgeModel model, double x0, double blur, double width) {
  Eigen::Matrix3d n = Eigen::Matrix3d::Zero();
  Eigen::Vector3d r = Eigen::Vector3d::Zero();
  double square = 0;
  for (std::size_t k = 0; k < d.s.size(); ++k) {
    const double s = d.s[k] - x0;
    const double f = Phi(s / blur);
    const Eigen::Vector3d row(1 - f, f, Extra(model, s, blur, width));
    n += d.w[k] * row * row.transpose();
    r += d.w[k] * d.y[k] * row;
    square += d.w[k] * d.y[k] * d.y[k];
  }
  const double ridge = 1e-9 * n.trace();
  Levels out;
  const auto two = [&]() {
    const Eigen::Matrix2d m = n.topLeftCorner<2, 2>() + ridge * Eigen::Matrix2d::Identity();
    const Eigen::Vector2d x = m.ldlt().solve(r.head<2>());
    out = {x(0), x(1), 0, square - 2 * x.dot(r.head<2>()) + x.dot(n.topLeftCorner<2, 2>() * x)};
  };
  if (model == EdgeModel::kStep) {
    two();
    return out;
  }
  const Eigen::Matrix3d m = n + ridge * Eigen::Matrix3d::Identity();
  const Eigen::Vector3d x = m.ldlt().solve(r);
  // Rims and bands darken the polymer, at most to black; a gap line may not be brighter than both sides.
  const bool inside = model != EdgeModel::kGap;
  const bool allowed = inside ? x(2) < 0 && x(2) > -1.05 * x(1) : x(0) + x(2) < std::max(x(0), x(1));
  if (!allowed) {
    two();
    return out;
  }
  out = {x(0), x(1), x(2), square - 2 * x.dot(r) + x.dot(n * x)};
  return out;
}

struct State {
  double x0 = 0, log_blur = 0, log_width = 0;
};

double Cost(const Data& d, EdgeModel model, const State& state, const ProfileFitOptions& options,
            Levels* levels = nullptr) {
  const double blur = std::exp(state.log_blur), width = std::exp(state.log_width);
  const Levels l = SolveLevels(d, model, state.x0, blur, width);
  if (levels != nullptr) *levels = l;
  double cost = l.cost;
  if (options.blur_prior > 0) {
    const double off = (state.log_blur - std::log(options.blur_prior)) / options.blur_prior_share;
    cost += off * off;
  }
  // Wider or narrower than anything physical: keep the fit off.
  const double wide = (state.log_width - std::log(3.0)) / 0.7;
  if (model != EdgeModel::kStep) cost += wide * wide;
  const double far = state.x0 / 4.0;
  return cost + far * far;
}

// Nelder-Mead would do; a damped coordinate search with parabolic steps is as robust and cheaper here.
State Search(const Data& d, EdgeModel model, State state, const ProfileFitOptions& options) {
  std::array<double, 3> step{0.4, 0.15, 0.3};
  double best = Cost(d, model, state, options);
  const int parameters = model == EdgeModel::kStep ? 2 : 3;
  for (int round = 0; round < 24; ++round) {
    double moved = 0;
    for (int k = 0; k < parameters; ++k) {
      const auto at = [&](double t) {
        State next = state;
        (k == 0 ? next.x0 : k == 1 ? next.log_blur : next.log_width) += t;
        next.log_blur = std::clamp(next.log_blur, std::log(0.35), std::log(5.0));
        next.log_width = std::clamp(next.log_width, std::log(0.6), std::log(12.0));
        return next;
      };
      const State plus = at(step[k]), minus = at(-step[k]);
      const double up = Cost(d, model, plus, options), down = Cost(d, model, minus, options);
      const double curve = up + down - 2 * best;
      double t = 0;
      if (curve > 0) t = std::clamp(0.5 * step[k] * (down - up) / curve, -2 * step[k], 2 * step[k]);
      else t = up < down ? step[k] : -step[k];
      const State next = at(t);
      const double value = Cost(d, model, next, options);
      double lowest = best;
      State chosen = state;
      for (const auto& [s, c] : {std::pair{next, value}, std::pair{plus, up}, std::pair{minus, down}}) {
        if (c < lowest) {
          lowest = c;
          chosen = s;
        }
      }
      if (lowest < best) {
        moved += best - lowest;
        best = lowest;
        state = chosen;
      }
      step[k] = std::max(std::abs(t) * 1.5, step[k] * 0.5);
    }
    if (moved < 1e-3 && round > 2 && step[0] < 0.01) break;
  }
  return state;
}

// What a model must gain before it is believed, in units of chi-squared: the plain step needs no excuse.
double Prior(EdgeModel model, bool transmitted) {
  switch (model) {
    case EdgeModel::kStep: return 0;
    case EdgeModel::kRim: return 3;
    case EdgeModel::kBand: return transmitted ? 2 : 8;
    case EdgeModel::kGap: return 6;
  }
  return 0;
}

}  // namespace

double ProfileFit::Linear(double s) const {
  const double f = Phi((s - x0) / blur);
  return v + (p - v) * f + a * Extra(model, s - x0, blur, width);
}

double ProfileFit::Encoded(double s) const { return std::pow(std::max(1e-6, Linear(s)), 1.0 / gamma); }

double ProfileFit::Slope(double s) const {
  constexpr double kHalf = 0.05;
  return (Encoded(s + kHalf) - Encoded(s - kHalf)) / (2 * kHalf);
}

ProfileFit FitProfile(const ProfileBins& bins, EdgeModel model, double gamma,
                      const ProfileFitOptions& options) {
  const Data d = Linearised(bins, gamma, options);
  ProfileFit fit;
  fit.model = model;
  fit.gamma = gamma;
  if (d.s.size() < 12) {
    fit.score = fit.chi2 = 1e12;
    return fit;
  }
  const double start_blur = std::log(options.blur_prior > 0 ? options.blur_prior : 1.3);
  std::vector<State> starts;
  if (model == EdgeModel::kStep) {
    starts = {{0, start_blur, 0}};
  } else {
    for (double width : {1.5, 4.0}) {
      const double x0 = model == EdgeModel::kGap ? 0.5 : -0.3;
      starts.push_back({x0, start_blur, std::log(width)});
    }
  }
  State best;
  double lowest = 1e300;
  for (const State& start : starts) {
    const State end = Search(d, model, start, options);
    const double cost = Cost(d, model, end, options);
    if (cost < lowest) {
      lowest = cost;
      best = end;
    }
  }
  Levels levels;
  Cost(d, model, best, options, &levels);
  fit.x0 = best.x0;
  fit.blur = std::exp(best.log_blur);
  fit.width = model == EdgeModel::kStep ? 0 : std::exp(best.log_width);
  fit.v = levels.v;
  fit.p = levels.p;
  fit.a = levels.a;
  fit.chi2 = lowest;
  double sum = 0, weight = 0;
  for (std::size_t k = 0; k < bins.tone.size(); ++k) {
    const double s = bins.Centre(k);
    if (bins.weight[k] <= 0 || s < options.from || s > options.to) continue;
    const double r = bins.tone[k] - fit.Encoded(s);
    sum += r * r;
    weight += 1;
  }
  fit.rms = weight > 0 ? std::sqrt(sum / weight) : 0;
  const double parameters = model == EdgeModel::kStep ? 4 : 6;
  fit.score = fit.chi2 + parameters * std::log(static_cast<double>(d.s.size())) + Prior(model, options.transmitted);
  return fit;
}

std::vector<ProfileFit> FitProfiles(const ProfileBins& bins, double gamma, const ProfileFitOptions& options) {
  std::vector<ProfileFit> fits;
  for (EdgeModel model : {EdgeModel::kStep, EdgeModel::kRim, EdgeModel::kBand, EdgeModel::kGap}) {
    fits.push_back(FitProfile(bins, model, gamma, options));
  }
  std::sort(fits.begin(), fits.end(), [](const ProfileFit& a, const ProfileFit& b) { return a.score < b.score; });
  return fits;
}

}  // namespace cutface
