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

// Reading all contours of a face takes some ten times as long as its values.
constexpr std::size_t kMostLaid = 120;
constexpr std::uint64_t kMostResultBytes = std::uint64_t{256} << 20;

// A face whose result is still to be read.
struct Awaited {
  FaceEntry entry;
  std::string path;
  bool of_run = false;  // run.json has its hash
  bool laid = false;    // is to be laid over the drawing
};

struct Taken {
  FaceEntry entry;
  SectionResult result;
  std::optional<std::optional<FaceShape>> shape;
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

Result<Taken> TakeFace(const Awaited& awaited, const std::vector<NominalFace>& nominals) {
  auto text = ReadTextFile(awaited.path, kMostResultBytes);
  if (!text) return tl::unexpected(text.error());
  const std::string sha = Sha256Hex(*text);
  if (awaited.of_run && sha != awaited.entry.result_sha256) {
    return Fail(Code::kUsage, fmt::format("{}: is not the file that the run wrote (its hash "
                                          "differs); run cutface batch again",
                                          awaited.path));
  }
  auto result = awaited.laid ? ParseResult(*text, awaited.path) : SkimResult(*text, awaited.path);
  if (!result) return tl::unexpected(result.error());
  Taken taken{awaited.entry, std::move(*result), {}};
  for (const NominalFace& nominal : nominals) {
    if (!awaited.laid || nominal.plane != taken.result.section_name) continue;
    taken.shape = ShapeOf(taken.result, nominal);
    Section bare;
    bare.placement = taken.result.section.placement;
    taken.result.section = std::move(bare);
    taken.result.measurements.clear();
  }
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
                std::vector<Awaited>& awaited, std::vector<RosterFile>& designs) {
  auto roster = ReadRoster((files::path(folder) / "run.json").string());
  if (!roster) return tl::unexpected(roster.error());
  designs = roster->designs;
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
    awaited.push_back({std::move(entry), path, true, false});
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
      awaited.push_back({{}, name, false, false});
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
    for (std::string& path : found) awaited.push_back({{}, std::move(path), false, false});
  }
  return {};
}

// The drawing that the call or the run names; none where the run's is gone or was changed.
Result<std::optional<Design>> FindDrawing(const std::string& file,
                                          const std::vector<RosterFile>& designs) {
  if (!file.empty()) {
    auto design = ReadDesign(file);
    if (!design) return tl::unexpected(design.error());
    return std::optional(std::move(*design));
  }
  for (const RosterFile& named : designs) {
    auto design = ReadDesign(named.file);
    if (design && design->sha256 == named.sha256) return std::optional(std::move(*design));
  }
  return std::optional<Design>();
}

}  // namespace

Result<GatheredRun> GatherRun(const std::vector<std::string>& what, const std::string& part,
                              const std::string& design_file) {
  GatheredRun gathered;
  RunGatherer gatherer;
  std::vector<Awaited> awaited;
  std::vector<RosterFile> designs;
  std::error_code error;
  const bool run = what.size() == 1 && IsDirectory(what.front()) &&
                   files::exists(files::path(what.front()) / "run.json", error);
  if (auto status = run ? AwaitRun(what.front(), part, gatherer, awaited, designs)
                        : AwaitResults(what, awaited);
      !status)
    return tl::unexpected(status.error());
  auto drawn = FindDrawing(design_file, designs);
  if (!drawn) return tl::unexpected(drawn.error());
  if (*drawn) {
    for (const SectionDesign& section : (*drawn)->sections)
      gathered.nominals.push_back(PrepareNominalFace(section));
    const std::size_t step = (awaited.size() + kMostLaid - 1) / kMostLaid;
    for (std::size_t i = 0; i < awaited.size(); i += std::max<std::size_t>(step, 1))
      awaited[i].laid = true;
  } else {
    gathered.warnings.emplace_back(
        "the drawing is not at hand: there is no mean face; give it with --design");
  }
  // A stretch at a time: read by several threads, handed over in order, forgotten.
  constexpr std::size_t kStretch = 256;
  const unsigned cores = std::max(1u, std::thread::hardware_concurrency());
  for (std::size_t from = 0; from < awaited.size(); from += kStretch) {
    const std::size_t to = std::min(awaited.size(), from + kStretch);
    std::vector<std::optional<Result<Taken>>> taken(to - from);
    std::atomic<std::size_t> next = from;
    const auto work = [&] {
      for (std::size_t i = next++; i < to; i = next++)
        taken[i - from] = TakeFace(awaited[i], gathered.nominals);
    };
    std::vector<std::future<void>> helpers;
    for (std::size_t i = 1; i < std::min<std::size_t>(cores, to - from); ++i)
      helpers.push_back(std::async(std::launch::async, work));
    work();
    for (auto& helper : helpers) helper.get();
    for (auto& one : taken) {
      if (!*one) return tl::unexpected(one->error());
      Taken& face = **one;
      if (*drawn && face.result.design_sha256 != (*drawn)->sha256) {
        return Fail(Code::kDesignMismatch,
                    fmt::format("{}: was measured against another file than {}; give that one with "
                                "--design",
                                face.entry.result_file, (*drawn)->file_name));
      }
      if (auto status = gatherer.Add(face.entry, face.result, std::move(face.shape)); !status)
        return tl::unexpected(status.error());
    }
  }
  gathered.run = gatherer.Finish();
  return gathered;
}

}  // namespace cutface
