#include "segment/light.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "cutface/stats.h"

namespace cutface::segment {
namespace {

using Vector6 = Eigen::Matrix<double, 6, 1>;

Vector6 Row(double u, double v) {
  Vector6 row;
  row << 1, u, v, u * u, u * v, v * v;
  return row;
}

}  // namespace

std::array<double, 6> FitLight(const std::vector<LightSample>& samples) {
  std::vector<double> tones;
  tones.reserve(samples.size());
  for (const LightSample& s : samples) tones.push_back(s.tone);
  Vector6 state = Vector6::Zero();
  state(0) = Median(tones);
  for (int round = 0; round < 12; ++round) {
    std::vector<double> residual, magnitude;
    for (const LightSample& s : samples) {
      residual.push_back(s.tone - Row(s.u, s.v).dot(state));
      magnitude.push_back(std::abs(residual.back()));
    }
    const double cut = (round < 4 ? 3.0 : 4.0) * std::max(1e-4, 1.4826 * Median(magnitude));
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Identity() * 1e-9;
    Vector6 right = Vector6::Zero();
    for (std::size_t i = 0; i < samples.size(); ++i) {
      const double r = residual[i] / cut;
      if (std::abs(r) >= 1) continue;
      const double w = (1 - r * r) * (1 - r * r);
      const Vector6 row = Row(samples[i].u, samples[i].v);
      normal += w * row * row.transpose();
      right += w * row * samples[i].tone;
    }
    // Few samples on a small body must not swing the far terms.
    for (int k = 1; k < 6; ++k) normal(k, k) += 0.002 * normal(0, 0);
    state = normal.ldlt().solve(right);
  }
  std::array<double, 6> c{};
  for (int k = 0; k < 6; ++k) c[static_cast<std::size_t>(k)] = state(k);
  return c;
}

double LightAt(const std::array<double, 6>& c, double u, double v) {
  return c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v;
}

cv::Mat1f Flattened(const cv::Mat1f& image) {
  const double half_x = 0.5 * (image.cols - 1), half_y = 0.5 * (image.rows - 1);
  const double size = std::max(half_x, half_y);
  const int strip = std::max(3, static_cast<int>(0.07 * std::min(image.cols, image.rows)));
  std::vector<LightSample> samples;
  const int stride = std::max(1, (image.cols + image.rows) / 400);
  for (int y = 0; y < image.rows; y += stride) {
    for (int x = 0; x < image.cols; x += stride) {
      const int off = std::min({x, y, image.cols - 1 - x, image.rows - 1 - y});
      if (off < strip) samples.push_back({(x - half_x) / size, (y - half_y) / size, image(y, x)});
    }
  }
  if (samples.size() < 50) return image;
  const auto light = FitLight(samples);
  const double mean = std::max(0.002, light[0]);
  cv::Mat1f out(image.size());
  for (int y = 0; y < image.rows; ++y) {
    for (int x = 0; x < image.cols; ++x) {
      const double at = LightAt(light, (x - half_x) / size, (y - half_y) / size);
      out(y, x) = static_cast<float>(image(y, x) * mean / std::max(0.3 * mean, at));
    }
  }
  return out;
}

}  // namespace cutface::segment
