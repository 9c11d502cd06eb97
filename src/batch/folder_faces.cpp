#include "cutface/folder_faces.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <type_traits>

namespace cutface {
namespace {

std::string HashOfFile(const std::string& path) {
  const auto text = ReadFile(path);
  return text ? Sha256Hex(*text) : "";
}

// Texts as one, so that no two lists of them read the same.
class Digest {
 public:
  Digest& Add(std::string_view text) {
    all_ += fmt::format("{}:{};", text.size(), text);
    return *this;
  }
  Digest& AddNumber(double number) { return Add(fmt::format("{}", number)); }
  Digest& AddFlag(bool flag) { return Add(flag ? "1" : "0"); }
  std::string Hex() const { return Sha256Hex(all_); }

 private:
  std::string all_;
};

void AddSample(Digest& digest, const SampleIdentity& s) {
  VisitFields(s, [&](const char*, const auto& field) {
    if constexpr (std::is_same_v<decltype(field), const std::string&>)
      digest.Add(field);
    else if constexpr (std::is_same_v<decltype(field), const bool&>)
      digest.AddFlag(field);
    else
      digest.AddFlag(field.has_value()).AddNumber(field.value_or(0));
  });
}

Result<std::string> KeyOfBench(const Benches& benches, const PlannedFace& face, int width_px,
                               int height_px) {
  if (width_px == 0) {
    // A picture that could not be read: any of the records might have been its own.
    Digest all;
    for (const CalibrationRecord& record : benches.Records()) all.Add(record.sha256);
    return all.Hex();
  }
  const bool any_size = TakesPitchOnly(face.design->image_kind);
  const auto bench = benches.For(any_size ? 0 : width_px, any_size ? 0 : height_px, face.objective,
                                 face.calibration);
  if (!bench) return tl::unexpected(bench.error());
  Digest digest;
  digest.Add(bench->record.sha256);
  for (const std::string& warning : bench->warnings) digest.Add(warning);
  return digest.Hex();
}

// Could the picture show this plane? Its outline has the drawing's size (an oblique cut stretches
// by up to 15 %), every lumen was found, and nothing speaks of another part.
bool Fits(const SectionResult& result, const SectionDesign& plane) {
  constexpr double kLeast = 0.85, kMost = 1.25;  // of the drawing's area
  if (!result.section.outline || !result.section.outline->whole) return false;
  const auto area = [](const ContourUm& contour) { return std::abs(SignedArea(contour)); };
  const double ratio = area(result.section.outline->Points()) / area(plane.outline.contour);
  if (!(ratio > kLeast && ratio < kMost)) return false;
  for (const LumenTrace& lumen : result.section.lumens) {
    if (lumen.state == LumenState::kNotFound) return false;
  }
  return std::none_of(result.findings.begin(), result.findings.end(),
                      [](const Finding& f) { return f.kind == "wrong part"; });
}

}  // namespace

std::string DigestOf(const FolderOptions& o) {
  Digest digest;
  digest.Add(o.software).AddNumber(static_cast<int>(o.channel)).AddNumber(o.u_floor_um);
  digest.Add(o.image_kind).AddFlag(o.correct_oblique).AddFlag(o.svg);
  digest.AddFlag(o.edge_map).AddFlag(o.no_pictures);
  digest.Add(o.hints.empty() ? "" : HashOfFile(o.hints)).Add(o.inspector);
  digest.AddFlag(o.accept_overdue).AddFlag(o.accept_scale_mismatch);
  for (const auto& [lumen, mpa] : o.pressures_mpa) digest.Add(lumen).AddNumber(mpa);
  digest.AddFlag(o.wires_free);
  digest.AddNumber(o.require_check_h.value_or(0)).Add(o.objective).Add(o.bench);
  if (o.require_check_h) {
    for (const std::string& path : o.calibrations) {
      std::error_code ignored;
      const bool folder = std::filesystem::is_directory(path, ignored);
      digest.Add(HashOfFile(CheckLogPath(folder ? path + "/x" : path)));
    }
  }
  return digest.Hex();
}

Result<std::string> FaceKey(const std::string& options_digest, const Benches& benches,
                            const PlannedFace& face, int width_px, int height_px) {
  const auto bench = KeyOfBench(benches, face, width_px, height_px);
  if (!bench) return tl::unexpected(bench.error());
  Digest digest;
  digest.Add(options_digest).Add(*bench).Add(face.design->sha256).Add(face.entry.plane);
  AddSample(digest, face.entry.sample);
  digest.Add(face.objective).Add(face.calibration);
  return digest.Hex();
}

Result<FaceDone> DoneWith(const SectionResult& result, const std::string& result_path) {
  const auto written = ReadFile(result_path);
  if (!written) return tl::unexpected(written.error());
  FaceDone done;
  done.width_px = result.image_width_px;
  done.height_px = result.image_height_px;
  done.image_sha256 = result.image_sha256;
  done.result_sha256 = Sha256Hex(*written);
  done.design_sha256 = result.design_sha256;
  done.calibration_sha256 = result.calibration_sha256;
  done.verdict = result.verdict;
  done.warnings = result.warnings;
  return done;
}

Result<std::vector<std::string>> ProposePlanes(const PlannedFace& face, const Benches& benches,
                                               const ReadOptions& reading, FaceDone& about,
                                               const Stages& stages) {
  const auto micrograph = ReadMicrograph(face.path, reading);
  if (!micrograph) return tl::unexpected(micrograph.error());
  about.width_px = micrograph->width();
  about.height_px = micrograph->height();
  auto bench = benches.For(about.width_px, about.height_px, face.objective, face.calibration);
  if (!bench) return tl::unexpected(bench.error());
  std::vector<std::string> planes;
  for (const SectionDesign& plane : face.design->sections) {
    const auto result = stages.inspect(*micrograph, bench->record, bench->scale, *face.design,
                                       plane, InspectOptions{});
    if (result && Fits(*result, plane)) planes.push_back(plane.name);
  }
  return planes;
}

std::vector<RosterFile> RecordsUsed(const Benches& benches, const std::vector<FaceEntry>& faces) {
  std::vector<RosterFile> files;
  for (const CalibrationRecord& record : benches.Records()) {
    const bool used = std::any_of(faces.begin(), faces.end(), [&](const FaceEntry& face) {
      return face.calibration_sha256 == record.sha256;
    });
    if (used) files.push_back({benches.PathOf(record), record.sha256, record.id});
  }
  return files;
}

Result<std::optional<Roster>> RunBefore(const std::string& results) {
  const std::string path = (std::filesystem::path(results) / "run.json").string();
  std::error_code ignored;
  if (!std::filesystem::exists(path, ignored)) return std::optional<Roster>();
  auto before = ReadRoster(path);
  if (before) return std::optional(std::move(*before));
  return Fail(Code::kUsage, fmt::format("{}: is there already and is no run of this program ({}); "
                                        "move it or name another folder with --out",
                                        path, CodeName(before.error().code)));
}

Status KeepRun(const std::string& results, const Roster& roster, std::optional<Roster>& before) {
  if (before) {
    Roster same = roster;
    same.started = before->started;
    same.finished = roster.finished.empty() ? "" : before->finished;
    if (RosterToJson(same) == RosterToJson(*before)) return {};
  }
  const std::string path = (std::filesystem::path(results) / "run.json").string();
  if (auto status = WriteRoster(path, roster); !status) return status;
  before = roster;
  return {};
}

}  // namespace cutface
