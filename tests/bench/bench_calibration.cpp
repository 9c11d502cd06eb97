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
#include "cutface/micrograph.h"
#include "cutface/stats.h"

using namespace cutface;

namespace {

// The certificate's own error, relative, drawn from what it states.
constexpr double kCertificate = 2e-5;

struct Tally {
  int targets = 0, refused = 0, miscounted = 0, inside = 0, told = 0;
  std::vector<double> errors, bends, gammas, blurs;
  int gamma_inside = 0, gamma_told = 0;
};

// What the picture's light was told as; `pixel` in the blur: a pixel's own width is part of an
// edge.
void Light(const targets::Target& t, const TargetFit& fit, Tally& tally) {
  if (fit.blur_px) {
    tally.blurs.push_back(std::abs(*fit.blur_px / std::sqrt(t.blur_px * t.blur_px + 1.0 / 12) - 1));
  }
  if (!fit.gamma) return;
  ++tally.gamma_told;
  tally.gammas.push_back(std::abs(*fit.gamma / t.gamma - 1));
  tally.gamma_inside += std::abs(*fit.gamma - t.gamma) <= 1.96 * fit.u_gamma;
}

std::string LightText(const targets::Target& t, const TargetFit& fit) {
  const std::string gamma =
      fit.gamma ? fmt::format("{:.3f} u {:.3f}", *fit.gamma, fit.u_gamma) : std::string("not told");
  return fmt::format("gamma {:.3f} told {} blur {:.3f} told {:.3f}", t.gamma, gamma,
                     std::sqrt(t.blur_px * t.blur_px + 1.0 / 12), fit.blur_px.value_or(0));
}

// Where a mark lies on the target, in divisions.
std::pair<double, double> OnTarget(const targets::Target& t, PointPx at) {
  const double mx = (t.width_px - 1) / 2.0, my = (t.height_px - 1) / 2.0;
  const double ox = at.x - mx, oy = at.y - my;
  double f = 1;
  for (int k = 0; k < 12; ++k) f = 1 / (1 + t.k1_per_px2 * (ox * ox + oy * oy) * f * f);
  const double x = mx + ox * f, y = my + oy * f;
  const double ux = t.pitch_x_um * x + t.shear * t.pitch_y_um * y - t.origin_x_um;
  const double uy = t.pitch_y_um * y - t.origin_y_um;
  const double c = std::cos(t.angle_rad), s = std::sin(t.angle_rad);
  return {(ux * c + uy * s) / t.division_um, (-ux * s + uy * c) / t.division_um};
}

// Numbers of the found lines against the true ones, up to one common offset.
bool Miscounted(const targets::Target& t, const TargetFit& fit) {
  std::vector<std::pair<long, double>> truth;
  for (const TargetMark& mark : fit.marks) truth.emplace_back(mark.i, OnTarget(t, mark.at).first);
  const double sign = truth.back().second > truth.front().second ? 1 : -1;
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
  Light(t, *fit, tally);
  fmt::print(
      "{} {} lines {}/{} error {:+.4f} % u {:.4f} % rms {:.3f} px {} k1 corner "
      "{:+.2f} told {:+.2f} u {:.2f} period {:.1f} angle {:.1f} {:.0f} ms\n",
      seed, wrong ? "MISCOUNTED" : "ok", fit->lines_seen, fit->lines_expected, 100 * error, 100 * u,
      fit->residual_rms_px, LightText(t, *fit), corner,
      fit->k1_per_px2.value_or(0) * half * half * half, fit->u_k1_per_px2 * half * half * half,
      t.division_um / t.pitch_x_um, t.angle_rad * 180 / M_PI, ms);
}

// Numbers of the marks against the true ones: the same whole step and turn for all of them.
bool GridMiscounted(const targets::Target& t, const TargetFit& fit) {
  const TargetMark& first = fit.marks.front();
  const std::pair<double, double> origin = OnTarget(t, first.at);
  // The turn in quarters, from the mark farthest along i.
  const auto far = std::max_element(
      fit.marks.begin(), fit.marks.end(),
      [](const TargetMark& a, const TargetMark& b) { return std::abs(a.i) < std::abs(b.i); });
  const auto [nf, mf] = OnTarget(t, far->at);
  const double turn =
      std::atan2(mf - origin.second, nf - origin.first) -
      std::atan2(static_cast<double>(far->j - first.j), static_cast<double>(far->i - first.i));
  const double quarter = std::round(turn / (M_PI / 2)) * (M_PI / 2);
  const double c = std::round(std::cos(quarter)), s = std::round(std::sin(quarter));
  return std::any_of(fit.marks.begin(), fit.marks.end(), [&](const TargetMark& mark) {
    const auto [n, m] = OnTarget(t, mark.at);
    const auto i = static_cast<double>(mark.i - first.i), j = static_cast<double>(mark.j - first.j);
    return std::hypot(n - origin.first - (c * i - s * j), m - origin.second - (s * i + c * j)) >
           0.4;
  });
}

// A dot or cross grid: both pitches, and the distortion where it moves a corner by more than 1 px.
void Grid(targets::Kind kind, std::uint64_t seed, Tally& tally) {
  const targets::Target t = targets::Draw(kind, seed);
  const Micrograph picture =
      MicrographFromPixels(targets::Render(t, seed), t.bits, fmt::format("grid-{}", seed));
  TargetSpec spec;
  spec.kind = kind == targets::Kind::kDots ? TargetKind::kDotGrid : TargetKind::kCrossGrid;
  Random random(seed * 31 + 5);
  spec.division_um = t.division_um * (1 + kCertificate * random.Normal());
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
  tally.miscounted += GridMiscounted(t, *fit);
  Light(t, *fit, tally);
  tally.errors.push_back(std::max(std::abs(ex), std::abs(ey)));
  // One of the two by the seed's turn: both share the certificate's error and are not independent.
  const bool along_y = seed % 2 == 1;
  const double e = along_y ? ey : ex;
  const double u = std::hypot(
      kCertificate, along_y ? fit->u_pitch_y_um / t.pitch_y_um : fit->u_pitch_x_um / t.pitch_x_um);
  ++tally.told;
  tally.inside += std::abs(e) <= 1.96 * u;
  const double corner = t.k1_per_px2 * cube, found = fit->k1_per_px2.value_or(0) * cube;
  if (std::abs(corner) > 1) tally.bends.push_back(std::abs(found / corner - 1));
  fmt::print(
      "{} ok marks {} error x {:+.4f} % y {:+.4f} % u {:.4f} % shear {:+.1e} ({:+.1e}) rms {:.3f} "
      "px {} "
      "k1 corner {:+.2f} told {:+.2f} period {:.1f} angle {:.1f} {:.0f} ms\n",
      seed, fit->marks.size(), 100 * ex, 100 * ey, 100 * fit->u_pitch_x_um / t.pitch_x_um,
      *fit->shear, t.shear, fit->residual_rms_px, LightText(t, *fit), corner, found,
      t.division_um / t.pitch_x_um, t.angle_rad * 180 / M_PI, ms);
}

}  // namespace

namespace {

// What finding a target costs against decoding its picture, in one run; medians of seven.
int Cost(TargetKind kind, const std::string& path, double division_um) {
  std::vector<double> decode, find;
  TargetSpec spec;
  spec.kind = kind;
  spec.division_um = division_um;
  const auto since = [](std::chrono::steady_clock::time_point start) {
    return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start)
        .count();
  };
  for (int k = 0; k < 7; ++k) {
    auto start = std::chrono::steady_clock::now();
    const auto picture = ReadMicrograph(path);
    decode.push_back(since(start));
    if (!picture) {
      fmt::print(stderr, "{}\n", picture.error().message);
      return 1;
    }
    start = std::chrono::steady_clock::now();
    const auto fit =
        kind == TargetKind::kLineScale ? FindLineScale(*picture, spec) : FindGrid(*picture, spec);
    find.push_back(since(start));
    if (!fit) {
      fmt::print(stderr, "{}\n", fit.error().message);
      return 1;
    }
  }
  fmt::print("decoding {:.0f} ms, finding {:.0f} ms: {:.2f} times\n", Median(decode), Median(find),
             Median(find) / Median(decode));
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4 && argc != 5) {
    fmt::print(stderr,
               "usage: bench_calibration lines|dots|crosses FIRST COUNT\n"
               "       bench_calibration cost lines|dots|crosses PICTURE DIVISION_UM\n");
    return 2;
  }
  const std::string kind = argv[1];
  if (kind == "cost" && argc == 5) {
    const std::string what = argv[2];
    return Cost(what == "lines"  ? TargetKind::kLineScale
                : what == "dots" ? TargetKind::kDotGrid
                                 : TargetKind::kCrossGrid,
                argv[3], std::strtod(argv[4], nullptr));
  }
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
  fmt::print(
      "targets {} refused {} miscounted {}\nscale error median {:.4f} % 95th percentile {:.4f} % "
      "worst {:.4f} %\ncoverage {:.1f} % ({:.1f} to {:.1f})\n",
      tally.targets, tally.refused, tally.miscounted, 100 * Median(tally.errors),
      100 * Quantile(tally.errors, 0.95), 100 * Quantile(tally.errors, 1),
      100.0 * tally.inside / tally.told, 100 * lo, 100 * hi);
  if (!tally.gammas.empty()) {
    const auto [g_lo, g_hi] = BinomialInterval(tally.gamma_inside, tally.gamma_told);
    fmt::print(
        "gamma told of {} targets, error median {:.2f} % 95th percentile {:.2f} %, coverage {:.1f} "
        "% ({:.1f} to {:.1f}); blur error median {:.2f} % 95th percentile {:.2f} %\n",
        tally.gamma_told, 100 * Median(tally.gammas), 100 * Quantile(tally.gammas, 0.95),
        100.0 * tally.gamma_inside / tally.gamma_told, 100 * g_lo, 100 * g_hi,
        100 * Median(tally.blurs), 100 * Quantile(tally.blurs, 0.95));
  }
  if (!tally.bends.empty()) {
    fmt::print(
        "distortion, share of it that is missed, where a corner moves by over 1 px: median {:.1f} "
        "%, "
        "95th percentile {:.1f} % of {} targets\n",
        100 * Median(tally.bends), 100 * Quantile(tally.bends, 0.95), tally.bends.size());
  }
  return 0;
}
