// From pictures of a stage micrometer or of a grid of dots or crosses to a calibration record.
//
// A line scale tells one direction: its lines are a wave with a covector q (cycles per px), and for
// K of the record (um = K px) |K^-T q| = 1 / division holds whatever the lines' tilt, unequal pitch
// or shear. Two directions tell both pitches, three tell the shear too; a grid tells all at once,
// and the radial distortion. Uncertainty is a GUM budget (JCGM 100): certificate, localisation,
// repeats, temperature, distortion left over. Lines are numbered by a lattice that is grown from
// neighbour to neighbour; where counting could slip the picture is refused, never guessed.
// Practice of ASTM E1951 (from memory); demand on scale lines of ASTM B487: 0.2 um or 0.1 %,
// whichever is larger. Keywords: calibrate, stage micrometer, dot grid, check standard, GUM,
// budget.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/geometry.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"

namespace cutface {

enum class TargetKind { kLineScale, kDotGrid, kCrossGrid, kCircle, kPin };
std::string_view TargetKindName(TargetKind kind);  // "line scale", "dot grid", "cross grid" ...
Result<TargetKind> ParseTargetKind(std::string_view name);

// What the certificate says of the artefact, and how it was used.
struct TargetSpec {
  TargetKind kind = TargetKind::kLineScale;
  double division_um = 0;                  // distance of neighbouring lines, or of dots along a row
  double diameter_um = 0;                  // of a certified circle or pin
  std::optional<double> certificate_u_um;  // standard uncertainty of a certified distance
  std::optional<double> temperature_c;     // of the artefact when pictured; not given: 20 +- 3
  double artefact_expansion_per_k = 8.5e-6;  // soda-lime glass, common practice
  std::optional<double> nominal_pitch_um;    // of the objective: only to warn of a wrong division
};

// One line or dot that was found. `i`, `j` number it on the target's lattice; lines have j = 0.
struct TargetMark {
  PointPx at;
  double sigma_px = 0;
  long i = 0, j = 0;
  double residual_px = 0;  // along the lattice's normal (lines) or length of the misfit (dots)
};

// What one picture of a target tells.
struct TargetFit {
  TargetKind kind = TargetKind::kLineScale;
  double division_um = 0;
  // Line scale: covector of the lattice at the picture's middle, in cycles per px, and its standard
  // uncertainty along and across itself (relative, rad).
  double qx_per_px = 0, qy_per_px = 0, u_q_relative = 0, u_angle_rad = 0;
  double u_distortion_relative = 0;  // of |q|, because distortion is not known; not in u_q_relative
  // Grid: the pitches, shear and distortion with standard uncertainties (record's form).
  std::optional<double> pitch_x_um, pitch_y_um, shear;
  double u_pitch_x_um = 0, u_pitch_y_um = 0, u_shear = 0;
  std::optional<double> k1_per_px2;  // when it can be told from zero, or from zero's neighbourhood
  double u_k1_per_px2 = 0;
  PointPx distortion_centre;

  // Circle or pin, measured as the product is: its diameter.
  double diameter_px = 0, u_diameter_px = 0;

  std::vector<TargetMark> marks;
  int lines_seen = 0, lines_expected = 0;  // expected: between the first and the last one seen
  double residual_rms_px = 0;
  double span_px = 0;             // between the outermost marks used
  std::optional<double> blur_px;  // Gaussian sigma of its edges, the pixel's own width included
  double u_blur_px = 0;
  std::optional<double> gamma;  // of the camera, tone = light^(1/gamma), from black and white areas
  double u_gamma = 0;
  int width_px = 0, height_px = 0;
  std::string image_file, image_sha256;
  std::vector<std::string> remarks;  // what this picture cannot tell, and doubts
};

// Errors: kNoPattern (no periodic pattern, too few lines, counting in doubt), kOutOfFocus,
// kUsage (division not positive).
Result<TargetFit> FindLineScale(const Micrograph& picture, const TargetSpec& spec);
// The same for dot and cross grids. Errors: as above.
Result<TargetFit> FindGrid(const Micrograph& picture, const TargetSpec& spec);
// A certified circle, from the places of its edge that the whole pipeline found. A circle seen
// through unequal pitches and shear is an ellipse: its axes tell all three. `u_common_px` is the
// standard uncertainty of a shift of the whole edge, `u_along_px` of one place, with
// `independent` places that know nothing of one another. Distortion is not told by one circle; its
// prior (a corner moves by 3 px, common practice) is in the uncertainty. Errors: kUsage (no
// diameter), kNoPattern (no ellipse fits, or one out of round by over 10 %).
struct CircleEdge {
  ContourPx contour;
  double u_common_px = 0, u_along_px = 0, independent = 1;
};
Result<TargetFit> FitCircleTarget(const CircleEdge& edge, const Micrograph& picture,
                                  const TargetSpec& spec);
// A line of the budget, for one pitch. Relative standard uncertainty, sensitivity 1.
struct CalibrationBudgetLine {
  std::string source;  // "certificate", "localisation", "repeats", "temperature", "distortion"
  double u_relative = 0;
  double degrees_of_freedom = 0;  // infinity for type B without one
  bool type_a = false;            // from statistics of the pictures
  std::string remark;
};

struct Calibration {
  CalibrationRecord record;  // pitches (null when not told), shear, k1, gamma, blur, evidence
  std::vector<CalibrationBudgetLine> budget_x, budget_y;
  double coverage_factor_x = 2, coverage_factor_y = 2;  // t for 95 %, Welch-Satterthwaite
  std::vector<std::string> untold;                      // what the pictures cannot say, in words
  std::vector<std::string> warnings;
};

struct CombineOptions {
  // Pixels of the camera are square to this relative standard uncertainty: lets one line scale tell
  // both pitches. Not given: a direction that no picture shows stays unknown.
  std::optional<double> square_pixels_u;
};

// All pictures: one objective, camera and size. Errors: kUsage (none, different sizes),
// kCalibrationInvalid (pictures contradict one another beyond their uncertainty by far).
Result<Calibration> CombineTargets(std::span<const TargetFit> fits, const TargetSpec& spec,
                                   const CombineOptions& options = {});

}  // namespace cutface
