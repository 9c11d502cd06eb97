#include "gui/state/bench_panel.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <filesystem>

#include "cutface/job.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;
constexpr double kSquarePixelsU = 0.001;  // relative; what sensor makers hold, common practice

std::optional<double> NumberOf(const std::string& text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value))
    return std::nullopt;
  return value;
}

Result<std::optional<double>> Maybe(const std::string& text, const char* what) {
  if (text.empty()) return std::optional<double>{};
  const auto value = NumberOf(text);
  if (!value || !(*value > 0))
    return Fail(Code::kUsage, fmt::format("{}: \"{}\" is no number of micrometres", what, text));
  return value;
}

Result<TargetSpec> SpecOf(const BenchForm& form) {
  TargetSpec spec;
  constexpr TargetKind kKinds[] = {TargetKind::kLineScale, TargetKind::kDotGrid,
                                   TargetKind::kCrossGrid};
  spec.kind = form.checks ? TargetKind::kLineScale : kKinds[form.kind];
  auto division = Maybe(form.division_um, "division");
  if (!division) return tl::unexpected(division.error());
  if (!*division) return Fail(Code::kUsage, "the division of the target is not given");
  spec.division_um = **division;
  auto u = Maybe(form.certificate_u_um, "the certificate's uncertainty");
  if (!u) return tl::unexpected(u.error());
  spec.certificate_u_um = *u;
  return spec;
}

// ISO dates compare as text.
Status CheckDue(const BenchForm& form, const std::string& used) {
  if (form.certificate_due.empty()) return {};
  if (!ParseClockTime(form.certificate_due + "T00:00"))
    return Fail(Code::kUsage, form.certificate_due + ": is no date like 2027-03-01");
  if (used.substr(0, 10) > form.certificate_due)
    return Fail(Code::kCalibrationOverdue,
                fmt::format("the artefact's certificate ran out on {}; have it certified again",
                            form.certificate_due));
  return {};
}

std::string MadeOf(const BenchForm& form) {
  return form.made.empty() ? NowUtc().substr(0, 10) : form.made;
}

Result<TargetFit> FitOf(const std::string& path, const TargetSpec& spec) {
  auto picture = ReadMicrograph(path);
  if (!picture) return tl::unexpected(picture.error());
  return spec.kind == TargetKind::kLineScale ? FindLineScale(*picture, spec)
                                             : FindGrid(*picture, spec);
}

void FillRecord(const BenchForm& form, const TargetSpec& spec, Calibration& calibration) {
  CalibrationRecord& record = calibration.record;
  record.id = form.id;
  record.objective = form.objective;
  record.microscope = form.microscope;
  record.made = MadeOf(form);
  record.due = form.due;
  record.by = form.by;
  record.supersedes = form.supersedes;
  record.artefact_kind = spec.kind == TargetKind::kLineScale ? "stage micrometer" : "dot grid";
  record.artefact_serial = form.serial;
  record.artefact_certificate = form.certificate;
  record.artefact_certificate_due = form.certificate_due;
  record.artefact_u_um = spec.certificate_u_um;
  record.artefact_division_um = spec.division_um;
  record.budget.clear();
  for (const auto& [axis, lines] :
       {std::pair("x", &calibration.budget_x), std::pair("y", &calibration.budget_y)})
    for (const CalibrationBudgetLine& line : *lines)
      record.budget.push_back({axis, line.source, line.u_relative});
}

Result<BenchOutcome> CheckStandard(const BenchForm& form, const TargetSpec& spec) {
  auto picture = ReadMicrograph(form.pictures.front());
  if (!picture) return tl::unexpected(picture.error());
  const std::string taken = form.taken.empty() ? picture->taken : form.taken;
  if (!ParseClockTime(taken))
    return Fail(
        Code::kUsage,
        fmt::format("{}: when it was taken is {}; a check counts for hours, so give it as "
                    "2026-03-02T09:15",
                    form.pictures.front(), taken.empty() ? "not known" : "known as a date only"));
  if (auto status = CheckDue(form, taken); !status) return tl::unexpected(status.error());
  auto benches = Benches::Open({form.record, "", ""});
  if (!benches) return tl::unexpected(benches.error());
  auto bench = benches->For(picture->width(), picture->height());
  if (!bench) return tl::unexpected(bench.error());
  ScaleChecks checks;
  checks.taken = taken;
  std::vector<std::string> warnings;
  std::optional<std::pair<double, double>> embedded;
  if (picture->embedded) embedded = {picture->embedded->pitch_x_um, picture->embedded->pitch_y_um};
  if (auto status = CheckCalibration(bench->record, picture->width(), picture->height(), embedded,
                                     checks, warnings);
      !status)
    return tl::unexpected(status.error());
  auto fit = FindLineScale(*picture, spec);
  if (!fit) return tl::unexpected(fit.error());
  auto check = MeasureStandard(*fit, spec, bench->record);
  if (!check) return tl::unexpected(check.error());
  check->time = NowUtc();
  check->taken = taken;
  check->by = form.by;
  check->serial = form.serial;
  check->certificate = form.certificate;
  auto limit = Maybe(form.limit_um, "limit");
  if (!limit) return tl::unexpected(limit.error());
  check->limit_um = *limit;
  DecideCheck(*check);
  BenchOutcome outcome;
  outcome.fits.push_back(std::move(*fit));
  outcome.check = std::move(*check);
  return outcome;
}

std::string PitchText(const std::optional<double>& pitch, const std::optional<double>& u,
                      double k) {
  if (!pitch) return "not told by these pictures";
  return fmt::format("{:.6g} um per px", *pitch) +
         (u ? fmt::format(", U = {:.2g} um (k = {:.2f})", k * *u, k) : "");
}

void Found(const Calibration& c, BenchPanel& panel) {
  const CalibrationRecord& r = c.record;
  panel.found.push_back(
      {"pitch across", PitchText(r.pitch_x_um, r.pitch_u_x_um, c.coverage_factor_x), ""});
  panel.found.push_back(
      {"pitch down", PitchText(r.pitch_y_um, r.pitch_u_y_um, c.coverage_factor_y), ""});
  if (r.shear_u) panel.found.push_back({"shear", fmt::format("{:.3g}", r.shear), ""});
  if (r.k1_per_px2 != 0)
    panel.found.push_back({"distortion k1", fmt::format("{:.4g} per px2", r.k1_per_px2), ""});
  if (r.gamma) panel.found.push_back({"gamma", fmt::format("{:.3g}", *r.gamma), ""});
  if (r.blur_px) panel.found.push_back({"blur", fmt::format("{:.3g} px", *r.blur_px), ""});
  for (const auto& [axis, lines] :
       {std::pair("across", &c.budget_x), std::pair("down", &c.budget_y)})
    for (const CalibrationBudgetLine& line : *lines)
      panel.budget.push_back({std::string(axis) + ", " + line.source,
                              fmt::format("{:.0f} ppm", 1e6 * line.u_relative), line.remark});
  panel.cautions = c.untold;
  panel.cautions.insert(panel.cautions.end(), c.warnings.begin(), c.warnings.end());
  if (!r.Certified())
    panel.cautions.push_back("no certificate: the record is uncertified and every report says so");
}

void Found(const BenchCheck& check, BenchPanel& panel) {
  const auto um = [](double value, double u) {
    return fmt::format("{:.3f} um, u = {:.2g} um", value, u);
  };
  panel.found = {{"certified", um(check.certified_um, check.certified_u_um), ""},
                 {"measured", um(check.measured_um, check.measured_u_um), ""},
                 {"error", fmt::format("{:+.3f} um", check.ErrorUm()), ""},
                 {"En", fmt::format("{:+.2f}", check.En()), "within 1 passes"}};
  if (check.limit_um) panel.found.push_back({"limit", fmt::format("{:g} um", *check.limit_um), ""});
  panel.failed = !check.passed;
  panel.verdict = check.passed ? "passed" : "not passed: " + check.reason;
}

std::string LookHindrance(const BenchForm& form) {
  if (form.division_um.empty()) return "Give the division of the target.";
  if (form.pictures.empty()) return "Name a picture of the target.";
  if (form.checks && form.record.empty()) return "Name the record that is checked.";
  return "";
}

std::string KeepHindrance(const BenchForm& form, const BenchOutcome* outcome) {
  if (outcome == nullptr) return "Look at the pictures first.";
  if (form.by.empty()) return "Give the name of who does it.";
  if (form.checks) return outcome->check ? "" : "Look at the picture first.";
  if (!outcome->calibration) return "Look at the pictures first.";
  if (form.id.empty()) return "Give the record an id.";
  if (form.id.find('/') != std::string::npos) return "An id has no \"/\".";
  if (form.due.empty()) return "Say when it is due again.";
  if (form.folder.empty()) return "Name the folder of the records.";
  return "";
}

}  // namespace

BenchPanel BuildBench(const BenchForm& form, const BenchOutcome* outcome) {
  BenchPanel panel;
  panel.hindrance = LookHindrance(form);
  panel.keep_hindrance = KeepHindrance(form, outcome);
  panel.keep_as = form.checks ? (form.record.empty() ? "" : CheckLogPath(form.record))
                              : (fs::path(form.folder) / (form.id + ".calibration.json")).string();
  if (outcome == nullptr) return panel;
  if (outcome->calibration) Found(*outcome->calibration, panel);
  if (outcome->check) Found(*outcome->check, panel);
  for (const TargetFit& fit : outcome->fits) {
    panel.pictures.push_back({fs::path(fit.image_file).filename().string(),
                              fmt::format("{} of {} marks", fit.lines_seen, fit.lines_expected),
                              fmt::format("scatter {:.3f} px", fit.residual_rms_px)});
    panel.cautions.insert(panel.cautions.end(), fit.remarks.begin(), fit.remarks.end());
  }
  return panel;
}

Result<BenchOutcome> LookAtTargets(const BenchForm& form, const Progress& progress) {
  auto spec = SpecOf(form);
  if (!spec) return tl::unexpected(spec.error());
  if (form.pictures.empty()) return Fail(Code::kUsage, "no picture of the target is named");
  if (form.checks) return CheckStandard(form, *spec);
  if (auto status = CheckDue(form, MadeOf(form)); !status) return tl::unexpected(status.error());
  BenchOutcome outcome;
  for (std::size_t i = 0; i < form.pictures.size(); ++i) {
    const double share = static_cast<double>(i) / static_cast<double>(form.pictures.size());
    if (progress && !progress(share, form.pictures[i]))
      return Fail(Code::kCancelled, "stopped by request");
    auto fit = FitOf(form.pictures[i], *spec);
    if (!fit) return tl::unexpected(fit.error());
    outcome.fits.push_back(std::move(*fit));
  }
  CombineOptions options;
  if (form.square_pixels) options.square_pixels_u = kSquarePixelsU;
  auto calibration = CombineTargets(outcome.fits, *spec, options);
  if (!calibration) return tl::unexpected(calibration.error());
  FillRecord(form, *spec, *calibration);
  outcome.calibration = std::move(*calibration);
  return outcome;
}

Result<std::string> KeepBench(const BenchForm& form, const BenchOutcome& outcome) {
  if (const std::string why = KeepHindrance(form, &outcome); !why.empty())
    return Fail(Code::kUsage, why);
  if (form.checks) {
    BenchCheck check = *outcome.check;
    check.by = form.by;
    const std::string log = CheckLogPath(form.record);
    if (auto status = AppendCheck(log, check); !status) return tl::unexpected(status.error());
    return log;
  }
  Calibration calibration = *outcome.calibration;
  auto spec = SpecOf(form);
  if (!spec) return tl::unexpected(spec.error());
  FillRecord(form, *spec, calibration);  // names may have been typed after looking
  if (auto status = MakeFolder(form.folder); !status) return tl::unexpected(status.error());
  const std::string path = (fs::path(form.folder) / (form.id + ".calibration.json")).string();
  if (auto status = KeepRecord(path, calibration.record); !status)
    return tl::unexpected(status.error());
  return path;
}

}  // namespace cutface::window
