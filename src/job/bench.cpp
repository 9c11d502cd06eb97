// The bench of a picture: its record out of a file or a folder, its checks.

#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <system_error>

#include "cutface/job.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

Result<Bench> BenchOf(CalibrationRecord record, std::string path) {
  auto scale = Scale::FromRecord(record);
  if (!scale) return tl::unexpected(scale.error());
  return Bench{std::move(record), *scale, std::move(path), {}};
}

}  // namespace

Result<Benches> Benches::Open(const BenchWish& wish) {
  Benches benches;
  std::error_code ignored;
  if (fs::is_directory(wish.calibration, ignored)) {
    auto folder = ReadRecordFolder(wish.calibration);
    if (!folder) return tl::unexpected(folder.error());
    benches.folder_ = std::move(*folder);
    benches.wish_ = {wish.bench, wish.objective, "", 0, 0};
    return benches;
  }
  if (!wish.bench.empty()) {
    return Fail(Code::kUsage,
                fmt::format("--bench chooses in a folder, {} is none; leave it out or "
                            "name the folder",
                            wish.calibration));
  }
  auto record = ReadCalibration(wish.calibration);
  if (!record) return tl::unexpected(record.error());
  if (!wish.objective.empty() && wish.objective != record->objective) {
    return Fail(
        Code::kCalibrationMismatch,
        fmt::format("calibration {}: is of objective \"{}\", the call says \"{}\"; take the "
                    "record of that objective",
                    record->id, record->objective, wish.objective));
  }
  auto bench = BenchOf(std::move(*record), wish.calibration);
  if (!bench) return tl::unexpected(bench.error());
  // A record that is named by its file is taken (an old picture needs the old one), not in silence.
  const fs::path parent = fs::path(wish.calibration).parent_path();
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

Result<Benches> Benches::Open(const BenchWish& wish, const std::vector<std::string>& paths) {
  if (paths.size() == 1) {
    BenchWish one = wish;
    one.calibration = paths.front();
    return Open(one);
  }
  Benches benches;
  benches.folder_.path = "--calibration";
  for (const std::string& path : paths) {
    std::error_code ignored;
    RecordFolder read;
    if (fs::is_directory(path, ignored)) {
      auto folder = ReadRecordFolder(path);
      if (!folder) return tl::unexpected(folder.error());
      read = std::move(*folder);
      for (CalibrationRecord& record : read.records)
        record.file_name = (fs::path(path) / record.file_name).string();
    } else {
      auto record = ReadCalibration(path);
      if (!record) return tl::unexpected(record.error());
      record->file_name = path;
      read.records.push_back(std::move(*record));
    }
    for (CalibrationRecord& record : read.records) {
      const auto [first, is_new] = benches.paths_.try_emplace(record.id, record.file_name);
      if (!is_new && first->second == record.file_name) continue;
      if (!is_new) {
        return Fail(Code::kCalibrationInvalid,
                    fmt::format("{} and {} both hold record \"{}\"; name one of them",
                                first->second, record.file_name, record.id));
      }
      benches.folder_.records.push_back(std::move(record));
    }
  }
  benches.wish_ = {wish.bench, wish.objective, "", 0, 0};
  return benches;
}

Result<Bench> Benches::For(int width_px, int height_px, const std::string& objective,
                           const std::string& id) const {
  if (only_) {
    const CalibrationRecord& record = only_->record;
    const bool other = !id.empty() && id != record.id;
    if (other || (!objective.empty() && objective != record.objective)) {
      return Fail(Code::kCalibrationMismatch,
                  fmt::format("calibration {} is of objective \"{}\", the picture is said to need "
                              "{} \"{}\"; name that record too",
                              record.id, record.objective, other ? "record" : "objective",
                              other ? id : objective));
    }
    return *only_;
  }
  RecordWish wish = wish_;
  wish.width_px = width_px;
  wish.height_px = height_px;
  if (!objective.empty()) wish.objective = objective;
  if (!id.empty()) wish.id = id;
  auto record = ChooseRecord(folder_, wish);
  if (!record) return tl::unexpected(record.error());
  const std::string path = PathOf(*record);
  return BenchOf(std::move(*record), path);
}

std::string Benches::PathOf(const CalibrationRecord& record) const {
  if (only_) return only_->record_path;
  const auto listed = paths_.find(record.id);
  return listed != paths_.end() ? listed->second
                                : (fs::path(folder_.path) / record.file_name).string();
}

std::vector<CalibrationRecord> Benches::Records() const {
  return only_ ? std::vector<CalibrationRecord>{only_->record} : folder_.records;
}

bool TakesPitchOnly(const std::string& image_kind) {
  return image_kind == "stitched" || image_kind == "crop";
}

double SeamU_um(const std::string& image_kind, const Scale& scale) {
  // Seams of stitched pictures are off by one to five pixels (common practice): a rectangular
  // distribution of half-width five.
  constexpr double kSeamPx = 5;
  return image_kind == "stitched" ? kSeamPx * scale.mean_pitch_um() / std::sqrt(3.0) : 0;
}

Status KeepPitchOnly(const std::string& image_kind, int width_px, int height_px, Bench& bench) {
  if (!TakesPitchOnly(image_kind)) return {};
  CalibrationRecord& record = bench.record;
  const auto warn = [&](std::string text) {
    bench.warnings.push_back(fmt::format("{} picture: {}", image_kind, text));
  };
  if (width_px != record.image_width_px || height_px != record.image_height_px) {
    warn(fmt::format(
        "{} x {} px, calibration {} is for {} x {}; its pitch holds only if the picture "
        "was not rescaled",
        width_px, height_px, record.id, record.image_width_px, record.image_height_px));
  }
  // The local scale of a radial distortion is off by 3 k1 r^2 at most (the radial derivative), of
  // a shear by its amount: limits of a rectangular distribution (JCGM 100, 4.3.7).
  double r2 = 0;
  for (const double x : {0.0, record.image_width_px - 1.0}) {
    for (const double y : {0.0, record.image_height_px - 1.0}) {
      const PointPx centre = record.distortion_centre;
      r2 = std::max(r2, std::pow(x - centre.x, 2) + std::pow(y - centre.y, 2));
    }
  }
  const double limit = 3 * std::abs(record.k1_per_px2) * r2 + std::abs(record.shear);
  if (limit > 0) {
    const auto widen = [&](const std::optional<double>& pitch, std::optional<double>& u) {
      if (pitch) u = std::hypot(u.value_or(0), *pitch * limit / std::sqrt(3.0));
    };
    widen(record.pitch_x_um, record.pitch_u_x_um);
    widen(record.pitch_y_um, record.pitch_u_y_um);
    record.k1_per_px2 = record.shear = 0;
    warn(
        fmt::format("distortion and shear of calibration {} are not applied, their centre in it is "
                    "not known; up to {:.2g} % of a length, taken into the scale's uncertainty",
                    record.id, 100 * limit));
  }
  if (!record.flat_field_image.empty()) {
    record.flat_field_image.clear();
    record.flat_field_sha256.clear();
    warn(fmt::format("the flat field of calibration {} is not applied", record.id));
  }
  record.image_width_px = width_px;
  record.image_height_px = height_px;
  auto scale = Scale::FromRecord(record);
  if (!scale) return tl::unexpected(scale.error());
  bench.scale = *scale;
  return {};
}

Status CheckRequired(std::optional<double> hours, const Bench& bench, const std::string& taken) {
  if (!hours) return {};
  const std::string path = CheckLogPath(bench.record_path);
  auto log = ReadCheckLog(path);
  if (!log && log.error().code == Code::kFileMissing) log = std::vector<BenchCheck>();
  if (!log) return tl::unexpected(log.error());
  auto check = RequireCheck(*log, bench.record, taken, *hours);
  if (!check) return tl::unexpected(check.error());
  return {};
}

}  // namespace cutface
