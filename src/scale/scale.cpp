#include "cutface/scale.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "scale/dates.h"

namespace cutface {
namespace {

// Radius r >= 0 with r * (1 + k1 * r^2) = imaged. A cubic without inflection on r > 0, so Newton
// from the imaged radius converges from one side; the fold bounds it for k1 < 0.
double IdealRadius(double imaged, double k1) {
  const double fold =
      k1 < 0 ? std::sqrt(-1.0 / (3.0 * k1)) : std::numeric_limits<double>::infinity();
  if (imaged >= fold * (2.0 / 3.0)) return fold;
  double r = imaged;
  for (int step = 0; step < 60; ++step) {
    const double slope = 1.0 + 3.0 * k1 * r * r;
    const double next = std::clamp(r - (r * (1.0 + k1 * r * r) - imaged) / slope, 0.0, fold);
    const bool settled = std::abs(next - r) <= 1e-15 * std::max(1.0, r);
    r = next;
    if (settled) break;
  }
  return r;
}

Status CheckTime(const CalibrationRecord& record, const ScaleChecks& checks,
                 std::vector<std::string>& warnings) {
  if (record.due.empty()) {
    warnings.push_back(
        fmt::format("calibration {}: no due date, so it cannot be overdue", record.id));
  }
  if (checks.taken.empty()) {
    warnings.push_back(fmt::format(
        "calibration {}: when the picture was taken is unknown, so the due date {} was not checked",
        record.id, record.due.empty() ? "(none)" : record.due));
    return {};
  }
  const std::string taken = checks.taken.substr(0, 10);
  const bool only_date = checks.taken.size() == 10;
  if (!IsIsoDate(taken) || (!only_date && checks.taken[10] != 'T' && checks.taken[10] != ' ')) {
    return Fail(Code::kUsage, fmt::format("time of taking \"{}\": write it as 2026-03-02 or "
                                          "2026-03-02T09:15:00",
                                          checks.taken));
  }
  // ISO dates of equal length sort as text.
  if (!record.made.empty() && taken < record.made) {
    warnings.push_back(fmt::format("calibration {}: made {}, after the picture was taken ({})",
                                   record.id, record.made, taken));
  }
  if (record.due.empty() || taken <= record.due) return {};
  const std::string what = fmt::format("calibration {}: was due {}, the picture was taken {}",
                                       record.id, record.due, taken);
  if (!checks.accept_overdue) {
    return Fail(Code::kCalibrationOverdue, what + "; calibrate again or overrule it by name");
  }
  warnings.push_back(what + "; overruled");
  return {};
}

Status CheckEmbedded(const CalibrationRecord& record, std::pair<double, double> embedded,
                     bool accept, std::vector<std::string>& warnings) {
  const auto check = [&](char axis, const std::optional<double>& pitch, double claimed) -> Status {
    // Written so that NaN and infinity count as a mismatch.
    if (!pitch || std::abs(claimed / *pitch - 1.0) <= kScaleMismatch) return {};
    const std::string what = fmt::format(
        "calibration {}: {:.6g} um per pixel in {}, the image file itself says {:.6g} "
        "({:+.2f} %)",
        record.id, *pitch, axis, claimed, 100.0 * (claimed / *pitch - 1.0));
    if (!accept) {
      return Fail(Code::kCalibrationMismatch,
                  what + "; take the record of this objective and camera mode or overrule it");
    }
    warnings.push_back(what + "; overruled");
    return {};
  };
  if (auto status = check('x', record.pitch_x_um, embedded.first); !status) return status;
  return check('y', record.pitch_y_um, embedded.second);
}

}  // namespace

Result<Scale> Scale::FromRecord(const CalibrationRecord& record) {
  if (!record.pitch_x_um || !record.pitch_y_um) {
    return Fail(
        Code::kCalibrationInvalid,
        fmt::format("{}: the pitch in {} is unknown; calibrate with lines in that direction",
                    record.file_name.empty() ? record.id : record.file_name,
                    !record.pitch_x_um ? "x" : "y"));
  }
  Scale scale;
  scale.pitch_x_ = *record.pitch_x_um;
  scale.pitch_y_ = *record.pitch_y_um;
  scale.u_rel_x_ = record.pitch_u_x_um.value_or(0.0) / scale.pitch_x_;
  scale.u_rel_y_ = record.pitch_u_y_um.value_or(0.0) / scale.pitch_y_;
  scale.shear_ = record.shear;
  scale.k1_ = record.k1_per_px2;
  scale.centre_ = record.distortion_centre;
  scale.gamma_ = record.gamma;
  return scale;
}

Scale Scale::Isotropic(double pitch_um, double u_relative) {
  CF_CHECK(pitch_um > 0 && u_relative >= 0);
  Scale scale;
  scale.pitch_x_ = scale.pitch_y_ = pitch_um;
  scale.u_rel_x_ = scale.u_rel_y_ = u_relative;
  return scale;
}

PointUm Scale::ToUm(PointPx p) const {
  if (k1_ != 0) {
    const PointPx imaged = p - centre_;
    const double radius = Norm(imaged);
    if (radius > 0) p = centre_ + (IdealRadius(radius, k1_) / radius) * imaged;
  }
  return {pitch_x_ * p.x + shear_ * pitch_y_ * p.y, pitch_y_ * p.y};
}

PointPx Scale::ToPx(PointUm p) const {
  const PointPx ideal{(p.x - shear_ * p.y) / pitch_x_, p.y / pitch_y_};
  if (k1_ == 0) return ideal;
  const PointPx offset = ideal - centre_;
  return centre_ + (1.0 + k1_ * Dot(offset, offset)) * offset;
}

ContourUm Scale::ToUm(std::span<const PointPx> contour) const {
  ContourUm out;
  out.reserve(contour.size());
  for (PointPx p : contour) out.push_back(ToUm(p));
  return out;
}

ContourPx Scale::ToPx(std::span<const PointUm> contour) const {
  ContourPx out;
  out.reserve(contour.size());
  for (PointUm p : contour) out.push_back(ToPx(p));
  return out;
}

double Scale::mean_pitch_um() const { return std::sqrt(pitch_x_ * pitch_y_); }

Status CheckCalibration(const CalibrationRecord& record, int width, int height,
                        std::optional<std::pair<double, double>> embedded_pitch_um,
                        const ScaleChecks& checks, std::vector<std::string>& warnings) {
  if (width != record.image_width_px || height != record.image_height_px) {
    return Fail(
        Code::kCalibrationMismatch,
        fmt::format("calibration {}: made for images of {} x {} px, this one has {} x {}; take "
                    "the record of this camera mode",
                    record.id, record.image_width_px, record.image_height_px, width, height));
  }
  if (embedded_pitch_um) {
    auto status = CheckEmbedded(record, *embedded_pitch_um, checks.accept_scale_mismatch, warnings);
    if (!status) return status;
  }
  if ((record.pitch_x_um && !record.pitch_u_x_um) || (record.pitch_y_um && !record.pitch_u_y_um)) {
    warnings.push_back(
        fmt::format("calibration {}: no uncertainty of the pitch, so intervals leave the scale out",
                    record.id));
  }
  return CheckTime(record, checks, warnings);
}

}  // namespace cutface
