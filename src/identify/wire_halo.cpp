#include "identify/wire_halo.h"

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

constexpr double kLowest = 0.001, kHighest = 0.85;  // levels that exposure and halo can cause
constexpr int kCells = 120;

double HalfWidthAcross(const WireSize& size, double s) {  // half width across, at s along
  const double a = size.along, b = size.across;
  if (!size.flat) return b * std::sqrt(std::max(0.0, 1 - (s / a) * (s / a)));
  const double cap = std::max(0.0, std::abs(s) - std::max(0.0, a - b));
  return std::sqrt(std::max(0.0, b * b - cap * cap));
}
double Length(const WireSize& size, double t) {  // half length along, at t across
  const double a = size.along, b = size.across;
  if (!size.flat) return a * std::sqrt(std::max(0.0, 1 - (t / b) * (t / b)));
  return std::max(0.0, a - b) + std::sqrt(std::max(0.0, b * b - t * t));
}

// Integral over (-half, half) of the Gaussian at `at` times the share that the other direction
// leaves.
template <class Half>
double Blurred(double half, double blur, double at, Half other) {
  const double from = std::max(-half, at - 5 * blur), to = std::min(half, at + 5 * blur);
  if (to <= from) return 0;
  const double step = (to - from) / kCells;
  double sum = 0;
  for (int i = 0; i < kCells; ++i) {
    const double x = from + (i + 0.5) * step, z = (x - at) / blur;
    sum += std::exp(-0.5 * z * z) * std::erf(other(x) / (blur * M_SQRT2));
  }
  return sum * step / (blur * std::sqrt(2 * M_PI));
}

}  // namespace

double BlurredAlong(const WireSize& size, double blur_px, double s) {
  return Blurred(size.along, blur_px, s, [&](double x) { return HalfWidthAcross(size, x); });
}
double BlurredAcross(const WireSize& size, double blur_px, double t) {
  return Blurred(size.across, blur_px, t, [&](double x) { return Length(size, x); });
}

Halo TellHalo(const WireSize& seen, double across, double blur_px) {
  Halo halo;
  WireSize size = seen;
  size.across = across;
  for (int round = 0; round < 3; ++round) {
    halo.level = BlurredAcross(size, blur_px, seen.across);
    halo.told = halo.level > kLowest && halo.level < kHighest;
    const double level = std::clamp(halo.level, kLowest, kHighest);
    // The longer the wire the later its end: bisect.
    double low = std::max(0.6 * across, seen.along - 8 * blur_px - 2),
           high = seen.along + 3 * blur_px;
    for (int k = 0; k < 40; ++k) {
      size.along = 0.5 * (low + high);
      (BlurredAlong(size, blur_px, seen.along) < level ? low : high) = size.along;
    }
  }
  halo.across = seen.across - across;
  halo.along = seen.along - size.along;
  return halo;
}

}  // namespace cutface
