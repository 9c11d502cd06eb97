// cutface calibrate: pictures of a target to a kept record with its evidence.
#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <iterator>
#include <nlohmann/json.hpp>
#include <ostream>
#include <system_error>

#include "cli/calibrated.h"
#include "cli/exits.h"
#include "cli/target.h"
#include "cli/text.h"
#include "cutface/targets.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
constexpr std::string_view kEnding = ".calibration.json";

// DIR/NAME of DIR/NAME.calibration.json.
Result<std::string> BaseOf(const Call& call) {
  std::error_code ignored;
  if (fs::is_directory(call.out, ignored)) {
    const std::string& id = call.calibrate.id;
    if (id.empty() || id.find('/') != std::string::npos) {
      return Fail(Code::kUsage,
                  fmt::format("{}: is a folder; give the record an --id without \"/\", "
                              "or name NAME{}",
                              call.out, kEnding));
    }
    return (fs::path(call.out) / id).string();
  }
  if (call.out.size() <= kEnding.size() || !call.out.ends_with(kEnding)) {
    return Fail(Code::kUsage,
                fmt::format("{}: is no folder; name the record NAME{}", call.out, kEnding));
  }
  return call.out.substr(0, call.out.size() - kEnding.size());
}

std::string MadeOn(const Call& call) {
  return call.calibrate.made.empty() ? NowUtc().substr(0, 10) : call.calibrate.made;
}

void FillRecord(const Call& call, const std::string& base, Calibration& calibration) {
  const CalibrateCall& options = call.calibrate;
  CalibrationRecord& record = calibration.record;
  record.id = options.id.empty() ? fs::path(base).filename().string() : options.id;
  record.objective = options.objective;
  record.microscope = options.microscope;
  record.zoom_stop = options.zoom_stop;
  record.binning = options.binning;
  record.made = MadeOn(call);
  record.due = options.due;
  record.by = options.by;
  record.supersedes = options.supersedes;
  record.artefact_kind = call.target.artefact;
  record.artefact_serial = call.target.serial;
  record.artefact_certificate = call.target.certificate;
  record.artefact_certificate_due = call.target.certificate_due;
  record.artefact_u_um = call.target.u_um;
  if (call.target.division_um > 0) record.artefact_division_um = call.target.division_um;
  record.artefact_temperature_c = call.target.temperature_c;
  record.budget.clear();
  for (const auto& [axis, lines] :
       {std::pair("x", &calibration.budget_x), std::pair("y", &calibration.budget_y)}) {
    for (const CalibrationBudgetLine& line : *lines)
      record.budget.push_back({axis, line.source, line.u_relative});
  }
}

std::string Pitch(const std::optional<double>& pitch, const std::optional<double>& u, double k) {
  if (!pitch) return "not told";
  return fmt::format("{:.6g} um per px, U = {:.2g} um ({:.3g} %, k = {:.2f})", *pitch,
                     k * u.value_or(0), 100 * k * u.value_or(0) / *pitch, k);
}

void PrintTable(const Terminal& terminal, const Calibration& calibration,
                std::span<const TargetFit> fits, const std::vector<RecordFile>& drafts,
                const std::string& path) {
  const CalibrationRecord& record = calibration.record;
  auto& out = terminal.out;
  out << Escaped(record.id) << (record.Certified() ? "" : ": uncertified") << "\n\n";
  std::vector<std::vector<std::string>> rows = {
      {"pitch in x", Pitch(record.pitch_x_um, record.pitch_u_x_um, calibration.coverage_factor_x)},
      {"pitch in y", Pitch(record.pitch_y_um, record.pitch_u_y_um, calibration.coverage_factor_y)}};
  if (record.shear != 0 || record.shear_u)
    rows.push_back(
        {"shear", fmt::format("{:.3g} (u {:.2g})", record.shear, record.shear_u.value_or(0))});
  if (record.k1_per_px2 != 0)
    rows.push_back({"distortion k1", fmt::format("{:.4g} per px2", record.k1_per_px2)});
  if (record.gamma)
    rows.push_back(
        {"gamma", fmt::format("{:.3g} (u {:.2g})", *record.gamma, record.gamma_u.value_or(0))});
  if (record.blur_px)
    rows.push_back({"blur", fmt::format("{:.3g} px (u {:.2g})", *record.blur_px,
                                        record.blur_u_px.value_or(0))});
  out << Columns(rows) << "\nUncertainty (JCGM 100), relative to the pitch, in parts per million\n";
  rows = {{"axis", "source", "u", "freedom", "type", ""}};
  for (const auto& [axis, lines] :
       {std::pair("x", &calibration.budget_x), std::pair("y", &calibration.budget_y)}) {
    double square = 0;
    for (const CalibrationBudgetLine& line : *lines) {
      square += line.u_relative * line.u_relative;
      rows.push_back({axis, line.source, fmt::format("{:.1f}", 1e6 * line.u_relative),
                      std::isfinite(line.degrees_of_freedom)
                          ? fmt::format("{:.0f}", line.degrees_of_freedom)
                          : "inf",
                      line.type_a ? "A" : "B", line.remark});
    }
    if (!lines->empty())
      rows.push_back({axis, "combined", fmt::format("{:.1f}", 1e6 * std::sqrt(square))});
  }
  out << Columns(rows) << "\nPictures\n";
  rows = {{"file", "lines or dots", "scatter"}};
  for (const TargetFit& fit : fits) {
    rows.push_back({Escaped(fit.image_file),
                    fmt::format("{} of {}", fit.lines_seen, fit.lines_expected),
                    fmt::format("{:.3f} px", fit.residual_rms_px)});
  }
  out << Columns(rows);
  if (!calibration.untold.empty()) out << "\nNot told by these pictures\n";
  for (const std::string& text : calibration.untold) out << "  " << Escaped(text) << "\n";
  out << "\nwritten: " << Escaped(path);
  for (const RecordFile& draft : drafts) out << ", " << Escaped(draft.path);
  out << "\n" << std::flush;
}

void PrintJson(const Terminal& terminal, const Calibration& calibration, const std::string& path) {
  using Json = nlohmann::ordered_json;
  Json json;
  json["file"] = path;
  json["record"] = Json::parse(CalibrationToJson(calibration.record));
  json["coverage_factor"] = {calibration.coverage_factor_x, calibration.coverage_factor_y};
  json["untold"] = calibration.untold;
  json["warnings"] = calibration.warnings;
  terminal.out << json.dump(-1, ' ', false, Json::error_handler_t::replace) << "\n" << std::flush;
}

Result<Calibration> Calibrated(const Call& call, const std::string& base,
                               std::vector<TargetFit>& fits, std::vector<RecordFile>& drafts) {
  auto spec = SpecOf(call);
  if (!spec) return tl::unexpected(spec.error());
  if (auto status = CheckCertificate(call, MadeOn(call)); !status)
    return tl::unexpected(status.error());
  for (std::size_t no = 0; no < call.images.size(); ++no) {
    ReadOptions reading;
    reading.channel = call.channel;
    auto picture = ReadMicrograph(call.images[no], reading);
    if (!picture) return tl::unexpected(picture.error());
    auto fit = FindTarget(*picture, *spec);
    if (!fit) return tl::unexpected(fit.error());
    fits.push_back(std::move(*fit));
    if (call.calibrate.copy_evidence) {
      auto bytes = ReadFile(call.images[no]);
      if (!bytes) return tl::unexpected(bytes.error());
      drafts.push_back({fmt::format("{}.evidence-{}{}", base, no + 1,
                                    fs::path(call.images[no]).extension().string()),
                        std::move(*bytes)});
    }
  }
  CombineOptions options;
  options.square_pixels_u = call.calibrate.square_pixels_u;
  auto calibration = CombineTargets(fits, *spec, options);
  if (!calibration) return tl::unexpected(calibration.error());
  FillRecord(call, base, *calibration);
  CalibrationRecord& record = calibration->record;
  if (const auto& pair = call.calibrate.exposure_pair; !pair.empty()) {
    const ExposurePair exposures{pair[0], pair[1], call.calibrate.exposure_ratio};
    if (auto status = TakeExposurePair(exposures, call.channel, record, calibration->warnings);
        !status)
      return tl::unexpected(status.error());
  }
  if (!call.calibrate.blank.empty()) {
    auto blank = TakeBlank(call.calibrate.blank, base, call.channel, record);
    if (!blank) return tl::unexpected(blank.error());
    drafts.push_back(std::move(*blank));
  }
  auto plots = ResidualPlots(fits, record, base);
  if (!plots) return tl::unexpected(plots.error());
  std::move(plots->begin(), plots->end(), std::back_inserter(drafts));
  return calibration;
}

}  // namespace

int RunCalibrate(const Call& call, const Terminal& terminal) {
  const auto failed = [&](const Error& error) {
    PrintError(terminal, error);
    return ExitOf(error.code);
  };
  auto base = BaseOf(call);
  if (!base) return failed(base.error());
  const std::string path = *base + std::string(kEnding);
  std::vector<TargetFit> fits;
  std::vector<RecordFile> drafts;
  auto calibration = Calibrated(call, *base, fits, drafts);
  if (!calibration) return failed(calibration.error());
  if (auto status = KeepWithFiles(drafts, path, calibration->record); !status)
    return failed(status.error());
  for (const std::string& warning : calibration->warnings) PrintWarning(terminal, warning);
  if (!calibration->record.Certified()) {
    PrintWarning(terminal,
                 fmt::format("{}: no certificate was given: the record is uncertified and "
                             "every report says so",
                             calibration->record.id));
  }
  if (call.json)
    PrintJson(terminal, *calibration, path);
  else
    PrintTable(terminal, *calibration, fits, drafts, path);
  return kExitFine;
}

}  // namespace cutface
