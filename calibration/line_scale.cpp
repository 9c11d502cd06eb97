// Line scales: direction, period, numbered lines, covector.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>

#include "calibration/line_light.h"
#include "calibration/lines.h"
#include "calibration/strips.h"
#include "cutface/calibration.h"
#include "cutface/stats.h"

namespace cutface {
namespace {

using calibration::Strips;

constexpr double kStripHeight_px = 24;
constexpr std::size_t kLeastLines = 8;
constexpr double kSoft_px = 4.5;  // blur beyond which shorter lines may have run into a grey band
constexpr double kSoftShare = 0.32;  // blur / period beyond which lines run into one another
constexpr double kLineLensShift_px =
    3;  // prior of what distortion moves a corner by (common practice)
constexpr double kLinesSeenShare = 0.7;     // of the lines between the first and the last
constexpr double kLineScatterShare = 0.05;  // of the period: lines off the lattice by more are none
constexpr double kStray = 6, kLeastStray_px = 0.1;
constexpr double kLineHuber = 2.5;

Error NoPattern(const Micrograph& picture, const std::string& why) {
  return {
      Code::kNoPattern,
      fmt::format("{}: {}; picture the scale clean, sharp and across the field, or state the kind "
                  "of target that it shows",
                  picture.file_name, why)};
}

// Least squares of all places: u = a + P n + m v + k1 U (U^2 + v^2), lines weighted alike, robust.
struct LatticeFit {
  double a = 0, period = 0, tilt = 0, k1 = 0;
  double u_period = 0, u_tilt = 0, u_k1 = 0, rms = 0;
  std::vector<double> line_residual;
};

LatticeFit FitLattice(const std::vector<calibration::Line>& lines, double prior_k1, bool with_k1) {
  const std::size_t count = lines.size();
  std::vector<double> weight(count, 1.0);
  LatticeFit fit;
  Eigen::Vector4d x = Eigen::Vector4d::Zero();
  Eigen::Matrix4d inverse = Eigen::Matrix4d::Zero();
  double mean_n = 0;
  for (const auto& line : lines) mean_n += static_cast<double>(line.n) / static_cast<double>(count);
  // k1 enters in units of its prior, so that the matrix is well scaled.
  for (int pass = 0; pass < 8; ++pass) {
    Eigen::Matrix4d a = Eigen::Matrix4d::Zero();
    Eigen::Vector4d b = Eigen::Vector4d::Zero();
    for (std::size_t l = 0; l < count; ++l) {
      const auto& line = lines[l];
      const double share = weight[l] / static_cast<double>(line.places.size());
      for (const auto& place : line.places) {
        const double ideal = x(0) + x(1) * (static_cast<double>(line.n) - mean_n) + x(2) * place.v;
        const double bend = pass == 0 ? 0 : prior_k1 * ideal * (ideal * ideal + place.v * place.v);
        const Eigen::Vector4d g(1, static_cast<double>(line.n) - mean_n, place.v,
                                with_k1 ? bend : 0);
        a += share * g * g.transpose();
        b += share * g * place.u;
      }
    }
    const double s2 = std::max(1e-6, fit.rms * fit.rms);
    a(3, 3) += with_k1 ? s2 : 1;  // prior of 1 in units of prior_k1
    inverse = a.inverse();
    x = inverse * b;
    fit.line_residual.assign(count, 0);
    double sum = 0, sum_w = 0;
    for (std::size_t l = 0; l < count; ++l) {
      const auto& line = lines[l];
      for (const auto& place : line.places) {
        const double ideal = x(0) + x(1) * (static_cast<double>(line.n) - mean_n) + x(2) * place.v;
        const double bend = x(3) * prior_k1 * ideal * (ideal * ideal + place.v * place.v);
        fit.line_residual[l] += (place.u - ideal - bend) / static_cast<double>(line.places.size());
      }
      sum += weight[l] * fit.line_residual[l] * fit.line_residual[l];
      sum_w += weight[l];
    }
    fit.rms = std::sqrt(sum / std::max(1.0, sum_w - 3));
    const double limit = kLineHuber * std::max(1e-4, RobustSigma(fit.line_residual));
    for (std::size_t l = 0; l < count; ++l) {
      weight[l] = std::min(1.0, limit / std::max(1e-12, std::abs(fit.line_residual[l])));
    }
  }
  fit.a = x(0) - x(1) * mean_n;
  fit.period = x(1);
  fit.tilt = x(2);
  fit.k1 = x(3) * prior_k1;
  fit.u_period = fit.rms * std::sqrt(inverse(1, 1));
  fit.u_k1 = fit.rms * std::sqrt(inverse(3, 3)) * prior_k1;
  // Slices of one line share its ruling error, tilt does not: scatter between slices decides.
  std::vector<double> within;
  double vv = 0;
  for (std::size_t l = 0; l < count; ++l) {
    for (const auto& place : lines[l].places) {
      const double ideal =
          x(0) + x(1) * (static_cast<double>(lines[l].n) - mean_n) + x(2) * place.v;
      const double bend = fit.k1 * ideal * (ideal * ideal + place.v * place.v);
      within.push_back(place.u - ideal - bend - fit.line_residual[l]);
      vv += place.v * place.v;
    }
  }
  fit.u_tilt = vv > 0 ? RobustSigma(within) / std::sqrt(vv) : 1;
  return fit;
}

// Dirt beside a line, or the end of the scale, can look like a line off its place. True when some
// went.
bool DropStrays(std::vector<calibration::Line>& lines, const LatticeFit& fit) {
  const double limit = std::max(kLeastStray_px, kStray * RobustSigma(fit.line_residual));
  std::vector<calibration::Line> kept;
  for (std::size_t l = 0; l < lines.size(); ++l) {
    if (std::abs(fit.line_residual[l]) <= limit) kept.push_back(lines[l]);
  }
  const bool dropped = kept.size() < lines.size() && kept.size() >= kLeastLines;
  if (dropped) lines = std::move(kept);
  return dropped;
}

std::vector<TargetMark> MarksOf(const calibration::Lines& lattice, const LatticeFit& fit) {
  std::vector<TargetMark> marks;
  for (std::size_t l = 0; l < lattice.lines.size(); ++l) {
    const auto& line = lattice.lines[l];
    TargetMark mark;
    mark.i = line.n;
    double u = 0, v = 0;
    for (const auto& place : line.places) {
      u += place.u / static_cast<double>(line.places.size());
      v += place.v / static_cast<double>(line.places.size());
    }
    mark.at = lattice.frame.At(u, v);
    mark.sigma_px = line.sigma;
    mark.residual_px = fit.line_residual[l];
    marks.push_back(mark);
  }
  return marks;
}

}  // namespace

Result<TargetFit> FindLineScale(const Micrograph& picture, const TargetSpec& spec) {
  if (!(spec.division_um > 0)) {
    return Fail(Code::kUsage,
                "division: must be greater than 0; state the distance of two "
                "neighbouring lines, for example 10um");
  }
  auto lattice = calibration::FindLines(picture, kStripHeight_px);
  if (!lattice) return tl::unexpected<Error>(NoPattern(picture, lattice.error()));
  if (lattice->lines.size() < kLeastLines) {
    return tl::unexpected<Error>(
        NoPattern(picture, fmt::format("only {} lines can be told, {} are needed",
                                       lattice->lines.size(), kLeastLines)));
  }
  if (lattice->blur_px > std::min(kSoft_px, kSoftShare * lattice->period)) {
    return Fail(Code::kOutOfFocus,
                fmt::format("{}: the lines are blurred over {:.1f} px at a distance of {:.1f} px; "
                            "focus, or use a coarser scale",
                            picture.file_name, lattice->blur_px, lattice->period));
  }
  const double half = std::hypot(picture.width(), picture.height()) / 2;
  const double prior_k1 = kLineLensShift_px / (half * half * half);
  LatticeFit bent = FitLattice(lattice->lines, prior_k1, true);
  if (DropStrays(lattice->lines, bent)) bent = FitLattice(lattice->lines, prior_k1, true);
  const bool clear = std::abs(bent.k1) > 3 * bent.u_k1;
  const auto expected = static_cast<double>(lattice->lines.back().n - lattice->lines.front().n + 1);
  if (static_cast<double>(lattice->lines.size()) < kLinesSeenShare * expected ||
      bent.rms > kLineScatterShare * lattice->period) {
    return tl::unexpected<Error>(NoPattern(
        picture, fmt::format("{} of {:.0f} lines seen, scattered by {:.2f} px: they cannot be "
                             "counted beyond doubt",
                             lattice->lines.size(), expected, bent.rms)));
  }
  LatticeFit fit = clear ? bent : FitLattice(lattice->lines, prior_k1, false);

  TargetFit out;
  out.kind = TargetKind::kLineScale;
  out.division_um = spec.division_um;
  // Lines are where u - m v - a = P n: the covector is (1, -m) / P in the frame (u, v).
  const auto& frame = lattice->frame;
  const double qu = 1 / fit.period, qv = -fit.tilt / fit.period;
  out.qx_per_px = qu * frame.c - qv * frame.s;
  out.qy_per_px = qu * frame.s + qv * frame.c;
  out.u_q_relative = fit.u_period / fit.period;
  if (!clear) {
    out.u_distortion_relative =
        std::sqrt(std::max(0.0, bent.u_period * bent.u_period - fit.u_period * fit.u_period)) /
        fit.period;
  }
  out.u_angle_rad = fit.u_tilt;
  if (clear) out.k1_per_px2 = fit.k1;
  out.u_k1_per_px2 = bent.u_k1;
  out.distortion_centre = frame.middle;
  out.marks = MarksOf(*lattice, fit);
  out.lines_seen = static_cast<int>(out.marks.size());
  out.lines_expected = static_cast<int>(out.marks.back().i - out.marks.front().i + 1);
  out.residual_rms_px = fit.rms;
  out.span_px = fit.period * static_cast<double>(out.marks.back().i - out.marks.front().i);
  out.blur_px = lattice->blur_px;
  out.width_px = picture.width();
  out.height_px = picture.height();
  out.image_file = picture.file_name;
  out.image_sha256 = picture.sha256;
  out.remarks = lattice->remarks;
  if (out.lines_expected > out.lines_seen) {
    out.remarks.push_back(fmt::format("{} of {} lines are hidden or damaged and were skipped",
                                      out.lines_expected - out.lines_seen, out.lines_expected));
  }
  out.remarks.push_back("a line scale tells the pitch across its lines only");
  calibration::TellLight(calibration::ProfilesOfLines(picture, *lattice), out);
  return out;
}

}  // namespace cutface
