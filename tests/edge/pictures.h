// Pictures whose edges are known in closed form: discs, rectangles and rims in linear light,
// blurred by a Gaussian, sampled at pixel centres, encoded with a camera gamma, with noise.
//
// Made here on purpose and not by the phantom room: a second opinion about what blur does.
#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "cutface/edge.h"
#include "cutface/stats.h"

namespace cutface::pictures {

inline double Phi(double z) { return 0.5 * std::erfc(-z * std::numbers::sqrt2 / 2); }

// Gaussian-blurred indicator of a disc against the distance from its centre:
//   D(r) = integral over x of N(x - r; sigma) * (2 Phi(sqrt(R^2 - x^2) / sigma) - 1),
// by Simpson's rule in t with x = R sin t (no root at the rim), tabulated at sigma / 40 and
// interpolated by cubics: error below 1e-6.
class BlurredDisc {
 public:
  BlurredDisc(double radius, double sigma) : spacing_(sigma / 40) {
    from_ = std::max(0.0, radius - 7 * sigma) - 2 * spacing_;
    const int n = static_cast<int>((radius + 7 * sigma - from_) / spacing_) + 4;
    for (int k = 0; k < n; ++k) table_.push_back(At(std::abs(from_ + k * spacing_), radius, sigma));
  }
  double operator()(double r) const {
    const double at = (r - from_) / spacing_;
    if (at < 1) return 1;
    if (at > static_cast<double>(table_.size()) - 3) return 0;
    const std::size_t k = static_cast<std::size_t>(at);
    const double f = at - static_cast<double>(k);
    const double a = table_[k - 1], b = table_[k], c = table_[k + 1], d = table_[k + 2];
    return b + 0.5 * f * (c - a + f * (2 * a - 5 * b + 4 * c - d + f * (3 * (b - c) + d - a)));
  }

 private:
  static double At(double r, double radius, double sigma) {
    const double least = std::max(-radius, r - 8 * sigma);
    if (least >= radius) return 0;
    const double greatest = std::min(radius, r + 8 * sigma);
    const double t0 = std::asin(least / radius), t1 = std::asin(std::min(1.0, greatest / radius));
    constexpr int kSteps = 400;
    double sum = 0;
    for (int k = 0; k <= kSteps; ++k) {
      const double t = t0 + (t1 - t0) * k / kSteps, x = radius * std::sin(t);
      const double z = (x - r) / sigma, half = radius * std::cos(t);
      const double value = std::exp(-0.5 * z * z) * (2 * Phi(half / sigma) - 1) * half;
      sum += value * (k == 0 || k == kSteps ? 1 : k % 2 ? 4 : 2);
    }
    return sum * (t1 - t0) / (3 * kSteps) / (sigma * std::sqrt(2 * kPi));
  }
  double spacing_, from_ = 0;
  std::vector<double> table_;
};

// Gaussian-blurred indicator of a rectangle of half sizes (a, b), in its own axes.
inline double BlurredRectangle(double u, double v, double a, double b, double sigma) {
  return (Phi((u + a) / sigma) - Phi((u - a) / sigma)) *
         (Phi((v + b) / sigma) - Phi((v - b) / sigma));
}

struct Camera {
  double gamma = 1;
  double noise = 0;  // standard deviation / full scale, after encoding
  std::uint64_t seed = 1;
};

// 16 bits, so that rounding is no part of the question. `light` is linear, full scale 0..1.
inline Micrograph Taken(int width, int height, const std::function<double(double, double)>& light,
                        const Camera& camera = {}) {
  cv::Mat tone(height, width, CV_16UC1);
  Random random(camera.seed);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      double value = std::pow(std::max(0.0, light(x, y)), 1 / camera.gamma);
      if (camera.noise > 0) value += camera.noise * random.Normal();
      tone.ptr<std::uint16_t>(y)[x] =
          static_cast<std::uint16_t>(std::lround(65535 * std::clamp(value, 0.0, 1.0)));
    }
  }
  return MicrographFromPixels(tone, 16, "analytic");
}

// An even field of the body's tone as pictured.
inline LightField EvenLight(double tone) {
  LightField light;
  light.c[0] = tone;
  light.size = 1000;
  return light;
}

inline ContourPx CirclePoints(PointPx centre, double radius, int count) {
  ContourPx out;
  for (int k = 0; k < count; ++k) {
    const double a = 2 * kPi * k / count;
    out.push_back({centre.x + radius * std::cos(a), centre.y + radius * std::sin(a)});
  }
  return out;
}

// Corners of a rectangle turned by `angle`, edges cut into steps of about 1 px.
inline ContourPx RectanglePoints(PointPx centre, double a, double b, double angle) {
  const PointPx corner[4] = {{-a, -b}, {a, -b}, {a, b}, {-a, b}};
  ContourPx out;
  for (int side = 0; side < 4; ++side) {
    const PointPx from = corner[side], to = corner[(side + 1) % 4];
    const int steps = static_cast<int>(Distance(from, to));
    for (int k = 0; k < steps; ++k)
      out.push_back(centre + Rotated(from + (1.0 * k / steps) * (to - from), angle));
  }
  return out;
}

inline ContourPx Places(const SettledContour& contour) {
  ContourPx out;
  for (const SettledPlace& place : contour.places) out.push_back(place.at);
  return out;
}

inline double EqualAreaRadius(const SettledContour& contour) {
  return std::sqrt(Area(Places(contour)) / kPi);
}

}  // namespace cutface::pictures
