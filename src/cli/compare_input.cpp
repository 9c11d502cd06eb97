#include "cli/compare_input.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <filesystem>
#include <future>
#include <set>
#include <thread>

#include "cutface/record.h"

namespace cutface {
namespace {

namespace files = std::filesystem;

constexpr std::uint64_t kMostResultBytes = std::uint64_t{256} << 20;

// A face whose result is still to be read.
struct Awaited {
  FaceEntry entry;
  std::string path;
  bool of_run = false;  // run.json has its hash
};

struct Taken {
  FaceEntry entry;
  SectionResult result;
};

bool IsDirectory(const std::string& path) {
  std::error_code error;
  return files::is_directory(path, error);
}

bool LeavesFolder(const std::string& name) {
  const files::path path(name);
  return name.empty() || path.is_absolute() ||
         std::find(path.begin(), path.end(), "..") != path.end();
}

Result<Taken> TakeFace(const Awaited& awaited) {
  auto text = ReadTextFile(awaited.path, kMostResultBytes);
  if (!text) return tl::unexpected(text.error());
  const std::string sha = Sha256Hex(*text);
  if (awaited.of_run && sha != awaited.entry.result_sha256) {
    return Fail(Code::kUsage, fmt::format("{}: is not the file that the run wrote (its hash "
                                          "differs); run cutface batch again",
                                          awaited.path));
  }
  auto result = SkimResult(*text, awaited.path);
  if (!result) return tl::unexpected(result.error());
  Taken taken{awaited.entry, std::move(*result)};
  if (awaited.of_run) return taken;
  const SectionResult& r = taken.result;
  FaceEntry& entry = taken.entry;
  entry.image = r.image_file;
  entry.image_sha256 = r.image_sha256;
  entry.part = r.part, entry.revision = r.revision, entry.plane = r.section_name;
  entry.sample = r.sample;
  entry.operator_name = r.inspector;
  entry.state = FaceState::kMeasured;
  entry.result_file = awaited.path;
  entry.result_sha256 = sha;
  entry.design_sha256 = r.design_sha256;
  entry.calibration_sha256 = r.calibration_sha256;
  entry.verdict = r.verdict;
  return taken;
}

// Faces of run.json; those without a result go to the gatherer at once.
Status AwaitRun(const std::string& folder, const std::string& part, RunGatherer& gatherer,
                std::vector<Awaited>& awaited) {
  auto roster = ReadRoster((files::path(folder) / "run.json").string());
  if (!roster) return tl::unexpected(roster.error());
  std::set<std::string> parts;
  for (FaceEntry& entry : roster->faces) {
    if (!part.empty() && !entry.part.empty() && entry.part != part) continue;
    if (!entry.part.empty()) parts.insert(entry.part);
    if (entry.state != FaceState::kMeasured) {
      gatherer.AddUnmeasured(entry);
      continue;
    }
    if (LeavesFolder(entry.result_file)) {
      return Fail(Code::kJsonValue,
                  fmt::format("{}/run.json: result_file \"{}\" leaves the folder of the run; "
                              "measure again",
                              folder, entry.result_file));
    }
    const std::string path = (files::path(folder) / entry.result_file).string();
    awaited.push_back({std::move(entry), path, true});
  }
  if (parts.size() > 1) {
    std::string names;
    for (const std::string& name : parts) names += (names.empty() ? "" : ", ") + name;
    return Fail(Code::kUsage, fmt::format("{}: holds more than one part ({}); choose one with "
                                          "--part",
                                          folder, names));
  }
  return {};
}

Status AwaitResults(const std::vector<std::string>& what, std::vector<Awaited>& awaited) {
  for (const std::string& name : what) {
    if (!IsDirectory(name)) {
      awaited.push_back({{}, name, false});
      continue;
    }
    std::vector<std::string> found;
    std::error_code error;
    for (const auto& file : files::directory_iterator(name, error)) {
      if (file.path().filename().string().ends_with(".result.json"))
        found.push_back(file.path().string());
    }
    if (error) return Fail(Code::kFileUnreadable, fmt::format("{}: {}", name, error.message()));
    if (found.empty()) {
      return Fail(Code::kUsage, fmt::format("{}: holds neither run.json nor a *.result.json; "
                                            "measure with cutface batch first",
                                            name));
    }
    std::sort(found.begin(), found.end());
    for (std::string& path : found) awaited.push_back({{}, std::move(path), false});
  }
  return {};
}

}  // namespace

Result<Run> GatherRun(const std::vector<std::string>& what, const std::string& part) {
  RunGatherer gatherer;
  std::vector<Awaited> awaited;
  std::error_code error;
  const bool run = what.size() == 1 && IsDirectory(what.front()) &&
                   files::exists(files::path(what.front()) / "run.json", error);
  if (auto status =
          run ? AwaitRun(what.front(), part, gatherer, awaited) : AwaitResults(what, awaited);
      !status)
    return tl::unexpected(status.error());
  // A stretch at a time: read by several threads, handed over in order, forgotten.
  constexpr std::size_t kStretch = 256;
  const unsigned cores = std::max(1u, std::thread::hardware_concurrency());
  for (std::size_t from = 0; from < awaited.size(); from += kStretch) {
    const std::size_t to = std::min(awaited.size(), from + kStretch);
    std::vector<std::optional<Result<Taken>>> taken(to - from);
    std::atomic<std::size_t> next = from;
    const auto work = [&] {
      for (std::size_t i = next++; i < to; i = next++) taken[i - from] = TakeFace(awaited[i]);
    };
    std::vector<std::future<void>> helpers;
    for (std::size_t i = 1; i < std::min<std::size_t>(cores, to - from); ++i)
      helpers.push_back(std::async(std::launch::async, work));
    work();
    for (auto& helper : helpers) helper.get();
    for (auto& one : taken) {
      if (!*one) return tl::unexpected(one->error());
      if (auto status = gatherer.Add((*one)->entry, (*one)->result); !status)
        return tl::unexpected(status.error());
    }
  }
  return gatherer.Finish();
}

}  // namespace cutface
