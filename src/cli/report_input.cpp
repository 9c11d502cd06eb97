#include "cli/report_input.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <filesystem>
#include <future>
#include <optional>
#include <set>
#include <thread>

#include "cutface/calibration_keeping.h"
#include "cutface/record.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

bool IsFolder(const std::string& path) {
  std::error_code error;
  return fs::is_directory(path, error);
}

bool IsFile(const fs::path& path) {
  std::error_code error;
  return fs::is_regular_file(path, error);
}

// A name of run.json or a result that climbs out of its folder is not followed.
bool Stays(const std::string& name) {
  const fs::path path(name);
  if (name.empty() || path.is_absolute()) return false;
  return std::find(path.begin(), path.end(), "..") == path.end();
}

// Where a picture may lie: in which of the folders there is a file of its name.
std::vector<std::string> FindPictures(const std::string& name,
                                      const std::vector<std::string>& folders) {
  std::vector<std::string> paths;
  if (!Stays(name)) return paths;
  for (const std::string& folder : folders) {
    const fs::path path = fs::path(folder.empty() ? "." : folder) / name;
    if (IsFile(path)) paths.push_back(path.string());
  }
  return paths;
}

struct Loaded {
  SectionResult result;
  std::string sha256;
};
Result<Loaded> LoadResult(const std::string& path) {
  auto text = ReadTextFile(path, std::uint64_t{256} << 20);
  if (!text) return tl::unexpected(text.error());
  auto result = ParseResult(*text, path);
  if (!result) return tl::unexpected(result.error());
  return Loaded{std::move(*result), Sha256Hex(*text)};
}

// Many files are read by several threads; the order is kept.
std::vector<Result<Loaded>> LoadResultsOf(const std::vector<std::string>& paths) {
  std::vector<std::optional<Result<Loaded>>> loaded(paths.size());
  std::atomic<std::size_t> next = 0;
  const auto work = [&] {
    for (std::size_t i = next++; i < paths.size(); i = next++) loaded[i] = LoadResult(paths[i]);
  };
  const unsigned cores = std::max(1u, std::thread::hardware_concurrency());
  std::vector<std::future<void>> helpers;
  for (std::size_t i = 1; i < std::min<std::size_t>(cores, paths.size()); ++i)
    helpers.push_back(std::async(std::launch::async, work));
  work();
  for (auto& helper : helpers) helper.get();
  std::vector<Result<Loaded>> results;
  for (auto& one : loaded) results.push_back(std::move(*one));
  return results;
}

Status LoadRun(const Call& call, const std::string& folder, ReportInput& input) {
  const std::string path = (fs::path(folder) / "run.json").string();
  auto text = ReadTextFile(path);
  if (!text) {
    return Fail(text.error().code,
                fmt::format("{}: there is no run.json in it; name the folder that cutface batch "
                            "wrote, or result files",
                            folder));
  }
  auto roster = ParseRoster(*text, path);
  if (!roster) return tl::unexpected(roster.error());
  input.roster = std::move(*roster);
  input.run_sha256 = Sha256Hex(*text);
  std::erase_if(input.roster.faces, [&](const FaceEntry& entry) {
    const bool other_lot = !call.report.lot.empty() && entry.sample.lot != call.report.lot;
    const bool other_part =
        !call.report.part.empty() && !entry.part.empty() && entry.part != call.report.part;
    return other_lot || other_part;
  });
  std::set<std::string> parts;
  for (const FaceEntry& entry : input.roster.faces) {
    if (!entry.part.empty()) parts.insert(entry.part);
  }
  if (parts.size() > 1) {
    std::string names;
    for (const std::string& part : parts) names += (names.empty() ? "" : ", ") + part;
    return Fail(
        Code::kUsage,
        fmt::format("{}: holds more than one part ({}); choose one with --part", path, names));
  }
  std::vector<const FaceEntry*> measured;
  std::vector<std::string> files;
  for (const FaceEntry& entry : input.roster.faces) {
    if (entry.state != FaceState::kMeasured) continue;
    if (!Stays(entry.result_file)) {
      return Fail(Code::kJsonValue,
                  fmt::format("{}: result_file \"{}\" leaves the folder of the run; measure again",
                              path, entry.result_file));
    }
    measured.push_back(&entry);
    files.push_back((fs::path(folder) / entry.result_file).string());
  }
  std::vector<Result<Loaded>> results = LoadResultsOf(files);
  for (std::size_t i = 0; i < results.size(); ++i) {
    if (!results[i]) return tl::unexpected(results[i].error());
    const FaceEntry& entry = *measured[i];
    if (results[i]->sha256 != entry.result_sha256) {
      return Fail(Code::kUsage,
                  fmt::format("{}: is not the file that the run wrote (its hash differs); run "
                              "cutface batch again",
                              files[i]));
    }
    ReportFace face;
    face.result = std::move(results[i]->result);
    face.result_file = fs::path(entry.result_file).filename().string();
    face.result_sha256 = results[i]->sha256;
    face.image_paths = FindPictures(entry.image, {call.report.images, input.roster.folder, folder});
    input.faces.push_back(std::move(face));
  }
  return {};
}

Status LoadResults(const Call& call, ReportInput& input) {
  for (const std::string& path : call.images) {
    if (IsFolder(path)) {
      return Fail(Code::kUsage,
                  fmt::format("{}: name one folder of a run, or result files, not both", path));
    }
  }
  std::vector<Result<Loaded>> results = LoadResultsOf(call.images);
  for (std::size_t i = 0; i < results.size(); ++i) {
    const std::string& path = call.images[i];
    Result<Loaded>& loaded = results[i];
    if (!loaded) return tl::unexpected(loaded.error());
    const SectionResult& r = loaded->result;
    FaceEntry entry;
    entry.image = r.image_file;
    entry.image_sha256 = r.image_sha256;
    entry.part = r.part, entry.revision = r.revision, entry.plane = r.section_name;
    entry.sample = r.sample;
    entry.operator_name = r.inspector;
    entry.state = FaceState::kMeasured;
    entry.result_file = fs::path(path).filename().string();
    entry.result_sha256 = loaded->sha256;
    entry.design_sha256 = r.design_sha256;
    entry.calibration_sha256 = r.calibration_sha256;
    entry.verdict = r.verdict;
    input.roster.faces.push_back(entry);
    const std::string folder = fs::path(path).parent_path().string();
    ReportFace face;
    face.image_paths = FindPictures(r.image_file, {call.report.images, folder, "."});
    face.result = std::move(loaded->result);
    face.result_file = entry.result_file;
    face.result_sha256 = loaded->sha256;
    input.faces.push_back(std::move(face));
  }
  return {};
}

Status LoadDesign(const Call& call, ReportInput& input, std::vector<std::string>& warnings) {
  if (!call.design.empty()) {
    auto design = ReadDesign(call.design);
    if (!design) return tl::unexpected(design.error());
    input.design = std::move(*design);
    return {};
  }
  if (input.faces.empty()) return {};
  const std::string& wanted = input.faces.front().result.design_sha256;
  for (const RosterFile& file : input.roster.designs) {
    if (file.sha256 != wanted) continue;
    auto design = ReadDesign(file.file);
    if (design && design->sha256 == wanted) {
      input.design = std::move(*design);
      return {};
    }
  }
  warnings.emplace_back(
      "the drawing is not at hand: title and decision rule are left out, and numbers are checked "
      "between the results only; give it with --design");
  return {};
}

// One record or a folder of them; what the run went by is looked for besides.
Status LoadCalibrations(const Call& call, ReportInput& input, std::vector<std::string>& warnings) {
  if (!call.calibration.empty() && IsFolder(call.calibration)) {
    auto folder = ReadRecordFolder(call.calibration);
    if (!folder) return tl::unexpected(folder.error());
    input.calibrations = std::move(folder->records);
  } else if (!call.calibration.empty()) {
    auto record = ReadCalibration(call.calibration);
    if (!record) return tl::unexpected(record.error());
    input.calibrations.push_back(std::move(*record));
  }
  for (const RosterFile& file : input.roster.calibrations) {
    if (IsFolder(file.file)) {
      auto folder = ReadRecordFolder(file.file);
      if (!folder) continue;
      for (CalibrationRecord& record : folder->records)
        input.calibrations.push_back(std::move(record));
    } else if (auto record = ReadCalibration(file.file)) {
      input.calibrations.push_back(std::move(*record));
    }
  }
  std::set<std::string> missing;
  for (const ReportFace& face : input.faces) {
    const SectionResult& r = face.result;
    const bool there = std::any_of(
        input.calibrations.begin(), input.calibrations.end(), [&](const CalibrationRecord& record) {
          return record.id == r.calibration_id && record.sha256 == r.calibration_sha256;
        });
    if (!there) missing.insert(r.calibration_id);
  }
  for (const std::string& id : missing) {
    warnings.push_back(
        fmt::format("the calibration record {} that was measured with is not at hand; give it with "
                    "--calibration",
                    id));
  }
  return {};
}

}  // namespace

Result<ReportInput> GatherReport(const Call& call, std::vector<std::string>& warnings) {
  ReportInput input;
  const bool run = call.images.size() == 1 && IsFolder(call.images.front());
  if (auto status = run ? LoadRun(call, call.images.front(), input) : LoadResults(call, input);
      !status)
    return tl::unexpected(status.error());
  if (auto status = LoadDesign(call, input, warnings); !status)
    return tl::unexpected(status.error());
  if (auto status = LoadCalibrations(call, input, warnings); !status)
    return tl::unexpected(status.error());
  if (!call.report.dispositions.empty()) {
    auto decisions = ReadDecisions(call.report.dispositions);
    if (!decisions) return tl::unexpected(decisions.error());
    input.decisions = std::move(*decisions);
  }
  for (const ReportFace& face : input.faces) {
    if (face.image_paths.empty())
      warnings.push_back(
          fmt::format("{}: the picture is not at hand, its page shows the marks "
                      "alone; name its folder with --images",
                      face.result.image_file));
  }
  return input;
}

}  // namespace cutface
