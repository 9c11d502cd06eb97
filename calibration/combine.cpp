// Several pictures of targets to one record with its budget.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>

#include "cutface/calibration.h"
#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();
constexpr double kShearPrior = 2e-4;        // rad: rows and columns of a sensor (common practice)
constexpr double kUnknownRatio = 0.05;      // of the two pitches when nothing is known
constexpr double kTold = 0.002;             // relative: a pitch less certain than this is not told
constexpr double kTemperatureSpread_k = 3;  // room, when the temperature was not noted
constexpr double kThermometer_k = 0.5;
constexpr double kExpansionShare = 0.1;  // relative half-width of an expansion coefficient
constexpr double kContradiction = 6;     // Birge ratio beyond which pictures contradict
constexpr double kContradictionLeast = 5e-4;
constexpr double kWrongDivision = 0.05;  // against the objective's nominal pitch

// Unknowns: log px, log py, shear. A row says: g . x = value to within u (relative).
struct Row {
  Eigen::Vector3d g;
  double value = 0, u = 0;
  bool prior = false;
};

// log(|K^-T q| D) as a function of the unknowns, and its gradient.
Row RowOfLines(const TargetFit& fit, const Eigen::Vector3d& x, double expansion) {
  const double px = std::exp(x(0)), py = std::exp(x(1)), shear = x(2);
  const double a = fit.qx_per_px / px, b = (fit.qy_per_px / py) - shear * fit.qx_per_px / px;
  const double length2 = a * a + b * b;
  Row row;
  row.g = Eigen::Vector3d(-(a * a - b * shear * a) / length2, -b * (fit.qy_per_px / py) / length2,
                          -b * a / length2);
  const double now = 0.5 * std::log(length2) + std::log(fit.division_um * expansion);
  row.value = row.g.dot(x) - now;
  row.u = std::max(1e-7, std::hypot(fit.u_q_relative, fit.u_distortion_relative));
  return row;
}

void AddGrid(const TargetFit& fit, double expansion, std::vector<Row>& rows) {
  if (fit.pitch_x_um && *fit.pitch_x_um > 0) {
    rows.push_back({Eigen::Vector3d(1, 0, 0), std::log(*fit.pitch_x_um * expansion),
                    std::max(1e-7, fit.u_pitch_x_um / *fit.pitch_x_um), false});
  }
  if (fit.pitch_y_um && *fit.pitch_y_um > 0) {
    rows.push_back({Eigen::Vector3d(0, 1, 0), std::log(*fit.pitch_y_um * expansion),
                    std::max(1e-7, fit.u_pitch_y_um / *fit.pitch_y_um), false});
  }
  if (fit.shear)
    rows.push_back({Eigen::Vector3d(0, 0, 1), *fit.shear, std::max(1e-7, fit.u_shear), false});
}

struct Solution {
  Eigen::Vector3d x, u;
  double birge = 1;
  double freedom = 0;
};

Solution Solve(std::span<const TargetFit> fits, const CombineOptions& options, double expansion) {
  Solution out;
  const double start = std::log(fits[0].pitch_x_um.value_or(
      fits[0].kind == TargetKind::kLineScale
          ? fits[0].division_um * std::hypot(fits[0].qx_per_px, fits[0].qy_per_px)
          : 1.0));
  out.x = Eigen::Vector3d(start, start, 0);
  for (int pass = 0; pass < 6; ++pass) {
    std::vector<Row> rows;
    for (const TargetFit& fit : fits) {
      if (fit.kind == TargetKind::kLineScale) {
        rows.push_back(RowOfLines(fit, out.x, expansion));
      } else {
        AddGrid(fit, expansion, rows);
      }
    }
    rows.push_back({Eigen::Vector3d(0, 0, 1), 0, kShearPrior, true});
    rows.push_back(
        {Eigen::Vector3d(1, -1, 0), 0, options.square_pixels_u.value_or(kUnknownRatio), true});
    Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
    Eigen::Vector3d b = Eigen::Vector3d::Zero();
    for (const Row& row : rows) {
      a += row.g * row.g.transpose() / (row.u * row.u);
      b += row.g * row.value / (row.u * row.u);
    }
    const Eigen::Matrix3d inverse = a.inverse();
    out.x = inverse * b;
    double chi2 = 0;
    for (const Row& row : rows) chi2 += std::pow((row.g.dot(out.x) - row.value) / row.u, 2);
    out.freedom = static_cast<double>(rows.size()) - 3;
    out.birge = out.freedom > 0 ? std::sqrt(chi2 / out.freedom) : 1;
    out.u = inverse.diagonal().cwiseSqrt();
  }
  return out;
}

double CoverageFactor(const std::vector<CalibrationBudgetLine>& budget) {
  double u2 = 0, u4 = 0;
  for (const auto& line : budget) {
    u2 += line.u_relative * line.u_relative;
    if (std::isfinite(line.degrees_of_freedom) && line.degrees_of_freedom > 0) {
      u4 += std::pow(line.u_relative, 4) / line.degrees_of_freedom;
    }
  }
  const double freedom = u4 > 0 ? std::min(1e6, u2 * u2 / u4) : 1e6;
  const boost::math::students_t t(std::max(1.0, freedom));
  return boost::math::quantile(t, 0.975);
}

double Total(const std::vector<CalibrationBudgetLine>& budget) {
  double u2 = 0;
  for (const auto& line : budget) u2 += line.u_relative * line.u_relative;
  return std::sqrt(u2);
}

// Distance on the artefact that the pictures use; the certificate's u counts relative to it.
double UsedLength(std::span<const TargetFit> fits, double pitch) {
  double length = 0;
  for (const TargetFit& fit : fits) length = std::max(length, fit.span_px * pitch);
  return length;
}

std::vector<CalibrationBudgetLine> BudgetOf(std::span<const TargetFit> fits, const TargetSpec& spec,
                                            double pitch, double u_solved,
                                            const Solution& solution) {
  std::vector<CalibrationBudgetLine> budget;
  const double used = UsedLength(fits, pitch);
  if (spec.certificate_u_um) {
    budget.push_back({"certificate", used > 0 ? *spec.certificate_u_um / used : 0, kInfinite, false,
                      fmt::format("{:.3g} um on {:.4g} um", *spec.certificate_u_um, used)});
  }
  double lines = 0, distortion = 0, localisation = 0;
  for (const TargetFit& fit : fits) {
    lines += static_cast<double>(fit.marks.size());
    distortion += fit.u_distortion_relative * fit.u_distortion_relative;
    localisation += fit.u_q_relative * fit.u_q_relative;
  }
  // What the solution states holds both; they part as the pictures' own figures do.
  const double both = distortion + localisation;
  const double share = both > 0 ? distortion / both : 0;
  budget.push_back({"localisation", u_solved * std::sqrt(1 - share), std::max(1.0, lines - 3), true,
                    fmt::format("{:.0f} marks", lines)});
  if (share > 0) {
    budget.push_back(
        {"distortion", u_solved * std::sqrt(share), kInfinite, false, "not told by the pictures"});
  }
  if (solution.birge > 1) {
    budget.push_back({"repeats", u_solved * std::sqrt(solution.birge * solution.birge - 1),
                      std::max(1.0, solution.freedom), true,
                      "scatter between pictures beyond their own uncertainty"});
  }
  const double off = spec.temperature_c ? std::abs(*spec.temperature_c - 20) : 0;
  const double spread = spec.temperature_c ? kThermometer_k : kTemperatureSpread_k;
  const double alpha = spec.artefact_expansion_per_k;
  budget.push_back(
      {"temperature", std::hypot(alpha * spread, kExpansionShare * alpha * off) / std::sqrt(3.0),
       kInfinite, false,
       spec.temperature_c
           ? fmt::format("artefact at {:.1f} C, corrected to 20 C", *spec.temperature_c)
           : std::string("temperature not noted: 20 C within 3 K")});
  return budget;
}

void FillEvidence(std::span<const TargetFit> fits, double pitch, CalibrationRecord& record) {
  record.image_width_px = fits[0].width_px;
  record.image_height_px = fits[0].height_px;
  record.evidence_image_sha256 = fits[0].image_sha256;
  for (const TargetFit& fit : fits)
    record.evidence_images.push_back({fit.image_file, fit.image_sha256});
  int marks = 0;
  double square = 0;
  for (const TargetFit& fit : fits) {
    marks += static_cast<int>(fit.marks.size());
    square += fit.residual_rms_px * fit.residual_rms_px * static_cast<double>(fit.marks.size());
  }
  record.evidence_lines = marks;
  record.evidence_residual_rms_um = pitch * std::sqrt(square / std::max(1, marks));
}

// Weighted mean of several values and its standard uncertainty, which the scatter between them may
// widen (Birge ratio).
struct Told {
  double value = 0, u = 0;
};
std::optional<Told> MeanOf(const std::vector<Told>& told) {
  if (told.empty()) return std::nullopt;
  double weight = 0, sum = 0, chi2 = 0;
  for (const Told& t : told) {
    weight += 1 / (t.u * t.u);
    sum += t.value / (t.u * t.u);
  }
  const double mean = sum / weight;
  for (const Told& t : told) chi2 += std::pow((t.value - mean) / t.u, 2);
  const double freedom = std::max(1.0, static_cast<double>(told.size()) - 1);
  return Told{mean, std::max(1.0, std::sqrt(chi2 / freedom)) / std::sqrt(weight)};
}

// Camera gamma and blur. The model's doubt in gamma is common to all pictures: more of them do not
// take it away.
void FillLight(std::span<const TargetFit> fits, CalibrationRecord& record) {
  std::vector<Told> gammas, blurs;
  double least_u = kInfinite;
  for (const TargetFit& fit : fits) {
    if (fit.gamma && fit.u_gamma > 0) {
      gammas.push_back({*fit.gamma, fit.u_gamma});
      least_u = std::min(least_u, fit.u_gamma);
    }
    if (fit.blur_px && fit.u_blur_px > 0) blurs.push_back({*fit.blur_px, fit.u_blur_px});
  }
  if (const auto gamma = MeanOf(gammas)) {
    record.gamma = gamma->value;
    record.gamma_u = std::max(gamma->u, least_u);
  }
  if (const auto blur = MeanOf(blurs)) {
    record.blur_px = blur->value;
    record.blur_u_px = blur->u;
  }
}

// Demand of ASTM B487 on the scale that a microscope is calibrated with: its lines are to be where
// they should be within 0.2 um or 0.1 %, whichever is larger. Half of that interval's width stands
// against the certificate's expanded uncertainty (k = 2).
constexpr double kLineDemand_um = 0.2, kLineDemandShare = 1e-3;

// Weighted mean of what the pictures say of the radial distortion; 0 when none of them is clear.
void FillDistortion(std::span<const TargetFit> fits, CalibrationRecord& record) {
  double sum = 0, weight = 0;
  record.distortion_centre = {(fits[0].width_px - 1) / 2.0, (fits[0].height_px - 1) / 2.0};
  for (const TargetFit& fit : fits) {
    if (!fit.k1_per_px2 || !(fit.u_k1_per_px2 > 0)) continue;
    const double w = 1 / (fit.u_k1_per_px2 * fit.u_k1_per_px2);
    sum += w * *fit.k1_per_px2;
    weight += w;
    record.distortion_centre = fit.distortion_centre;
  }
  record.k1_per_px2 = weight > 0 ? sum / weight : 0;
  if (weight > 0) record.k1_u_per_px2 = 1 / std::sqrt(weight);
}

}  // namespace

std::string_view TargetKindName(TargetKind kind) {
  switch (kind) {
    case TargetKind::kLineScale:
      return "line scale";
    case TargetKind::kDotGrid:
      return "dot grid";
    case TargetKind::kCrossGrid:
      return "cross grid";
    case TargetKind::kCircle:
      return "circle";
    case TargetKind::kPin:
      return "pin";
  }
  return "line scale";
}

Result<TargetKind> ParseTargetKind(std::string_view name) {
  for (TargetKind kind : {TargetKind::kLineScale, TargetKind::kDotGrid, TargetKind::kCrossGrid,
                          TargetKind::kCircle, TargetKind::kPin}) {
    if (name == TargetKindName(kind)) return kind;
  }
  return Fail(Code::kUsage, fmt::format("target \"{}\": must be line scale, dot grid, cross grid, "
                                        "circle or pin",
                                        name));
}

Result<Calibration> CombineTargets(std::span<const TargetFit> fits, const TargetSpec& spec,
                                   const CombineOptions& options) {
  if (fits.empty()) return Fail(Code::kUsage, "no picture of a target: name at least one");
  for (const TargetFit& fit : fits) {
    if (fit.width_px != fits[0].width_px || fit.height_px != fits[0].height_px) {
      return Fail(
          Code::kUsage,
          fmt::format("{}: {} x {} px, but {} has {} x {}; take all pictures with one camera "
                      "and binning",
                      fit.image_file, fit.width_px, fit.height_px, fits[0].image_file,
                      fits[0].width_px, fits[0].height_px));
    }
  }
  const double expansion =
      1 + (spec.temperature_c ? spec.artefact_expansion_per_k * (*spec.temperature_c - 20) : 0);
  const Solution solution = Solve(fits, options, expansion);
  Calibration out;
  if (solution.birge > kContradiction &&
      solution.birge * solution.u.head<2>().minCoeff() > kContradictionLeast) {
    return Fail(Code::kCalibrationInvalid,
                fmt::format("the pictures contradict one another ({:.1f} times their uncertainty): "
                            "another objective, zoom or division among them? calibrate each apart",
                            solution.birge));
  }
  FillDistortion(fits, out.record);
  FillLight(fits, out.record);
  if (!out.record.gamma) out.untold.push_back("the camera's gamma: give an exposure pair");
  const double factor = std::max(1.0, solution.birge);
  const double mean_pitch = std::exp((solution.x(0) + solution.x(1)) / 2);
  const auto fill = [&](int axis, std::optional<double>& pitch, std::optional<double>& u,
                        std::vector<CalibrationBudgetLine>& budget, double& k) {
    if (solution.u(axis) * factor > kTold) {
      out.untold.push_back(
          fmt::format("the pitch along {}: no picture shows lines across it; add one "
                      "with the scale turned",
                      axis == 0 ? "x" : "y"));
      return;
    }
    const double value = std::exp(solution.x(axis));
    budget = BudgetOf(fits, spec, value, solution.u(axis), solution);
    pitch = value;
    u = value * Total(budget);
    k = CoverageFactor(budget);
  };
  fill(0, out.record.pitch_x_um, out.record.pitch_u_x_um, out.budget_x, out.coverage_factor_x);
  fill(1, out.record.pitch_y_um, out.record.pitch_u_y_um, out.budget_y, out.coverage_factor_y);
  if (solution.u(2) < 0.5 * kShearPrior && std::abs(solution.x(2)) > 2 * solution.u(2)) {
    out.record.shear = solution.x(2);
  } else {
    out.untold.push_back("the shear: not told apart from zero");
  }
  if (out.record.k1_per_px2 == 0) out.untold.push_back("distortion: not told apart from zero");
  FillEvidence(fits, out.record.pitch_x_um.value_or(out.record.pitch_y_um.value_or(mean_pitch)),
               out.record);
  const double pitch = out.record.pitch_x_um.value_or(out.record.pitch_y_um.value_or(0));
  if (spec.nominal_pitch_um && pitch > 0 &&
      std::abs(pitch / *spec.nominal_pitch_um - 1) > kWrongDivision) {
    out.warnings.push_back(fmt::format(
        "the pitch comes out as {:.4g} um, the objective's nominal one is {:.4g} um: is the stated "
        "division right? The picture cannot tell",
        pitch, *spec.nominal_pitch_um));
  }
  const double used = UsedLength(fits, mean_pitch);
  if (spec.certificate_u_um &&
      2 * *spec.certificate_u_um > std::max(kLineDemand_um, kLineDemandShare * used)) {
    out.warnings.push_back(fmt::format(
        "the certificate states U = {:.2g} um on {:.4g} um: ASTM B487 asks 0.2 um or 0.1 % of a "
        "scale, whichever is larger; coating thickness to that standard needs a better artefact",
        2 * *spec.certificate_u_um, used));
  }
  if (!spec.certificate_u_um) {
    out.warnings.push_back("no certificate uncertainty was given: the budget lacks it");
  }
  for (const TargetFit& fit : fits) {
    for (const std::string& remark : fit.remarks) {
      out.warnings.push_back(fit.image_file + ": " + remark);
    }
  }
  return out;
}

}  // namespace cutface
