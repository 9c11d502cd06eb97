// What the bench does: targets looked at, records and checks kept.
#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <filesystem>
#include <iterator>

#include "gui/state/bench_panel.h"

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
  spec.kind = form.kind;
  const bool round = IsRound(form.kind);
  auto size = Maybe(round ? form.diameter_um : form.division_um, round ? "diameter" : "division");
  if (!size) return tl::unexpected(size.error());
  if (!*size)
    return Fail(Code::kUsage, fmt::format("the {} of the target is not given",
                                          round ? "certified diameter" : "division"));
  (round ? spec.diameter_um : spec.division_um) = **size;
  auto u = Maybe(form.certificate_u_um, "the certificate's uncertainty");
  if (!u) return tl::unexpected(u.error());
  spec.certificate_u_um = *u;
  if (!form.temperature_c.empty()) {
    spec.temperature_c = NumberOf(form.temperature_c);
    if (!spec.temperature_c)
      return Fail(Code::kUsage, "temperature: \"" + form.temperature_c + "\" is no number");
  }
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

void FillRecord(const BenchForm& form, const TargetSpec& spec, Calibration& calibration) {
  CalibrationRecord& record = calibration.record;
  record.id = form.id;
  record.objective = form.objective;
  record.microscope = form.microscope;
  record.zoom_stop = form.zoom_stop;
  record.binning = form.binning;
  record.made = MadeOf(form);
  record.due = form.due;
  record.by = form.by;
  record.supersedes = form.supersedes;
  record.artefact_kind = spec.kind == TargetKind::kLineScale ? "stage micrometer"
                         : IsRound(spec.kind)                ? "check standard"
                                                             : "dot grid";
  record.artefact_serial = form.serial;
  record.artefact_certificate = form.certificate;
  record.artefact_certificate_due = form.certificate_due;
  record.artefact_u_um = spec.certificate_u_um;
  if (spec.division_um > 0) record.artefact_division_um = spec.division_um;
  record.artefact_temperature_c = spec.temperature_c;
  record.budget.clear();
  for (const auto& [axis, lines] :
       {std::pair("x", &calibration.budget_x), std::pair("y", &calibration.budget_y)})
    for (const CalibrationBudgetLine& line : *lines)
      record.budget.push_back({axis, line.source, line.u_relative});
}

std::string BaseOf(const BenchForm& form) { return (fs::path(form.folder) / form.id).string(); }

Status TakeLight(const BenchForm& form, CalibrationRecord& record,
                 std::vector<std::string>& warnings, std::vector<RecordFile>& beside) {
  if (!form.exposure_first.empty() || !form.exposure_second.empty()) {
    if (form.exposure_first.empty() || form.exposure_second.empty())
      return Fail(Code::kUsage, "an exposure pair is two pictures; name both");
    const auto ratio = NumberOf(form.exposure_ratio);
    if (!ratio)
      return Fail(Code::kUsage, "exposure: \"" + form.exposure_ratio +
                                    "\" is no number like 2 for twice as long");
    const ExposurePair pair{form.exposure_first, form.exposure_second, *ratio};
    if (auto status = TakeExposurePair(pair, Channel::kGreen, record, warnings); !status)
      return status;
  }
  if (form.blank.empty()) return {};
  auto blank = TakeBlank(form.blank, BaseOf(form), Channel::kGreen, record);
  if (!blank) return tl::unexpected(blank.error());
  beside.push_back(std::move(*blank));
  return {};
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
  BenchOutcome outcome;
  auto check = [&]() -> Result<BenchCheck> {
    if (IsRound(spec.kind)) return MeasureRound(*picture, spec, *bench);
    auto fit = FindTarget(*picture, spec);
    if (!fit) return tl::unexpected(fit.error());
    outcome.fits.push_back(*fit);
    return MeasureStandard(*fit, spec, bench->record);
  }();
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
  outcome.check = std::move(*check);
  return outcome;
}

Result<std::string> KeepCheck(const BenchForm& form, BenchCheck check) {
  check.by = form.by;
  const std::string log_path = CheckLogPath(form.record);
  if (auto status = AppendCheck(log_path, check); !status) return tl::unexpected(status.error());
  auto log = ReadCheckLog(log_path);
  if (!log) return tl::unexpected(log.error());
  if (auto drawn = DrawDrift(*log, check.calibration_id, log_path); !drawn)
    return tl::unexpected(drawn.error());
  return log_path;
}

}  // namespace

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
    auto picture = ReadMicrograph(form.pictures[i]);
    if (!picture) return tl::unexpected(picture.error());
    auto fit = FindTarget(*picture, *spec);
    if (!fit) return tl::unexpected(fit.error());
    outcome.fits.push_back(std::move(*fit));
  }
  CombineOptions options;
  if (form.square_pixels) options.square_pixels_u = kSquarePixelsU;
  auto calibration = CombineTargets(outcome.fits, *spec, options);
  if (!calibration) return tl::unexpected(calibration.error());
  FillRecord(form, *spec, *calibration);
  // Said now, not when it is kept: a blank that tells nothing is taken again at the bench.
  std::vector<RecordFile> beside;
  if (auto status = TakeLight(form, calibration->record, calibration->warnings, beside); !status)
    return tl::unexpected(status.error());
  outcome.calibration = std::move(*calibration);
  return outcome;
}

Result<std::string> KeepBench(const BenchForm& form, const BenchOutcome& outcome) {
  if (const std::string why = KeepHindrance(form, &outcome); !why.empty())
    return Fail(Code::kUsage, why);
  if (form.checks) return KeepCheck(form, *outcome.check);
  Calibration calibration = *outcome.calibration;
  auto spec = SpecOf(form);
  if (!spec) return tl::unexpected(spec.error());
  FillRecord(form, *spec, calibration);  // names may have been typed after looking
  const std::string base = BaseOf(form);
  std::vector<RecordFile> beside;
  for (std::size_t i = 0; form.copy_evidence && i < form.pictures.size(); ++i) {
    auto bytes = ReadFile(form.pictures[i]);
    if (!bytes) return tl::unexpected(bytes.error());
    beside.push_back({fmt::format("{}.evidence-{}{}", base, i + 1,
                                  fs::path(form.pictures[i]).extension().string()),
                      std::move(*bytes)});
  }
  if (!form.blank.empty()) {
    auto blank = TakeBlank(form.blank, base, Channel::kGreen, calibration.record);
    if (!blank) return tl::unexpected(blank.error());
    beside.push_back(std::move(*blank));
  }
  auto plots = ResidualPlots(outcome.fits, calibration.record, base);
  if (!plots) return tl::unexpected(plots.error());
  std::move(plots->begin(), plots->end(), std::back_inserter(beside));
  if (auto status = MakeFolder(form.folder); !status) return tl::unexpected(status.error());
  const std::string path = base + ".calibration.json";
  if (auto status = KeepWithFiles(beside, path, calibration.record); !status)
    return tl::unexpected(status.error());
  return path;
}

}  // namespace cutface::window
