#include "edge/profile.h"

#include <Eigen/Dense>
#include <cmath>

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

double ThreeLevels(const LinearProfile& d, const EdgeShape& shape, ArcFit& fit) {
  Eigen::Matrix3d n = Eigen::Matrix3d::Zero();
  Eigen::Vector3d r = Eigen::Vector3d::Zero();
  for (std::size_t k = 0; k < d.s.size(); ++k) {
    const double t = d.s[k] - fit.x0;
    const double step = shape.Step(t);
    const Eigen::Vector3d row(1 - step, shape.Polymer(t), shape.Step(t + fit.line_width) - step);
    n.noalias() += d.w[k] * row * row.transpose();
    r.noalias() += d.w[k] * d.y[k] * row;
  }
  const double ridge = 1e-9 * n.trace();
  for (int k = 0; k < 3; ++k) n(k, k) += ridge;
  const Eigen::Vector3d x = n.ldlt().solve(r);
  fit.v = x(0);
  fit.p = x(1);
  fit.line = x(2);
  return d.square - x.dot(r);
}

// Minimum of chi-squared over x0 by safeguarded parabolas.
ArcFit SearchPlace(const LinearProfile& d, const EdgeShape& shape, double start, double line_width,
                   double step, int rounds) {
  const bool with_line = line_width > 0;
  const auto at = [&](double x0) {
    ArcFit fit;
    fit.x0 = x0;
    fit.line_width = line_width;
    fit.bins = d.s.size();
    fit.chi2 = with_line ? ThreeLevels(d, shape, fit) : TwoLevels(d, shape, fit);
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
  return SearchPlace(profile, shape, start, 0, step, rounds);
}

ArcFit FitArcWithLine(const LinearProfile& profile, const EdgeShape& shape, double start) {
  ArcFit best;
  best.chi2 = 1e300;
  if (profile.s.size() < 10) return best;
  for (double width : {1.0, 1.8, 2.8, 4.2, 6.0, 8.0}) {
    // The contour may have followed either border of the line.
    for (double guess : {start, start + 0.9 * width}) {
      const ArcFit fit = SearchPlace(profile, shape, guess, width, 0.4, 7);
      if (fit.chi2 < best.chi2) best = fit;
    }
  }
  return best;
}

}  // namespace cutface
