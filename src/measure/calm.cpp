#include "measure/calm.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace cutface::measure {
namespace {

// Smoothing width (Gaussian standard deviation) in noise lengths: wide enough to leave little noise
// in the smooth contour, narrow enough to follow its curvature.
constexpr double kWidth = 8;
constexpr double kReach = 2.5;  // of the width, to each side
// Two passes, q + S(p - q) with q = S p, leave of noise with correlation exp(-(d / length)^2), for
// W = width / length and A(k) = 1 / sqrt(1 + 2 k W^2): in the residual the variance share
// 1 - 4 A(1) + 6 A(2) - 4 A(3) + A(4), in the smooth contour 4 A(2) - 4 A(3) + A(4) (kCalmNoise).
constexpr double kResidualShare = 0.862;
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

// Gaussian mean along the arc, each vertex weighed with the arc it stands for.
void Smooth(const Closed& closed, const std::vector<double>& share, double width,
            const ContourUm& in, ContourUm& out) {
  const Kernel kernel(width);
  const double reach = kReach * width;
  const std::ptrdiff_t n = closed.n();
  std::ptrdiff_t first = 0, last = 0;
  while (first > 1 - n && closed.At(first - 1) >= -reach) --first;
  out.resize(in.size());
  for (std::ptrdiff_t i = 0; i < n; ++i) {
    const double s = closed.At(i);
    while (closed.At(first) < s - reach) ++first;
    last = std::max(last, i);
    while (last + 1 < 2 * n && closed.At(last + 1) <= s + reach) ++last;
    double sum = 0, x = 0, y = 0;
    for (std::ptrdiff_t k = first; k <= last; ++k) {
      const std::size_t j = closed.Index(k);
      const double w = share[j] * kernel(std::abs(closed.At(k) - s));
      sum += w;
      x += w * in[j].x;
      y += w * in[j].y;
    }
    out[static_cast<std::size_t>(i)] = {x / sum, y / sum};
  }
}

// Sum of observed over sum of expected, `reach` vertices to each side.
std::vector<double> LocalRatio(const std::vector<double>& observed,
                               const std::vector<double>& expected, std::size_t reach) {
  const std::size_t n = observed.size();
  reach = std::min(reach, (n - 1) / 2);
  double top = 0, bottom = 0;
  for (std::size_t k = 0; k < 2 * reach + 1; ++k) {
    top += observed[(n - reach + k) % n];
    bottom += expected[(n - reach + k) % n];
  }
  std::vector<double> ratio(n);
  for (std::size_t i = 0; i < n; ++i) {
    ratio[i] = bottom > 0 ? top / bottom : 1e9;
    const std::size_t out = (i + n - reach) % n, in = (i + reach + 1) % n;
    top += observed[in] - observed[out];
    bottom += expected[in] - expected[out];
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
  std::vector<double> share(n);
  for (std::size_t i = 0; i < n; ++i) {
    const auto k = static_cast<std::ptrdiff_t>(i);
    share[i] = 0.5 * (closed.At(k + 1) - closed.At(k - 1));
  }
  ContourUm once, rest(n), again;
  Smooth(closed, share, width, full, once);
  for (std::size_t i = 0; i < n; ++i) rest[i] = full[i] - once[i];
  Smooth(closed, share, width, rest, again);

  std::vector<double> residual(n), observed(n), expected(n);
  for (std::size_t i = 0; i < n; ++i) {
    residual[i] = Dot(rest[i] - again[i], normals[i]);
    observed[i] = residual[i] * residual[i];
    expected[i] = kResidualShare * sigma[i] * sigma[i];
  }
  const auto window = static_cast<std::size_t>(std::max(12.0, kWindow * length / spacing));
  const std::vector<double> ratio = LocalRatio(observed, expected, window);
  ContourUm calm = full;
  for (std::size_t i = 0; i < n; ++i) {
    const double kept = ratio[i] > kNoiseRatio ? std::sqrt(1 - kNoiseRatio / ratio[i]) : 0.0;
    calm[i] = full[i] - (1 - kept) * residual[i] * normals[i];
  }
  return calm;
}

}  // namespace cutface::measure
