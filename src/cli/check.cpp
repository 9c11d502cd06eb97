// cutface check: does the bench still hold its record?
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <ostream>
#include <system_error>

#include "cli/calibrated.h"
#include "cli/exits.h"
#include "cli/target.h"
#include "cli/text.h"
#include "cutface/record.h"
#include "cutface/targets.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

struct Outcome {
  BenchCheck check;
  std::string log_path;
  std::vector<std::string> written;
  std::string last_good;              // of a failed check
  std::vector<std::string> in_doubt;  // result files
  std::vector<std::string> warnings;
};

// The result files of a folder that were made with the record and not surely before the last good
// check. A file that cannot be read is told, not passed over.
void FindInDoubt(const Call& call, Outcome& outcome) {
  std::error_code error;
  const auto good = ParseClockTime(outcome.last_good);
  std::vector<std::string> paths;
  for (fs::recursive_directory_iterator it(call.check.results, error), end; !error && it != end;
       it.increment(error)) {
    if (it->path().string().ends_with(".result.json")) paths.push_back(it->path().string());
  }
  if (error) {
    outcome.warnings.push_back(
        fmt::format("{}: cannot be searched for results: {}", call.check.results, error.message()));
  }
  std::sort(paths.begin(), paths.end());
  for (const std::string& path : paths) {
    auto result = ReadResult(path);
    if (!result) {
      outcome.warnings.push_back(result.error().message + "; whether it is in doubt is not known");
      continue;
    }
    if (result->calibration_id != outcome.check.calibration_id) continue;
    const auto taken = ParseClockTime(result->sample.taken);
    const bool surely_before =
        good && taken && good->utc == taken->utc && taken->seconds <= good->seconds;
    if (surely_before) continue;
    const std::string when =
        taken ? result->sample.taken : "time of the picture not known to the minute";
    outcome.in_doubt.push_back(
        fmt::format("{} ({}, {})", path, when, VerdictName(result->verdict)));
  }
}

Result<Outcome> Check(const Call& call) {
  auto spec = SpecOf(call);
  if (!spec) return tl::unexpected(spec.error());
  auto benches = Benches::Open(WishOf(call));
  if (!benches) return tl::unexpected(benches.error());
  ReadOptions reading;
  reading.channel = call.channel;
  auto picture = ReadMicrograph(call.images.front(), reading);
  if (!picture) return tl::unexpected(picture.error());
  auto bench = benches->For(picture->width(), picture->height());
  if (!bench) return tl::unexpected(bench.error());
  const std::string taken = call.sample.taken.empty() ? picture->taken : call.sample.taken;
  if (!ParseClockTime(taken)) {
    return Fail(
        Code::kUsage,
        fmt::format("{}: when it was taken is {}; a check counts for hours, so give --taken "
                    "2026-03-02T09:15:00",
                    call.images.front(), taken.empty() ? "not known" : "known as a date only"));
  }
  if (auto status = CheckCertificate(call, taken); !status) return tl::unexpected(status.error());
  Outcome outcome;
  ScaleChecks checks;
  checks.taken = taken;
  std::optional<std::pair<double, double>> embedded;
  if (picture->embedded) embedded = {picture->embedded->pitch_x_um, picture->embedded->pitch_y_um};
  if (auto status = CheckCalibration(bench->record, picture->width(), picture->height(), embedded,
                                     checks, outcome.warnings);
      !status) {
    return tl::unexpected(status.error());
  }
  const bool round = IsRound(spec->kind);
  auto check = [&]() -> Result<BenchCheck> {
    if (round) return MeasureRound(*picture, *spec, *bench, call.channel);
    auto fit = FindTarget(*picture, *spec);
    if (!fit) return tl::unexpected(fit.error());
    return MeasureStandard(*fit, *spec, bench->record);
  }();
  if (!check) return tl::unexpected(check.error());
  check->time = NowUtc();
  check->taken = taken;
  check->by = call.check.by;
  check->serial = call.target.serial;
  check->certificate = call.target.certificate;
  check->limit_um = call.check.limit_um;
  DecideCheck(*check);
  if (!call.target.u_um)
    outcome.warnings.push_back("no certificate uncertainty was given (--u): it counts as zero");
  if (call.target.certificate.empty())
    outcome.warnings.push_back("no --certificate was given: the check is uncertified");
  outcome.check = *check;
  outcome.log_path = CheckLogPath(bench->record_path);
  if (auto status = AppendCheck(outcome.log_path, *check); !status)
    return tl::unexpected(status.error());
  auto log = ReadCheckLog(outcome.log_path);
  if (!log) return tl::unexpected(log.error());
  if (!check->passed) {
    outcome.last_good = LastGoodBefore(*log, *check);
    if (!call.check.results.empty()) FindInDoubt(call, outcome);
  }
  auto plots = DrawDrift(*log, bench->record.id, outcome.log_path);
  if (!plots) return tl::unexpected(plots.error());
  outcome.written = {outcome.log_path};
  outcome.written.insert(outcome.written.end(), plots->begin(), plots->end());
  return outcome;
}

void PrintTable(const Call& call, const Terminal& terminal, const Outcome& outcome) {
  const BenchCheck& check = outcome.check;
  auto& out = terminal.out;
  out << Escaped(check.calibration_id) << (check.passed ? ": holds" : ": does not hold")
      << (check.passed ? "" : ", " + check.reason) << "\n\n";
  std::vector<std::vector<std::string>> rows = {
      {"standard", fmt::format("{} {}", check.standard_kind, Escaped(check.serial))},
      {"certified",
       fmt::format("{:.4f} um, u = {:.3g} um", check.certified_um, check.certified_u_um)},
      {"measured", fmt::format("{:.4f} um, u = {:.3g} um", check.measured_um, check.measured_u_um)},
      {"error", fmt::format("{:+.4f} um ({:+.4f} %)", check.ErrorUm(),
                            100 * check.ErrorUm() / check.certified_um)},
      {"En", fmt::format("{:+.2f}", check.En())}};
  if (check.limit_um) rows.push_back({"limit", fmt::format("{:.4g} um", *check.limit_um)});
  out << Columns(rows);
  if (!check.passed) {
    out << "\nLast good check: " << (outcome.last_good.empty() ? "none" : outcome.last_good)
        << "\n";
    if (call.check.results.empty()) {
      out << "Results since then are in doubt; list them with --results DIR\n";
    } else {
      out << fmt::format("Results in doubt: {}\n", outcome.in_doubt.size());
      for (const std::string& path : outcome.in_doubt) out << "  " << Escaped(path) << "\n";
    }
  }
  out << "\nwritten:";
  for (const std::string& path : outcome.written) out << " " << Escaped(path);
  out << "\n" << std::flush;
}

void PrintJson(const Terminal& terminal, const Outcome& outcome) {
  using Json = nlohmann::ordered_json;
  const BenchCheck& check = outcome.check;
  Json json;
  json["calibration"] = check.calibration_id;
  json["verdict"] = check.passed ? "holds" : "does not hold";
  json["reason"] = check.reason;
  json["certified_um"] = check.certified_um;
  json["measured_um"] = check.measured_um;
  json["u_um"] = std::hypot(check.measured_u_um, check.certified_u_um);
  json["error_um"] = check.ErrorUm();
  json["en"] = check.En();
  json["limit_um"] = check.limit_um ? Json(*check.limit_um) : Json(nullptr);
  json["last_good"] = outcome.last_good;
  json["in_doubt"] = outcome.in_doubt;
  json["warnings"] = outcome.warnings;
  terminal.out << json.dump(-1, ' ', false, Json::error_handler_t::replace) << "\n" << std::flush;
}

}  // namespace

int RunCheck(const Call& call, const Terminal& terminal) {
  auto outcome = Check(call);
  if (!outcome) {
    PrintError(terminal, outcome.error());
    return ExitOf(outcome.error().code);
  }
  for (const std::string& warning : outcome->warnings) PrintWarning(terminal, warning);
  if (call.json)
    PrintJson(terminal, *outcome);
  else
    PrintTable(call, terminal, *outcome);
  return outcome->check.passed ? kExitFine : kExitNotAllConform;
}

}  // namespace cutface
