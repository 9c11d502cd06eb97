#include "calibration/targets.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <optional>

#include "cutface/stats.h"

namespace cutface::targets {
namespace {

double Edge(double d, double sigma) { return 0.5 * std::erfc(-d / (sigma * M_SQRT2)); }
// Share of the light of a bar |x| < half, blurred.
double Bar(double x, double half, double sigma) {
  return Edge(x + half, sigma) - Edge(x - half, sigma);
}

// Light of a blurred disc against the distance from its centre: its chords, each blurred along
// itself, summed by the blur across them (midpoint rule, 400 chords).
class Disc {
 public:
  Disc(double radius, double sigma) : step_(sigma / 8), reach_(radius + 6 * sigma) {
    const auto cells = static_cast<int>(reach_ / step_) + 2;
    for (int k = 0; k < cells; ++k) {
      const double r = k * step_;
      // Integral over y of the blur's density times the blurred chord at height y.
      double sum = 0;
      constexpr int kSteps = 400;
      for (int i = 0; i < kSteps; ++i) {
        const double y = radius * ((i + 0.5) / kSteps * 2 - 1);
        const double half = std::sqrt(radius * radius - y * y);
        sum += std::exp(-0.5 * y * y / (sigma * sigma)) * Bar(r, half, sigma);
      }
      table_.push_back(sum * (2 * radius / kSteps) / (sigma * std::sqrt(2 * M_PI)));
    }
  }
  double At(double r) const {
    if (r >= reach_) return 0;
    const double x = r / step_;
    const auto k = static_cast<std::size_t>(x);
    const double share = x - static_cast<double>(k);
    return table_[k] * (1 - share) + table_[k + 1] * share;
  }

 private:
  double step_, reach_;
  std::vector<double> table_;
};

struct Dirt {
  double x, y, radius, light, angle;
  bool scratch;
};

class Painter {
 public:
  Painter(const Target& t, Random& random) : t_(t) {
    c_ = std::cos(t.angle_rad);
    s_ = std::sin(t.angle_rad);
    const double pitch = std::sqrt(t.pitch_x_um * t.pitch_y_um);
    // A pixel's own width adds to the blur of a steep edge as a variance of 1/12.
    sigma_um_ = pitch * std::sqrt(t.blur_px * t.blur_px + 1.0 / 12);
    if (t.kind == Kind::kDots) disc_.emplace(t.bar_um / 2, sigma_um_);
    for (int k = 0; k < t.blobs + t.scratches; ++k) {
      dirt_.push_back({random.Uniform(0, t.width_px), random.Uniform(0, t.height_px),
                       k < t.blobs ? random.Uniform(2, 14) : random.Uniform(0.6, 1.6),
                       random.Uniform(-0.6, 0.5), random.Uniform(0, M_PI), k >= t.blobs});
    }
  }

  double Light(double x, double y) const {
    const double mx = (t_.width_px - 1) / 2.0, my = (t_.height_px - 1) / 2.0;
    // Ideal offset from the imaged one, by fixed-point steps.
    const double ox = x - mx, oy = y - my;
    double f = 1;
    for (int k = 0; k < 12; ++k) f = 1 / (1 + t_.k1_per_px2 * (ox * ox + oy * oy) * f * f);
    const double ix = mx + ox * f, iy = my + oy * f;
    const double ux = t_.pitch_x_um * ix + t_.shear * t_.pitch_y_um * iy - t_.origin_x_um;
    const double uy = t_.pitch_y_um * iy - t_.origin_y_um;
    const double u = ux * c_ + uy * s_, v = -ux * s_ + uy * c_;
    double light = t_.bright + (t_.dark - t_.bright) * Marks(u, v);
    for (const Dirt& d : dirt_) light += d.light * Spot(d, x, y) * t_.bright;
    const double across = (ox * std::cos(t_.slope_rad) + oy * std::sin(t_.slope_rad)) /
                          std::hypot(t_.width_px, t_.height_px);
    return std::max(0.0, light * (1 - t_.slope * across));
  }

 private:
  double Spot(const Dirt& d, double x, double y) const {
    const double dx = x - d.x, dy = y - d.y;
    if (!d.scratch) return Edge(d.radius - std::hypot(dx, dy), t_.blur_px);
    const double along = dx * std::cos(d.angle) + dy * std::sin(d.angle);
    if (std::abs(along) > 300) return 0;
    return Bar(-dx * std::sin(d.angle) + dy * std::cos(d.angle), d.radius, t_.blur_px);
  }

  double Marks(double u, double v) const {
    const auto n = std::lround(u / t_.division_um);
    if (t_.kind == Kind::kLines) {
      double sum = 0;
      for (long k = n - 1; k <= n + 1; ++k) {
        if (k < t_.first || k > t_.last) continue;
        const auto index = static_cast<std::size_t>(k - t_.first);
        if (index < t_.hidden.size() && t_.hidden[index]) continue;
        const double width = index < t_.widths.size() ? t_.widths[index] : 1;
        const double length = t_.length_um * (k % 10 == 0 ? 2 : k % 5 == 0 ? 1.5 : 1);
        sum += Bar(u - static_cast<double>(k) * t_.division_um, t_.bar_um * width / 2, sigma_um_) *
               (Edge(length - v, sigma_um_) - Edge(-v, sigma_um_));
      }
      return sum;
    }
    const auto m = std::lround(v / t_.division_um);
    if (n < t_.first || n > t_.last || m < t_.first || m > t_.last) return 0;
    const auto index =
        static_cast<std::size_t>((m - t_.first) * (t_.last - t_.first + 1) + n - t_.first);
    if (index < t_.hidden.size() && t_.hidden[index]) return 0;
    const double du = u - static_cast<double>(n) * t_.division_um;
    const double dv = v - static_cast<double>(m) * t_.division_um;
    if (t_.kind == Kind::kDots) return disc_->At(std::hypot(du, dv));
    const double arm = 0.36 * t_.division_um;
    const double a = Bar(du, t_.bar_um / 2, sigma_um_) * Bar(dv, arm, sigma_um_);
    const double b = Bar(dv, t_.bar_um / 2, sigma_um_) * Bar(du, arm, sigma_um_);
    return a + b - a * b;
  }

  Target t_;
  double c_ = 1, s_ = 0, sigma_um_ = 1;
  std::vector<Dirt> dirt_;
  std::optional<Disc> disc_;
};

}  // namespace

cv::Mat Render(const Target& t, std::uint64_t seed) {
  Random random(seed);
  const Painter painter(t, random);
  const double full = static_cast<double>((1u << t.bits) - 1u);
  cv::Mat picture(t.height_px, t.width_px, t.bits <= 8 ? CV_8UC1 : CV_16UC1);
  for (int y = 0; y < t.height_px; ++y) {
    for (int x = 0; x < t.width_px; ++x) {
      const double light = painter.Light(x, y);
      const double shot = std::sqrt(std::max(0.0, light) / std::max(0.05, t.bright));
      const double noisy = std::max(0.0, light + t.noise * (0.4 + 0.6 * shot) * random.Normal());
      const double stored = std::clamp(std::pow(noisy, 1 / t.gamma), 0.0, 1.0) * full;
      if (t.bits <= 8) {
        picture.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(std::lround(stored));
      } else {
        picture.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(std::lround(stored));
      }
    }
  }
  return picture;
}

Target Draw(Kind kind, std::uint64_t seed) {
  Random random(seed * 7919 + 13);
  Target t;
  t.kind = kind;
  t.width_px = random.Integer(1000, 1900);
  t.height_px = random.Integer(800, 1400);
  t.bits = random.Chance(0.2) ? 12 : 8;
  t.pitch_x_um = random.Uniform(0.4, 4);
  t.pitch_y_um = t.pitch_x_um * (1 + random.Uniform(-0.004, 0.004));
  t.shear = random.Chance(0.5) ? random.Uniform(-2e-4, 2e-4) : 0;
  const double half = std::hypot(t.width_px, t.height_px) / 2;
  if (random.Chance(0.4)) t.k1_per_px2 = random.Uniform(-5, 5) / (half * half * half);
  const double period = random.Uniform(kind == Kind::kLines ? 7.0 : 18.0, 60.0);
  const double divisions[] = {10, 20, 25.4, 50, 100, 2.54};
  t.division_um = divisions[random.Integer(0, 5)];
  const double stretch = t.division_um / period / t.pitch_x_um;
  t.pitch_x_um *= stretch;
  t.pitch_y_um *= stretch;
  t.bar_um = t.division_um * random.Uniform(0.18, 0.5);
  t.blur_px = std::min(random.Uniform(0.6, 2.2), 0.22 * period);
  t.noise = random.Uniform(0.003, 0.03);
  t.gamma = random.Chance(0.5) ? 1.0 : random.Uniform(1.0, 2.2);
  t.angle_rad = random.Chance(0.7)
                    ? random.Uniform(-0.06, 0.06) + (random.Chance(0.5) ? 0 : M_PI / 2)
                    : random.Uniform(-M_PI, M_PI);
  t.origin_x_um = t.pitch_x_um * t.width_px * random.Uniform(0.4, 0.6);
  t.origin_y_um = t.pitch_y_um * t.height_px * random.Uniform(0.4, 0.6);
  const auto reach = static_cast<long>(0.6 * half * t.pitch_x_um / t.division_um);
  t.first = -random.Integer(std::max(6, static_cast<int>(reach / 2)),
                            std::max(8, static_cast<int>(2 * reach)));
  t.last = random.Integer(std::max(6, static_cast<int>(reach / 2)),
                          std::max(8, static_cast<int>(2 * reach)));
  if (kind != Kind::kLines) t.last = -t.first;
  t.length_um = t.pitch_x_um * t.height_px * random.Uniform(0.12, 0.3);
  const auto marks = static_cast<std::size_t>(kind == Kind::kLines ? t.last - t.first + 1
                                                                   : (t.last - t.first + 1) *
                                                                         (t.last - t.first + 1));
  t.hidden.resize(marks);
  const double hidden = random.Chance(0.6) ? random.Uniform(0, 0.04) : 0;
  for (std::size_t k = 0; k < marks; ++k) t.hidden[k] = random.Chance(hidden);
  const double uneven = random.Uniform(0, 0.12);
  for (std::size_t k = 0; k < marks; ++k) t.widths.push_back(1 + uneven * random.Uniform(-1, 1));
  if (random.Chance(0.3)) std::swap(t.dark, t.bright);
  t.slope = random.Uniform(0, 0.4);
  t.slope_rad = random.Uniform(0, 2 * M_PI);
  t.blobs = random.Integer(0, 40);
  t.scratches = random.Integer(0, 6);
  return t;
}

}  // namespace cutface::targets
