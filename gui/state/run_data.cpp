#include "gui/state/run_data.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "cutface/profile.h"
#include "cutface/record.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kMostPlaces = 160;  // of an edge in the overlay

// As traced, every k-th place, in the drawing's frame.
ContourUm ThinnedEdge(const TracedContour& contour, const DatumFrame& frame) {
  ContourUm out;
  const std::size_t n = contour.vertices.size();
  const std::size_t step = std::max<std::size_t>(1, n / kMostPlaces);
  for (std::size_t i = 0; i < n; i += step)
    out.push_back(frame.FromPicture(contour.vertices[i].at));
  return out;
}

void TakeResult(const SectionResult& result, const SectionDesign* plane, RunFace& face) {
  face.rows = result.characteristics;
  face.findings = static_cast<int>(result.findings.size());
  face.entry.verdict = result.verdict;
  const Scale scale = Scale::Isotropic(result.mean_pitch_um);
  const DatumFrame frame = FindDatumFrame(result.section, plane, scale);
  if (result.section.outline) face.edges.push_back(ThinnedEdge(*result.section.outline, frame));
  for (const LumenTrace& lumen : result.section.lumens)
    if (!lumen.bore.vertices.empty()) face.edges.push_back(ThinnedEdge(lumen.bore, frame));
}

FaceEntry EntryOf(const SectionResult& result, const std::string& file) {
  FaceEntry entry;
  entry.image = result.image_file;
  entry.part = result.part;
  entry.revision = result.revision;
  entry.plane = result.section_name;
  entry.sample = result.sample;
  entry.state = FaceState::kMeasured;
  entry.result_file = file;
  entry.design_sha256 = result.design_sha256;
  entry.verdict = result.verdict;
  return entry;
}

void AddDesign(const std::string& path, std::vector<Design>& designs) {
  if (path.empty()) return;
  auto design = ReadDesign(path);
  if (!design) return;  // the overlay then has no nominal
  for (const Design& known : designs)
    if (known.sha256 == design->sha256) return;
  designs.push_back(std::move(*design));
}

bool Stopped(const Progress& progress, double share, std::string_view what) {
  return progress && !progress(share, what);
}

Result<RunData> LoadLoose(RunData run, const Progress& progress) {
  std::vector<std::string> files;
  std::error_code error;
  for (const auto& file : fs::directory_iterator(run.folder, error)) {
    const std::string name = file.path().filename().string();
    if (name.ends_with(".result.json")) files.push_back(name);
  }
  std::sort(files.begin(), files.end());
  StatisticsMaker statistics(files.size());
  if (files.empty())
    return Fail(Code::kFileMissing,
                run.folder + ": holds no run.json and no result; choose a folder of results");
  for (std::size_t i = 0; i < files.size(); ++i) {
    if (Stopped(progress, 1.0 * static_cast<double>(i) / static_cast<double>(files.size()),
                files[i]))
      return Fail(Code::kCancelled, "stopped by request");
    RunFace face;
    face.path = (fs::path(run.folder) / files[i]).string();
    auto result = ReadResult(face.path);
    if (result) {
      face.entry = EntryOf(*result, files[i]);
      TakeResult(*result, run.Plane(result->part, result->section_name), face);
      statistics.Add(face.entry, *result, run.designs);
    } else {
      face.entry.image = files[i];
      face.trouble = result.error().message;
    }
    run.faces.push_back(std::move(face));
  }
  run.counts = fmt::format("{} results; without a run.json nobody says how many parts they are of",
                           run.faces.size());
  run.statistics = statistics.Finish();
  return run;
}

}  // namespace

std::string RunFace::Name() const {
  return entry.sample.serial.empty() ? fs::path(entry.image).stem().string() : entry.sample.serial;
}

const SectionDesign* RunData::Plane(const std::string& part, const std::string& plane) const {
  for (const Design& design : designs)
    if (part.empty() || design.part_number == part)
      if (const SectionDesign* found = design.FindSection(plane)) return found;
  return nullptr;
}

RunFace ReadRunFace(const FaceEntry& entry, const std::string& folder,
                    const std::vector<Design>& designs, StatisticsMaker* statistics) {
  RunFace face;
  face.entry = entry;
  face.trouble = entry.reason;
  if (!entry.proposed_planes.empty()) {
    face.trouble += "; it may show";
    for (const std::string& plane : entry.proposed_planes) face.trouble += " " + plane;
  }
  if (entry.result_file.empty()) {
    if (statistics != nullptr) statistics->AddUnmeasured(entry);
    return face;
  }
  face.path = (fs::path(folder) / entry.result_file).string();
  auto result = ReadResult(face.path);
  if (!result) {
    face.trouble = result.error().message;
    face.path.clear();
    return face;
  }
  RunData lookup;
  lookup.designs = designs;
  TakeResult(*result, lookup.Plane(entry.part, entry.plane), face);
  if (statistics != nullptr) statistics->Add(entry, *result, designs);
  return face;
}

Result<RunData> LoadRun(const std::string& place, const std::string& design,
                        const Progress& progress) {
  std::error_code error;
  RunData run;
  run.folder = fs::is_directory(place, error) ? place : fs::path(place).parent_path().string();
  AddDesign(design, run.designs);
  const std::string roster_path = (fs::path(run.folder) / "run.json").string();
  if (!fs::exists(roster_path, error)) return LoadLoose(std::move(run), progress);
  auto roster = ReadRoster(roster_path);
  if (!roster) return tl::unexpected(roster.error());
  run.roster = std::move(*roster);
  run.has_roster = true;
  for (const RosterFile& file : run.roster.designs)
    for (const std::string& at : {file.file, (fs::path(run.folder) / file.file).string()})
      AddDesign(at, run.designs);
  const std::size_t n = run.roster.faces.size();
  StatisticsMaker statistics(n);
  for (std::size_t i = 0; i < n; ++i) {
    const FaceEntry& entry = run.roster.faces[i];
    if (Stopped(progress, static_cast<double>(i) / static_cast<double>(n), entry.image))
      return Fail(Code::kCancelled, "stopped by request");
    run.faces.push_back(ReadRunFace(entry, run.folder, run.designs, &statistics));
  }
  run.statistics = statistics.Finish();
  run.counts = CountsLine(Count(run.roster));
  return run;
}

}  // namespace cutface::window
