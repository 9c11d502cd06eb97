// The calibration record (*.calibration.json) and the only bridge between pixels and micrometres.
// Keywords: calibration, pitch, shear, distortion, um per px, overdue, uncertified.
#pragma once

#include <optional>
#include <string>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface {

// A record as design.md section 3 fixes it.
struct CalibrationRecord {
  std::string id;
  std::string objective;
  int image_width_px = 0;
  int image_height_px = 0;
  std::optional<double> pitch_x_um, pitch_y_um;  // null in the file when one line scale cannot tell
  std::optional<double> pitch_u_x_um, pitch_u_y_um;
  double shear = 0;
  double k1_per_px2 = 0;
  PointPx distortion_centre;
  std::optional<double> gamma;
  std::string made, due, by, supersedes;  // ISO dates
  std::string artefact_kind, artefact_serial, artefact_certificate;
  std::optional<double> artefact_u_um;
  std::string sha256;     // of the file's text
  std::string file_name;
  bool Certified() const { return !artefact_certificate.empty(); }
};

// Errors: kFileMissing, kJsonSyntax, kJsonUnknownKey (names the nearest key), kJsonMissingKey,
// kJsonValue, kCalibrationInvalid.
Result<CalibrationRecord> ReadCalibration(const std::string& path);
Result<CalibrationRecord> ParseCalibration(std::string_view text, const std::string& name);
std::string CalibrationToJson(const CalibrationRecord& record);

// Pixels to micrometres and back. um = K * undistorted px, K = [[px, shear*py],[0, py]];
// imaged offset = ideal offset * (1 + k1 * |ideal|^2) about the distortion centre.
class Scale {
 public:
  Scale() = default;                                      // 1 um per px, no uncertainty
  static Result<Scale> FromRecord(const CalibrationRecord& record);  // needs both pitches
  static Scale Isotropic(double pitch_um, double u_relative = 0);

  PointUm ToUm(PointPx p) const;
  PointPx ToPx(PointUm p) const;  // Newton for the distortion; round trip below 1e-9 px
  ContourUm ToUm(std::span<const PointPx> contour) const;
  ContourPx ToPx(std::span<const PointUm> contour) const;

  double pitch_x_um() const { return pitch_x_; }
  double pitch_y_um() const { return pitch_y_; }
  double mean_pitch_um() const;                 // geometric mean
  double u_relative_x() const { return u_rel_x_; }  // standard uncertainty / pitch
  double u_relative_y() const { return u_rel_y_; }
  std::optional<double> gamma() const { return gamma_; }
  bool distorted() const { return k1_ != 0; }

 private:
  double pitch_x_ = 1, pitch_y_ = 1, u_rel_x_ = 0, u_rel_y_ = 0, shear_ = 0, k1_ = 0;
  PointPx centre_;
  std::optional<double> gamma_;
};

struct ScaleChecks {
  bool accept_overdue = false;         // the result then records who overruled
  bool accept_scale_mismatch = false;  // embedded scale more than 0.5 % off the record
  std::string taken;                   // when the picture was taken, ISO 8601; "" = unknown
};
// Does the record fit the picture? Errors: kCalibrationMismatch (size, embedded scale),
// kCalibrationOverdue. An unknown time of taking is no error; `warnings` then says so.
Status CheckCalibration(const CalibrationRecord& record, int width, int height,
                        std::optional<std::pair<double, double>> embedded_pitch_um,
                        const ScaleChecks& checks, std::vector<std::string>& warnings);

}  // namespace cutface
