// How well calibration targets are measured, on rendered ones of known geometry.
//
//   bench_calibration lines|dots|crosses FIRST COUNT      one line a target: error of the pitch,
//   lines, verdict
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <string>
#include <vector>

#include "calibration/targets.h"
#include "cutface/calibration.h"
#include "cutface/stats.h"

using namespace cutface;

namespace {

struct Tally {
  int targets = 0, refused = 0, miscounted = 0, inside = 0, told = 0;
  std::vector<double> errors, bends;
};

// Numbers of the found lines against the true ones, up to one common offset.
bool Miscounted(const targets::Target& t, const TargetFit& fit) {
  const double mx = (t.width_px - 1) / 2.0, my = (t.height_px - 1) / 2.0;
  double sign = 0;
  std::vector<std::pair<long, double>> truth;
  for (const TargetMark& mark : fit.marks) {
    const double ox = mark.at.x - mx, oy = mark.at.y - my;
    double f = 1;
    for (int k = 0; k < 12; ++k) f = 1 / (1 + t.k1_per_px2 * (ox * ox + oy * oy) * f * f);
    const double x = mx + ox * f, y = my + oy * f;
    const double ux = t.pitch_x_um * x + t.shear * t.pitch_y_um * y - t.origin_x_um;
    const double uy = t.pitch_y_um * y - t.origin_y_um;
    truth.emplace_back(mark.i,
                       (ux * std::cos(t.angle_rad) + uy * std::sin(t.angle_rad)) / t.division_um);
  }
  sign = truth.back().second > truth.front().second ? 1 : -1;
  // Where bars and spaces are alike the spaces may be counted: the offset need not be whole.
  std::vector<double> offsets;
  for (const auto& [i, n] : truth) offsets.push_back(sign * n - static_cast<double>(i));
  const double offset = Median(offsets);
  return std::any_of(offsets.begin(), offsets.end(),
                     [&](double d) { return std::abs(d - offset) > 0.4; });
}

void Lines(std::uint64_t seed, Tally& tally) {
  const targets::Target t = targets::Draw(targets::Kind::kLines, seed);
  const Micrograph picture =
      MicrographFromPixels(targets::Render(t, seed), t.bits, fmt::format("lines-{}", seed));
  Random random(seed * 31 + 5);
  // The certificate's own error, drawn from what it states.
  constexpr double kCertificate = 2e-5;
  TargetSpec spec;
  spec.division_um = t.division_um * (1 + kCertificate * random.Normal());
  const auto start = std::chrono::steady_clock::now();
  const auto fit = FindLineScale(picture, spec);
  const double ms =
      std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  ++tally.targets;
  if (!fit) {
    ++tally.refused;
    fmt::print("{} refused: {} [period {:.1f} bar {:.2f} blur {:.2f} noise {:.3f}]\n", seed,
               fit.error().message, t.division_um / t.pitch_x_um, t.bar_um / t.division_um,
               t.blur_px, t.noise);
    return;
  }
  const bool wrong = Miscounted(t, *fit);
  tally.miscounted += wrong;
  // True covector: K^T of the unit normal / division.
  const double nx = std::cos(t.angle_rad) / t.division_um,
               ny = std::sin(t.angle_rad) / t.division_um;
  const double qx = t.pitch_x_um * nx, qy = t.shear * t.pitch_y_um * nx + t.pitch_y_um * ny;
  const double error = std::hypot(fit->qx_per_px, fit->qy_per_px) * spec.division_um /
                           t.division_um / std::hypot(qx, qy) -
                       1;
  const double u = std::sqrt(std::pow(fit->u_q_relative, 2) +
                             std::pow(fit->u_distortion_relative, 2) + kCertificate * kCertificate);
  tally.errors.push_back(std::abs(error));
  ++tally.told;
  tally.inside += std::abs(error) <= 1.96 * u;
  const double half = std::hypot(t.width_px, t.height_px) / 2;
  const double corner = t.k1_per_px2 * half * half * half;
  fmt::print(
      "{} {} lines {}/{} error {:+.4f} % u {:.4f} % rms {:.3f} px blur {:.2f} ({:.2f}) k1 corner "
      "{:+.2f} told {:+.2f} u {:.2f} period {:.1f} angle {:.1f} {:.0f} ms\n",
      seed, wrong ? "MISCOUNTED" : "ok", fit->lines_seen, fit->lines_expected, 100 * error, 100 * u,
      fit->residual_rms_px, fit->blur_px.value_or(0), t.blur_px, corner,
      fit->k1_per_px2.value_or(0) * half * half * half, fit->u_k1_per_px2 * half * half * half,
      t.division_um / t.pitch_x_um, t.angle_rad * 180 / M_PI, ms);
}

// A dot or cross grid: both pitches, and the distortion where it moves a corner by more than 1 px.
void Grid(targets::Kind kind, std::uint64_t seed, Tally& tally) {
  const targets::Target t = targets::Draw(kind, seed);
  const Micrograph picture =
      MicrographFromPixels(targets::Render(t, seed), t.bits, fmt::format("grid-{}", seed));
  TargetSpec spec;
  spec.kind = kind == targets::Kind::kDots ? TargetKind::kDotGrid : TargetKind::kCrossGrid;
  spec.division_um = t.division_um;
  const auto start = std::chrono::steady_clock::now();
  const auto fit = FindGrid(picture, spec);
  const double ms =
      std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
  ++tally.targets;
  if (!fit) {
    ++tally.refused;
    fmt::print("{} refused: {}\n", seed, fit.error().message);
    return;
  }
  const double half = std::hypot(t.width_px, t.height_px) / 2, cube = half * half * half;
  const double ex = *fit->pitch_x_um / t.pitch_x_um - 1, ey = *fit->pitch_y_um / t.pitch_y_um - 1;
  for (const auto& [e, u] : {std::pair<double, double>{ex, fit->u_pitch_x_um / t.pitch_x_um},
                             std::pair<double, double>{ey, fit->u_pitch_y_um / t.pitch_y_um}}) {
    tally.errors.push_back(std::abs(e));
    ++tally.told;
    tally.inside += std::abs(e) <= 1.96 * u;
  }
  const double corner = t.k1_per_px2 * cube, found = fit->k1_per_px2.value_or(0) * cube;
  if (std::abs(corner) > 1) tally.bends.push_back(std::abs(found / corner - 1));
  fmt::print(
      "{} ok marks {} error x {:+.4f} % y {:+.4f} % u {:.4f} % shear {:+.1e} ({:+.1e}) rms {:.3f} "
      "px "
      "k1 corner {:+.2f} told {:+.2f} period {:.1f} angle {:.1f} {:.0f} ms\n",
      seed, fit->marks.size(), 100 * ex, 100 * ey, 100 * fit->u_pitch_x_um / t.pitch_x_um,
      *fit->shear, t.shear, fit->residual_rms_px, corner, found, t.division_um / t.pitch_x_um,
      t.angle_rad * 180 / M_PI, ms);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) {
    fmt::print(stderr, "usage: bench_calibration lines|dots|crosses FIRST COUNT\n");
    return 2;
  }
  const std::string kind = argv[1];
  const std::uint64_t first = std::strtoull(argv[2], nullptr, 10);
  const std::uint64_t count = std::strtoull(argv[3], nullptr, 10);
  Tally tally;
  for (std::uint64_t seed = first; seed < first + count; ++seed) {
    if (kind == "lines") {
      Lines(seed, tally);
    } else {
      Grid(kind == "dots" ? targets::Kind::kDots : targets::Kind::kCrosses, seed, tally);
    }
  }
  if (tally.errors.empty()) return 1;
  const auto [lo, hi] = BinomialInterval(tally.inside, tally.told);
  // The numbers of grid marks are not held against the truth here.
  const std::string miscounted =
      kind == "lines" ? fmt::format(" miscounted {}", tally.miscounted) : std::string();
  fmt::print(
      "targets {} refused {}{}\nscale error median {:.4f} % 95th percentile {:.4f} %\n"
      "coverage {:.1f} % ({:.1f} to {:.1f})\n",
      tally.targets, tally.refused, miscounted, 100 * Median(tally.errors),
      100 * Quantile(tally.errors, 0.95), 100.0 * tally.inside / tally.told, 100 * lo, 100 * hi);
  if (!tally.bends.empty()) {
    fmt::print(
        "distortion, share of it that is missed, where a corner moves by over 1 px: median {:.1f} "
        "%, "
        "95th percentile {:.1f} % of {} targets\n",
        100 * Median(tally.bends), 100 * Quantile(tally.bends, 0.95), tally.bends.size());
  }
  return 0;
}
