#include "cli/calibrated.h"

#include <fmt/format.h>

#include <filesystem>
#include <system_error>

namespace cutface {
namespace {

namespace fs = std::filesystem;

Result<Bench> BenchOf(CalibrationRecord record, std::string path) {
  auto scale = Scale::FromRecord(record);
  if (!scale) return tl::unexpected(scale.error());
  return Bench{std::move(record), *scale, std::move(path), {}};
}

}  // namespace

Result<Benches> Benches::Open(const Call& call) {
  Benches benches;
  std::error_code ignored;
  if (fs::is_directory(call.calibration, ignored)) {
    auto folder = ReadRecordFolder(call.calibration);
    if (!folder) return tl::unexpected(folder.error());
    benches.folder_ = std::move(*folder);
    benches.wish_ = {call.bench, call.objective, "", 0, 0};
    return benches;
  }
  if (!call.bench.empty()) {
    return Fail(Code::kUsage,
                fmt::format("--bench chooses in a folder, {} is none; leave it out or "
                            "name the folder",
                            call.calibration));
  }
  auto record = ReadCalibration(call.calibration);
  if (!record) return tl::unexpected(record.error());
  if (!call.objective.empty() && call.objective != record->objective) {
    return Fail(
        Code::kCalibrationMismatch,
        fmt::format("calibration {}: is of objective \"{}\", the call says \"{}\"; take the "
                    "record of that objective",
                    record->id, record->objective, call.objective));
  }
  auto bench = BenchOf(std::move(*record), call.calibration);
  if (!bench) return tl::unexpected(bench.error());
  // A record that is named by its file is taken (an old picture needs the old one), not in silence.
  const fs::path parent = fs::path(call.calibration).parent_path();
  if (auto folder = ReadRecordFolder(parent.empty() ? "." : parent.string())) {
    const std::string heir = folder->SupersededBy(bench->record.id);
    if (!heir.empty()) {
      bench->warnings.push_back(
          fmt::format("calibration {}: is superseded by {}", bench->record.id, heir));
    }
  }
  benches.only_ = std::move(*bench);
  return benches;
}

Result<Bench> Benches::For(int width_px, int height_px) const {
  if (only_) return *only_;
  RecordWish wish = wish_;
  wish.width_px = width_px;
  wish.height_px = height_px;
  auto record = ChooseRecord(folder_, wish);
  if (!record) return tl::unexpected(record.error());
  const std::string path = (fs::path(folder_.path) / record->file_name).string();
  return BenchOf(std::move(*record), path);
}

Status CheckRequired(const Call& call, const Bench& bench, const std::string& taken) {
  if (!call.require_check_h) return {};
  const std::string path = CheckLogPath(bench.record_path);
  auto log = ReadCheckLog(path);
  if (!log && log.error().code == Code::kFileMissing) log = std::vector<BenchCheck>();
  if (!log) return tl::unexpected(log.error());
  auto check = RequireCheck(*log, bench.record, taken, *call.require_check_h);
  if (!check) return tl::unexpected(check.error());
  return {};
}

}  // namespace cutface
