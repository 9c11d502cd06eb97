#include "edge/profile.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace cutface {

double NoiseLaw::Seen(double level) const {
  const double deviation = std::sqrt(Sensor(level));
  const double z = level / deviation;
  if (z > 4) return level;
  return level * 0.5 * std::erfc(-z * M_SQRT1_2) +
         deviation * 0.3989422804014327 * std::exp(-0.5 * z * z);
}

double NoiseLaw::Unseen(double mean) const {
  double level = mean;
  // Newton with the slope of the rectified mean, which is the share of pixels above black.
  for (int round = 0; round < 12; ++round) {
    const double off = Seen(level) - mean;
    const double z = level / std::sqrt(Sensor(level));
    if (z > 4 || std::abs(off) < 1e-7) break;
    level -= off / std::max(0.1, 0.5 * std::erfc(-z * M_SQRT1_2));
  }
  // Below half a deviation's worth of light nothing tells levels apart.
  return std::max(level, -std::sqrt(Sensor(0)));
}

LinearProfile Weighted(const ProfileBins& bins, std::size_t gamma, const ProfileOptions& options) {
  LinearProfile out;
  const std::vector<double>& linear = bins.linear[gamma];
  double low = 1e9, high = -1e9;
  for (std::size_t k = 0; k < linear.size(); ++k) {
    if (bins.weight[k] < 4) continue;
    low = std::min(low, linear[k]);
    high = std::max(high, linear[k]);
  }
  const double floor = options.misfit_floor * std::max(0.02, high - low);
  for (std::size_t k = 0; k < linear.size(); ++k) {
    const double s = ProfileBins::Centre(k);
    if (bins.weight[k] < 1.5 || s < options.from || s > options.to) continue;
    // Away from the edge nothing changes within half a pixel: every other pair counts double.
    const bool far = std::abs(s) > 4;
    if (far && k % 2 == 1) continue;
    double tone = linear[k], count = bins.weight[k];
    if (far && k + 1 < linear.size() && bins.weight[k + 1] > 0) {
      tone = (tone * count + linear[k + 1] * bins.weight[k + 1]) / (count + bins.weight[k + 1]);
      count += bins.weight[k + 1];
    }
    const double level = options.noise.Unseen(tone);
    out.s.push_back(far ? s + 0.5 * ProfileBins::kStep : s);
    out.y.push_back(level);
    const double clump = s < 0 ? options.noise.void_clump : options.noise.polymer_clump;
    out.w.push_back(1.0 / (clump * options.noise.Variance(level) / count + floor * floor));
    out.square += out.w.back() * level * level;
  }
  return out;
}

namespace {

// Levels at a given place: linear least squares. Returns chi-squared.
double TwoLevels(const LinearProfile& d, const EdgeShape& shape, ArcFit& fit) {
  double vv = 0, vp = 0, pp = 0, rv = 0, rp = 0;
  for (std::size_t k = 0; k < d.s.size(); ++k) {
    const double t = d.s[k] - fit.x0;
    const double v = 1 - shape.Step(t), p = shape.Polymer(t);
    const double wv = d.w[k] * v, wp = d.w[k] * p;
    vv += wv * v;
    vp += wv * p;
    pp += wp * p;
    rv += wv * d.y[k];
    rp += wp * d.y[k];
  }
  const double ridge = 1e-9 * (vv + pp);
  vv += ridge;
  pp += ridge;
  const double det = vv * pp - vp * vp;
  fit.v = (rv * pp - rp * vp) / det;
  fit.p = (rp * vv - rv * vp) / det;
  fit.line = 0;
  return d.square - fit.v * rv - fit.p * rp;
}

// Least squares over place, both levels, level and width of the line: damped Gauss-Newton.
class LineFitter {
 public:
  LineFitter(const LinearProfile& profile, const EdgeShape& shape) : d_(profile), shape_(shape) {}

  // A guess, its levels put right.
  ArcFit From(double start, double width) const {
    ArcFit fit;
    fit.x0 = start;
    fit.line_width = width;
    fit.bins = d_.s.size();
    Matrix normal;
    Vector right;
    Sum(fit, normal, right);
    const Eigen::Vector3d levels =
        Damped(normal.bottomRightCorner<3, 3>(), 1e-9).ldlt().solve(right.tail<3>());
    fit.v += levels(0);
    fit.p += levels(1);
    fit.line += levels(2);
    fit.chi2 = std::numeric_limits<double>::infinity();
    return fit;
  }

  ArcFit Improved(ArcFit fit, int rounds) const {
    Matrix normal;
    Vector right;
    fit.chi2 = Sum(fit, normal, right);
    double damping = 1e-2;
    for (int round = 0; round < rounds; ++round) {
      const Vector move = Damped(normal, damping).ldlt().solve(right);
      ArcFit next = fit;
      next.x0 = std::clamp(fit.x0 + std::clamp(move(0), -1.5, 1.5), -9.0, 9.0);
      next.line_width = std::clamp(fit.line_width + std::clamp(move(1), -1.5, 1.5), 0.7, 9.0);
      next.v += move(2);
      next.p += move(3);
      next.line += move(4);
      Matrix next_normal;
      Vector next_right;
      next.chi2 = Sum(next, next_normal, next_right);
      if (!(next.chi2 < fit.chi2)) {
        damping *= 8;
        if (damping > 1e4) break;
        continue;
      }
      const double gain = fit.chi2 - next.chi2;
      fit = next;
      normal = next_normal;
      right = next_right;
      damping = std::max(1e-6, damping * 0.2);
      if (gain < 3e-3 * fit.chi2) break;
    }
    return fit;
  }

 private:
  using Matrix = Eigen::Matrix<double, 5, 5>;
  using Vector = Eigen::Matrix<double, 5, 1>;

  template <typename M>
  static typename M::PlainObject Damped(const M& normal, double damping) {
    typename M::PlainObject m = normal;
    m.diagonal() *= 1 + damping;
    m.diagonal().array() += 1e-9 * normal.trace();
    return m;
  }

  // Chi-squared, and the normal equations of x0, width, v, p, line.
  double Sum(const ArcFit& fit, Matrix& normal, Vector& right) const {
    double upper[15] = {}, side[5] = {}, chi2 = 0;
    for (std::size_t k = 0; k < d_.s.size(); ++k) {
      const double t = d_.s[k] - fit.x0;
      const EdgeShape::Values here = shape_.At(t), outer = shape_.At(t + fit.line_width);
      const double row[5] = {fit.v * here.step_slope - fit.p * here.polymer_slope -
                                 fit.line * (outer.step_slope - here.step_slope),
                             fit.line * outer.step_slope, 1 - here.step, here.polymer,
                             outer.step - here.step};
      const double r = d_.y[k] - (fit.v * row[2] + fit.p * row[3] + fit.line * row[4]);
      chi2 += d_.w[k] * r * r;
      std::size_t at = 0;
      for (int a = 0; a < 5; ++a) {
        const double weighted = d_.w[k] * row[a];
        side[a] += weighted * r;
        for (int b = a; b < 5; ++b) upper[at++] += weighted * row[b];
      }
    }
    std::size_t at = 0;
    for (int a = 0; a < 5; ++a) {
      right(a) = side[a];
      for (int b = a; b < 5; ++b) normal(a, b) = normal(b, a) = upper[at++];
    }
    return chi2;
  }

  const LinearProfile& d_;
  const EdgeShape& shape_;
};

// Minimum of chi-squared over x0 by safeguarded parabolas.
ArcFit SearchPlace(const LinearProfile& d, const EdgeShape& shape, double start, double step,
                   int rounds) {
  const auto at = [&](double x0) {
    ArcFit fit;
    fit.x0 = x0;
    fit.bins = d.s.size();
    fit.chi2 = TwoLevels(d, shape, fit);
    return fit;
  };
  ArcFit best = at(start);
  for (int round = 0; round < rounds; ++round) {
    const ArcFit up = at(best.x0 + step), down = at(best.x0 - step);
    const double curve = up.chi2 + down.chi2 - 2 * best.chi2;
    double move = up.chi2 < down.chi2 ? step : -step;
    if (curve > 0)
      move = std::clamp(0.5 * step * (down.chi2 - up.chi2) / curve, -1.5 * step, 1.5 * step);
    ArcFit next = at(std::clamp(best.x0 + move, -9.0, 9.0));
    for (const ArcFit& f : {up, down}) {
      if (f.chi2 < next.chi2 && std::abs(f.x0) <= 9) next = f;
    }
    if (next.chi2 < best.chi2) best = next;
    step = std::max(0.35 * step, std::min(step, 1.2 * std::abs(move)) * 0.5);
    if (step < 0.004) break;
  }
  return best;
}

}  // namespace

ArcFit FitArc(const LinearProfile& profile, const EdgeShape& shape, double start, double step,
              int rounds) {
  if (profile.s.size() < 10) {
    ArcFit none;
    none.x0 = start;
    return none;
  }
  return SearchPlace(profile, shape, start, step, rounds);
}

ArcFit FitArcWithLine(const LinearProfile& profile, const EdgeShape& shape, double start) {
  ArcFit best;
  best.chi2 = 1e300;
  if (profile.s.size() < 10) return best;
  const LineFitter fitter(profile, shape);
  // The contour may have followed either border of the line, and lines of unlike width are separate
  // valleys: a short look into each, then down the best.
  for (const auto& [width, off] :
       {std::pair{1.2, 0.0}, {1.6, 1.4}, {3.0, 0.0}, {3.2, 2.8}, {6.0, 0.0}, {6.0, 5.0}}) {
    const ArcFit fit = fitter.Improved(fitter.From(start + off, width), 4);
    if (fit.chi2 < best.chi2) best = fit;
  }
  return fitter.Improved(best, 12);
}

}  // namespace cutface
