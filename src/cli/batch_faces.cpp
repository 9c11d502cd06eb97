#include "cli/batch_faces.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <type_traits>

#include "cli/face.h"

namespace cutface {
namespace {

// Bytes that a face under work takes for each of its pixels, drawing and all: measured as the
// peak over 5-megapixel pictures (tests/bench/README.md), rounded up.
constexpr std::int64_t kBytesPerPixel = 40;

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

Status BatchFaces::Prepare() {
  for (const std::string& path : call_.batch.designs) {
    auto design = ReadDesign(path);
    if (!design) return tl::unexpected(design.error());
    if (auto status = TakeImageKind(call_, *design); !status) return status;
    for (const Design& other : designs_) {
      if (other.part_number == design->part_number && other.revision == design->revision) {
        return Fail(
            Code::kUsage,
            fmt::format("{} and {} are both of part {} revision {}; name one of them",
                        other.file_name, design->file_name, design->part_number, design->revision));
      }
    }
    designs_.push_back(std::move(*design));
  }
  std::vector<SectionDesign> planes;
  for (const Design& design : designs_)
    planes.insert(planes.end(), design.sections.begin(), design.sections.end());
  if (auto status = CheckPressures(call_, planes); !status) return status;
  auto benches = Benches::Open(WishOf(call_), call_.batch.calibrations);
  if (!benches) return tl::unexpected(benches.error());
  benches_ = std::move(*benches);
  if (!call_.hints.empty()) {
    auto hints = ReadHints(call_.hints);
    if (!hints) return tl::unexpected(hints.error());
    hints_ = std::move(*hints);
  }
  return LimitMemory();
}

// Pictures have the size of a record, or are refused: that tells what a face takes before it is
// read.
Status BatchFaces::LimitMemory() {
  if (call_.batch.memory_mb == 0) return {};
  const auto limit = static_cast<std::uint64_t>(call_.batch.memory_mb) << 20;
  memory_ = std::make_unique<MemoryGate>(limit);
  for (const CalibrationRecord& record : benches_.Records()) {
    const std::int64_t pixels = std::int64_t{record.image_width_px} * record.image_height_px;
    largest_px_ = std::max(largest_px_, pixels);
  }
  const auto needed = static_cast<std::uint64_t>(largest_px_ * kBytesPerPixel);
  if (needed <= limit) return {};
  return Fail(Code::kUsage,
              fmt::format("--memory {}: one picture of the calibration's size needs about {} MB "
                          "under work; give as much",
                          call_.batch.memory_mb, (needed >> 20) + 1));
}

// A picture of a part of a face, or stitched, has any size: it takes all that there is.
MemoryGate::Share BatchFaces::TakeMemory(const PlannedFace& face, std::int64_t& max_pixels) const {
  if (!memory_) return {};
  const std::int64_t limit = std::int64_t{call_.batch.memory_mb} << 20;
  max_pixels = TakesPitchOnly(face.design->image_kind) ? limit / kBytesPerPixel : largest_px_;
  auto share = memory_->Take(static_cast<std::uint64_t>(max_pixels * kBytesPerPixel));
  CF_CHECK(share);  // never more than the limit
  return std::move(*share);
}

Status BatchFaces::Begin() {
  Digest digest;
  digest.Add(software()).AddNumber(static_cast<int>(call_.channel)).AddNumber(call_.u_floor_um);
  digest.Add(call_.image_kind).AddFlag(call_.correct_oblique).AddFlag(call_.svg);
  digest.AddFlag(call_.edge_map).AddFlag(call_.batch.no_pictures);
  digest.Add(call_.hints.empty() ? "" : HashOfFile(call_.hints)).Add(call_.inspector);
  digest.AddFlag(call_.accept_overdue).AddFlag(call_.accept_scale_mismatch);
  for (const auto& [lumen, mpa] : call_.pressures_mpa) digest.Add(lumen).AddNumber(mpa);
  digest.AddFlag(call_.wires_free);
  digest.AddNumber(call_.require_check_h.value_or(0)).Add(call_.objective).Add(call_.bench);
  if (call_.require_check_h) {
    for (const std::string& path : call_.batch.calibrations) {
      std::error_code ignored;
      const bool folder = std::filesystem::is_directory(path, ignored);
      digest.Add(HashOfFile(CheckLogPath(folder ? path + "/x" : path)));
    }
  }
  options_key_ = digest.Hex();
  return {};
}

BatchWork BatchFaces::Work() {
  BatchWork work;
  work.key = [this](const PlannedFace& face, int width, int height) {
    return Key(face, width, height);
  };
  work.measure = [this](const PlannedFace& face, const std::function<bool()>& go_on) {
    return Measure(face, go_on);
  };
  work.propose = [this](const PlannedFace& face, FaceDone& about) { return Propose(face, about); };
  return work;
}

Result<std::string> BatchFaces::KeyOfBench(const PlannedFace& face, int width_px,
                                           int height_px) const {
  if (width_px == 0) {
    // A picture that could not be read: any of the records might have been its own.
    Digest all;
    for (const CalibrationRecord& record : benches_.Records()) all.Add(record.sha256);
    return all.Hex();
  }
  const bool any_size = TakesPitchOnly(face.design->image_kind);
  const auto bench = benches_.For(any_size ? 0 : width_px, any_size ? 0 : height_px, face.objective,
                                  face.calibration);
  if (!bench) return tl::unexpected(bench.error());
  Digest digest;
  digest.Add(bench->record.sha256);
  for (const std::string& warning : bench->warnings) digest.Add(warning);
  return digest.Hex();
}

Result<std::string> BatchFaces::Key(const PlannedFace& face, int width_px, int height_px) const {
  const auto bench = KeyOfBench(face, width_px, height_px);
  if (!bench) return tl::unexpected(bench.error());
  Digest digest;
  digest.Add(options_key_).Add(*bench).Add(face.design->sha256).Add(face.entry.plane);
  AddSample(digest, face.entry.sample);
  digest.Add(face.objective).Add(face.calibration);
  return digest.Hex();
}

Result<FaceDone> BatchFaces::Measure(const PlannedFace& face,
                                     const std::function<bool()>& go_on) const {
  const std::string base = (std::filesystem::path(call_.out) / face.stem).string();
  FaceJob job{call_, stages_, benches_, *face.design, face.design->FindSection(face.entry.plane)};
  job.pressures_mpa = PressuresOf(call_, *job.plane);
  OutputPaths paths = PathsOfBase(base, call_.svg, call_.edge_map, !job.pressures_mpa.empty());
  if (call_.batch.no_pictures) paths.picture = paths.drawing = paths.edges = paths.pressed = "";
  if (auto status = CheckOverwriting(paths); !status) return tl::unexpected(status.error());
  if (hints_) job.hints = &*hints_;
  job.sample = face.entry.sample;
  job.objective = face.objective;
  job.bench = face.calibration;
  job.draws = !call_.batch.no_pictures;
  job.progress = [&](double, std::string_view) { return go_on(); };
  const MemoryGate::Share share = TakeMemory(face, job.max_pixels);
  auto outcome = MeasureFace(job, face.path, paths);
  if (!outcome) return tl::unexpected(outcome.error());
  const SectionResult& result = outcome->result;
  const auto written = ReadFile(paths.result);
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

Result<std::vector<std::string>> BatchFaces::Propose(const PlannedFace& face,
                                                     FaceDone& about) const {
  ReadOptions reading;
  reading.channel = call_.channel;
  const MemoryGate::Share share = TakeMemory(face, reading.max_pixels);
  const auto micrograph = ReadMicrograph(face.path, reading);
  if (!micrograph) return tl::unexpected(micrograph.error());
  about.width_px = micrograph->width();
  about.height_px = micrograph->height();
  auto bench = benches_.For(about.width_px, about.height_px, face.objective, face.calibration);
  if (!bench) return tl::unexpected(bench.error());
  std::vector<std::string> planes;
  for (const SectionDesign& plane : face.design->sections) {
    const auto result = stages_.inspect(*micrograph, bench->record, bench->scale, *face.design,
                                        plane, InspectOptions{});
    if (result && Fits(*result, plane)) planes.push_back(plane.name);
  }
  return planes;
}

std::string BatchFaces::software() const { return CUTFACE_VERSION; }

std::vector<RosterFile> BatchFaces::DesignFiles() const {
  std::vector<RosterFile> files;
  for (std::size_t i = 0; i < designs_.size(); ++i)
    files.push_back({call_.batch.designs[i], designs_[i].sha256, designs_[i].part_number});
  return files;
}

std::vector<RosterFile> BatchFaces::CalibrationFiles(const std::vector<FaceEntry>& faces) const {
  std::vector<RosterFile> files;
  for (const CalibrationRecord& record : benches_.Records()) {
    const bool used = std::any_of(faces.begin(), faces.end(), [&](const FaceEntry& face) {
      return face.calibration_sha256 == record.sha256;
    });
    if (used) files.push_back({benches_.PathOf(record), record.sha256, record.id});
  }
  return files;
}

}  // namespace cutface
