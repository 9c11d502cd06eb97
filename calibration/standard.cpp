// A check standard measured with a record.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/calibration_keeping.h"

namespace cutface {
namespace {

// A temperature that nobody noted: 20 +- 3 degrees, rectangular (common practice).
constexpr double kRoomSpreadK = 3.0;

// Relative standard uncertainty of a length in the direction (nx, ny).
double RelativeU(const Scale& scale, double nx, double ny) {
  return std::hypot(nx * nx * scale.u_relative_x(), ny * ny * scale.u_relative_y());
}

struct Length {
  double certified_um = 0, measured_um = 0, u_um = 0;
};

// The distance between the outermost lines: the slope of the lines' numbers against their place
// along the scale, taken in micrometres so that distortion is out.
Result<Length> LineDistance(const TargetFit& fit, const TargetSpec& spec, const Scale& scale) {
  if (!(spec.division_um > 0))
    return Fail(Code::kUsage, "the division of the scale is not given; give --division, as 10um");
  const PointPx middle{0.5 * (fit.width_px - 1), 0.5 * (fit.height_px - 1)};
  // The covector in um is K^-T q; K by differences about the middle.
  const PointUm ex = scale.ToUm(middle + PointPx{0.5, 0}) - scale.ToUm(middle - PointPx{0.5, 0});
  const PointUm ey = scale.ToUm(middle + PointPx{0, 0.5}) - scale.ToUm(middle - PointPx{0, 0.5});
  const double det = ex.x * ey.y - ex.y * ey.x;
  PointUm along{(ey.y * fit.qx_per_px - ex.y * fit.qy_per_px) / det,
                (ex.x * fit.qy_per_px - ey.x * fit.qx_per_px) / det};
  const double q = Norm(along);
  if (!(q > 0) || fit.marks.size() < 3)
    return Fail(Code::kNoPattern, "too few lines to measure a distance; picture more of the scale");
  along = (1.0 / q) * along;
  double mean_i = 0, mean_s = 0;
  std::vector<double> s;
  long least = fit.marks.front().i, greatest = least;
  for (const TargetMark& mark : fit.marks) {
    s.push_back(Dot(along, scale.ToUm(mark.at)));
    mean_s += s.back();
    mean_i += static_cast<double>(mark.i);
    least = std::min(least, mark.i);
    greatest = std::max(greatest, mark.i);
  }
  const double count = static_cast<double>(fit.marks.size());
  mean_i /= count, mean_s /= count;
  double up = 0, down = 0;
  for (std::size_t k = 0; k < s.size(); ++k) {
    const double i = static_cast<double>(fit.marks[k].i) - mean_i;
    up += i * (s[k] - mean_s);
    down += i * i;
  }
  if (!(down > 0)) return Fail(Code::kNoPattern, "all lines bear one number; picture more of them");
  const double spans = static_cast<double>(greatest - least);
  Length length;
  length.certified_um = spans * spec.division_um;
  length.measured_um = spans * std::abs(up / down);
  length.u_um =
      length.measured_um * std::hypot(fit.u_q_relative, RelativeU(scale, along.x, along.y));
  return length;
}

Result<Length> Diameter(const TargetFit& fit, const TargetSpec& spec, const Scale& scale) {
  if (!(spec.diameter_um > 0)) {
    return Fail(Code::kUsage, "the certified diameter is not given; give --diameter, as 0.5mm");
  }
  std::vector<PointUm> points;
  for (const TargetMark& mark : fit.marks) points.push_back(scale.ToUm(mark.at));
  auto circle = FitCircle(std::span<const PointUm>(points));
  if (!circle) return Fail(Code::kNoPattern, "too little of the circle's edge was found");
  Length length;
  length.certified_um = spec.diameter_um;
  length.measured_um = 2 * circle->radius;
  length.u_um = std::hypot(fit.u_diameter_px * scale.mean_pitch_um(),
                           length.measured_um * RelativeU(scale, std::sqrt(0.5), std::sqrt(0.5)));
  return length;
}

}  // namespace

Result<BenchCheck> MeasureStandard(const TargetFit& fit, const TargetSpec& spec,
                                   const CalibrationRecord& record) {
  auto scale = Scale::FromRecord(record);
  if (!scale) return tl::unexpected(scale.error());
  Result<Length> length = Fail(
      Code::kUsage, fmt::format("a {} is no check standard; use a line scale, a circle or a pin",
                                TargetKindName(fit.kind)));
  BenchCheck check;
  if (fit.kind == TargetKind::kLineScale) {
    length = LineDistance(fit, spec, *scale);
    check.standard_kind = "line distance";
  } else if (fit.kind == TargetKind::kCircle || fit.kind == TargetKind::kPin) {
    length = Diameter(fit, spec, *scale);
    check.standard_kind = fit.kind == TargetKind::kPin ? "pin" : "circle";
  }
  if (!length) return tl::unexpected(length.error());
  // The certificate holds at 20 degrees: the length measured is taken there.
  const double warmer = spec.temperature_c ? *spec.temperature_c - 20.0 : 0.0;
  const double u_warmer = spec.temperature_c ? 0.0 : kRoomSpreadK / std::sqrt(3.0);
  check.certified_um = length->certified_um;
  check.certified_u_um = spec.certificate_u_um.value_or(0.0);
  check.measured_um = length->measured_um / (1.0 + spec.artefact_expansion_per_k * warmer);
  check.measured_u_um =
      std::hypot(length->u_um, length->measured_um * spec.artefact_expansion_per_k * u_warmer);
  check.calibration_id = record.id;
  check.calibration_sha256 = record.sha256;
  check.image_file = fit.image_file;
  check.image_sha256 = fit.image_sha256;
  return check;
}

}  // namespace cutface
