#include "measure/calm.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace cutface::measure {
namespace {

// Smoothing width (Gaussian standard deviation) in noise lengths: wide enough to leave little noise
// in the smooth contour; a local parabola follows the curvature.
constexpr double kWidth = 8;
constexpr double kReach = 2.5;  // of the width, to each side
// Two-pass Gaussian smoothing, to which a local parabola is equal to fourth order, leaves of noise
// with correlation exp(-(d / length)^2), for W = width / length and A(k) = 1 / sqrt(1 + 2 k W^2):
// in the residual the variance share 1 - 4 A(1) + 6 A(2) - 4 A(3) + A(4), in the smooth contour 4
// A(2) - 4 A(3) + A(4) (kCalmNoise).
constexpr double kResidualShare = 0.862;
// A corner turns by more than this (rad) within kCornerArm noise lengths to each side; nothing is
// smoothed across it.
constexpr double kCornerTurn = 0.45, kCornerArm = 3;
// Observed against expected variance up to which a residual passes for noise: beyond the 99 %
// quantile for the two dozen independent residuals of the local window.
constexpr double kNoiseRatio = 1.9;
constexpr double kWindow = 20;  // half width of that window in noise lengths

class Kernel {
 public:
  explicit Kernel(double width) : scale_((kBins - 1) / (kReach * width)) {
    for (std::size_t i = 0; i < kBins; ++i) {
      const double x = kReach * static_cast<double>(i) / (kBins - 1);
      table_[i] = std::exp(-x * x / 2);
    }
  }
  double operator()(double distance) const {
    const double x = distance * scale_;
    return x < kBins ? table_[static_cast<std::size_t>(x)] : 0.0;
  }

 private:
  static constexpr std::size_t kBins = 512;
  std::array<double, kBins> table_{};
  double scale_;
};

struct Closed {
  const std::vector<double>& arc;
  double perimeter;
  std::ptrdiff_t n() const { return static_cast<std::ptrdiff_t>(arc.size()); }
  std::size_t Index(std::ptrdiff_t i) const {
    return static_cast<std::size_t>(i < 0 ? i + n() : i >= n() ? i - n() : i);
  }
  // Arc position of a vertex counted on past the seam; -n <= i < 2 n.
  double At(std::ptrdiff_t i) const {
    return arc[Index(i)] + (i < 0 ? -perimeter : i >= n() ? perimeter : 0.0);
  }
};

// Vertices at corners: the sharpest turn within an arm's length.
std::vector<bool> Corners(const Closed& closed, const ContourUm& p, double arm) {
  const std::ptrdiff_t n = closed.n();
  const double spacing = closed.perimeter / static_cast<double>(n);
  const auto m = static_cast<std::ptrdiff_t>(std::max(2.0, std::round(arm / spacing)));
  std::vector<bool> corner(p.size(), false);
  if (3 * m >= n) return corner;
  std::vector<double> turn(p.size());
  for (std::ptrdiff_t i = 0; i < n; ++i) {
    const PointUm at = p[closed.Index(i)];
    const PointUm in = at - p[closed.Index(i - m)], out = p[closed.Index(i + m)] - at;
    turn[closed.Index(i)] = std::abs(std::atan2(Cross(in, out), Dot(in, out)));
  }
  for (std::ptrdiff_t i = 0; i < n; ++i) {
    const double here = turn[closed.Index(i)];
    bool sharpest = here > kCornerTurn;
    for (std::ptrdiff_t k = i - m; sharpest && k <= i + m; ++k) {
      sharpest = turn[closed.Index(k)] <= here;
    }
    corner[closed.Index(i)] = sharpest;
  }
  return corner;
}

// Value at 0 of the parabola through points (t, v) with weights, from their moments.
class Parabola {
 public:
  void Add(double t, double w, PointUm v) {
    const double t2 = t * t;
    m_[0] += w, m_[1] += w * t, m_[2] += w * t2, m_[3] += w * t2 * t, m_[4] += w * t2 * t2;
    v0_ = v0_ + w * v, v1_ = v1_ + (w * t) * v, v2_ = v2_ + (w * t2) * v;
  }
  bool AtZero(PointUm& value) const {
    const double c0 = m_[2] * m_[4] - m_[3] * m_[3], c1 = m_[2] * m_[3] - m_[1] * m_[4],
                 c2 = m_[1] * m_[3] - m_[2] * m_[2];
    const double det = m_[0] * c0 + m_[1] * c1 + m_[2] * c2;
    if (!(std::abs(det) > 1e-12 * std::abs(m_[0] * c0))) return false;
    value = (1 / det) * (c0 * v0_ + c1 * v1_ + c2 * v2_);
    return true;
  }

 private:
  double m_[5] = {};
  PointUm v0_, v1_, v2_;
};

// Local parabola along the arc, each vertex weighed with the arc it stands for, corners as walls.
ContourUm Smooth(const Closed& closed, const ContourUm& in, const std::vector<bool>& corner,
                 double width) {
  const Kernel kernel(width);
  const double reach = kReach * width;
  const std::ptrdiff_t n = closed.n();
  ContourUm out = in;
  for (std::ptrdiff_t i = 0; i < n; ++i) {
    if (corner[closed.Index(i)]) continue;
    const double s = closed.At(i);
    const PointUm origin = in[closed.Index(i)];
    Parabola fit;
    for (const std::ptrdiff_t step : {1, -1}) {
      for (std::ptrdiff_t k = step > 0 ? i : i - 1; k > i - n && k < i + n && k >= -n && k < 2 * n;
           k += step) {
        const double t = (closed.At(k) - s) / width;
        if (std::abs(t) * width > reach) break;
        const std::size_t j = closed.Index(k);
        fit.Add(t, kernel(std::abs(t) * width), in[j] - origin);
        if (corner[j]) break;
      }
    }
    PointUm value;
    if (fit.AtZero(value)) out[closed.Index(i)] = origin + value;
  }
  return out;
}

// Sum of observed over sum of expected, up to `reach` vertices to each side and not across corners:
// what happens behind a corner says nothing about this edge.
std::vector<double> LocalRatio(const Closed& closed, const std::vector<bool>& corner,
                               const std::vector<double>& observed,
                               const std::vector<double>& expected, std::ptrdiff_t reach) {
  std::vector<double> ratio(observed.size());
  reach = std::min(reach, (closed.n() - 1) / 2);
  for (std::ptrdiff_t i = 0; i < closed.n(); ++i) {
    double top = 0, bottom = 0;
    for (const std::ptrdiff_t step : {1, -1}) {
      for (std::ptrdiff_t k = step > 0 ? i : i - 1; std::abs(k - i) <= reach; k += step) {
        const std::size_t j = closed.Index(k);
        if (corner[j] && k != i) break;
        top += observed[j];
        bottom += expected[j];
      }
    }
    ratio[closed.Index(i)] = bottom > 0 ? top / bottom : 1e9;
  }
  return ratio;
}

}  // namespace

ContourUm Calmed(const ContourUm& full, const ContourUm& normals, const std::vector<double>& arc,
                 const std::vector<double>& sigma, double perimeter, double noise_length) {
  const std::size_t n = full.size();
  const double spacing = perimeter / static_cast<double>(n);
  // Independent vertices act like a length of about 0.6 spacings (the draws' own rule).
  const double length = std::max(noise_length, 0.6 * spacing);
  const double width = kWidth * length;
  const bool quiet = std::none_of(sigma.begin(), sigma.end(), [](double s) { return s > 0; });
  if (quiet || n < 32 || 2 * kReach * width > 0.9 * perimeter) return full;

  const Closed closed{arc, perimeter};
  const std::vector<bool> corner = Corners(closed, full, kCornerArm * length);
  const ContourUm smooth = Smooth(closed, full, corner, width);
  std::vector<double> residual(n), observed(n), expected(n);
  for (std::size_t i = 0; i < n; ++i) {
    residual[i] = Dot(full[i] - smooth[i], normals[i]);
    observed[i] = residual[i] * residual[i];
    expected[i] = kResidualShare * sigma[i] * sigma[i];
  }
  const auto window = static_cast<std::ptrdiff_t>(std::max(12.0, kWindow * length / spacing));
  const std::vector<double> ratio = LocalRatio(closed, corner, observed, expected, window);
  ContourUm calm = full;
  for (std::size_t i = 0; i < n; ++i) {
    const double kept = ratio[i] > kNoiseRatio ? std::sqrt(1 - kNoiseRatio / ratio[i]) : 0.0;
    calm[i] = full[i] - (1 - kept) * residual[i] * normals[i];
  }
  return calm;
}

}  // namespace cutface::measure
