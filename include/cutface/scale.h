// The calibration record (*.calibration.json) and the only bridge between pixels and micrometres.
// Keywords: calibration, pitch, shear, distortion, um per px, overdue, uncertified.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface {

// A calibration record. The file must give format, version, id, image_size_px and pixel_pitch_um;
// everything else may be missing, and CheckCalibration then says what that costs.
struct CalibrationRecord {
  std::string id;
  std::string objective;
  // With the objective: the bench, for which a record holds. `binning` as "2x2".
  std::string microscope, zoom_stop, binning;
  int image_width_px = 0;
  int image_height_px = 0;
  std::optional<double> pitch_x_um, pitch_y_um;  // null in the file when one line scale cannot tell
  std::optional<double> pitch_u_x_um, pitch_u_y_um;
  double shear = 0;
  std::optional<double> shear_u;
  double k1_per_px2 = 0;
  std::optional<double> k1_u_per_px2;
  PointPx distortion_centre;
  std::optional<double> gamma, gamma_u;
  std::optional<double> blur_px, blur_u_px;  // Gaussian sigma of the target's edges
  std::string made, due, by, supersedes;     // ISO dates; id of the record before
  std::string artefact_kind, artefact_serial, artefact_certificate;
  std::string artefact_certificate_due;  // ISO date; "" when not stated
  std::optional<double> artefact_u_um;
  std::optional<double> artefact_division_um;    // distance of lines or dots that was stated
  std::optional<double> artefact_temperature_c;  // when it was pictured
  std::string evidence_image_sha256;  // the picture of the artefact that the record was made from
  struct EvidenceImage {
    std::string file, sha256;
  };
  std::vector<EvidenceImage> evidence_images;  // all of them, the one above first; may be empty
  std::optional<int> evidence_lines;
  std::optional<double> evidence_residual_rms_um;
  // A picture of the empty field beside the record, to even out the light, and its SHA-256.
  std::string flat_field_image, flat_field_sha256;
  // Where the pitches' uncertainty comes from: standard uncertainties relative to the pitch.
  struct BudgetRow {
    std::string axis, source;  // "x" or "y"; "certificate", "localisation" ...
    double u_relative = 0;
  };
  std::vector<BudgetRow> budget;
  std::string sha256;  // of the file's text
  std::string file_name;
  bool Certified() const { return !artefact_certificate.empty(); }
};

// Errors: kFileMissing, kJsonSyntax, kJsonUnknownKey (names the nearest key), kJsonMissingKey,
// kJsonValue, kCalibrationInvalid (due before made, distortion above 10 % in an image corner, ...).
Result<CalibrationRecord> ReadCalibration(const std::string& path);
Result<CalibrationRecord> ParseCalibration(std::string_view text, const std::string& name);
std::string CalibrationToJson(const CalibrationRecord& record);

// Pixels to micrometres and back. um = K * ideal px, K = [[px, shear*py],[0, py]]: (0, 0) px, the
// centre of the image's first pixel, is (0, 0) um when there is no distortion.
// Imaged offset = ideal offset * (1 + k1 * |ideal|^2) about the distortion centre; ToUm inverts
// that by Newton steps, ToPx is closed. Beyond the radius where a negative k1 folds the plane back
// (never inside an image: ParseCalibration refuses such records) ToUm stays at the fold.
class Scale {
 public:
  Scale() = default;  // 1 um per px, no uncertainty
  // Errors: kCalibrationInvalid when a pitch is unknown.
  static Result<Scale> FromRecord(const CalibrationRecord& record);
  static Scale Isotropic(double pitch_um, double u_relative = 0);

  PointUm ToUm(PointPx p) const;
  PointPx ToPx(PointUm p) const;  // round trip below 1e-9 px
  ContourUm ToUm(std::span<const PointPx> contour) const;
  ContourPx ToPx(std::span<const PointUm> contour) const;

  double pitch_x_um() const { return pitch_x_; }
  double pitch_y_um() const { return pitch_y_; }
  double mean_pitch_um() const;  // geometric mean
  // Standard uncertainty / pitch; 0 when the record gives none.
  double u_relative_x() const { return u_rel_x_; }
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
// An embedded scale may differ from the record's by this share before it counts as another scale.
inline constexpr double kScaleMismatch = 0.005;

// Does the record fit the picture? Errors: kCalibrationMismatch (size, embedded scale),
// kCalibrationOverdue (the due date itself is still good), kUsage (`taken` is no ISO 8601 date).
// An unknown time of taking, a missing due date or missing uncertainty is no error; `warnings` then
// says so, and names what was overruled.
Status CheckCalibration(const CalibrationRecord& record, int width, int height,
                        std::optional<std::pair<double, double>> embedded_pitch_um,
                        const ScaleChecks& checks, std::vector<std::string>& warnings);

}  // namespace cutface
