#include "cli/batch_faces.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "cli/face.h"
#include "cutface/folder_faces.h"

namespace cutface {
namespace {

// Bytes that a face under work takes for each of its pixels, drawing and all: measured as the
// peak over 5-megapixel pictures (tests/bench/README.md), rounded up.
constexpr std::int64_t kBytesPerPixel = 40;
// Meshes and factors of a section under pressure, whatever its picture: 45 MiB at the demo's five
// lumens (peak with --pressure less peak without), rounded up.
constexpr std::int64_t kElasticBytes = std::int64_t{64} << 20;

std::int64_t WithoutPixels(const Call& call) {
  return call.pressures_mpa.empty() ? 0 : kElasticBytes;
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
  const auto needed =
      static_cast<std::uint64_t>(largest_px_ * kBytesPerPixel + WithoutPixels(call_));
  if (needed <= limit) return {};
  return Fail(Code::kUsage,
              fmt::format("--memory {}: one picture of the calibration's size needs about {} MB "
                          "under work{}; give as much",
                          call_.batch.memory_mb, (needed >> 20) + 1,
                          call_.pressures_mpa.empty() ? "" : " and under pressure"));
}

// A picture of a part of a face, or stitched, has any size: it takes all that there is.
MemoryGate::Share BatchFaces::TakeMemory(const PlannedFace& face, std::int64_t& max_pixels) const {
  if (!memory_) return {};
  const std::int64_t rest = WithoutPixels(call_);
  const std::int64_t limit = (std::int64_t{call_.batch.memory_mb} << 20) - rest;
  max_pixels = TakesPitchOnly(face.design->image_kind) ? limit / kBytesPerPixel : largest_px_;
  auto share = memory_->Take(static_cast<std::uint64_t>(max_pixels * kBytesPerPixel + rest));
  CF_CHECK(share);  // never more than the limit
  return std::move(*share);
}

Status BatchFaces::Begin() {
  FolderOptions options;
  options.software = software();
  options.channel = call_.channel;
  options.u_floor_um = call_.u_floor_um;
  options.image_kind = call_.image_kind;
  options.correct_oblique = call_.correct_oblique;
  options.svg = call_.svg;
  options.edge_map = call_.edge_map;
  options.no_pictures = call_.batch.no_pictures;
  options.hints = call_.hints;
  options.inspector = call_.inspector;
  options.accept_overdue = call_.accept_overdue;
  options.accept_scale_mismatch = call_.accept_scale_mismatch;
  options.pressures_mpa = call_.pressures_mpa;
  options.wires_free = call_.wires_free;
  options.require_check_h = call_.require_check_h;
  options.objective = call_.objective;
  options.bench = call_.bench;
  options.calibrations = call_.batch.calibrations;
  options_key_ = DigestOf(options);
  return {};
}

BatchWork BatchFaces::Work() {
  BatchWork work;
  work.key = [this](const PlannedFace& face, int width, int height) {
    return FaceKey(options_key_, benches_, face, width, height);
  };
  work.measure = [this](const PlannedFace& face, const std::function<bool()>& go_on) {
    return Measure(face, go_on);
  };
  work.propose = [this](const PlannedFace& face, FaceDone& about) { return Propose(face, about); };
  return work;
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
  return DoneWith(outcome->result, paths.result);
}

Result<std::vector<std::string>> BatchFaces::Propose(const PlannedFace& face,
                                                     FaceDone& about) const {
  ReadOptions reading;
  reading.channel = call_.channel;
  const MemoryGate::Share share = TakeMemory(face, reading.max_pixels);
  return ProposePlanes(face, benches_, reading, about, stages_);
}

std::string BatchFaces::software() const { return CUTFACE_VERSION; }

std::vector<RosterFile> BatchFaces::DesignFiles() const {
  std::vector<RosterFile> files;
  for (std::size_t i = 0; i < designs_.size(); ++i)
    files.push_back({call_.batch.designs[i], designs_[i].sha256, designs_[i].part_number});
  return files;
}

std::vector<RosterFile> BatchFaces::CalibrationFiles(const std::vector<FaceEntry>& faces) const {
  return RecordsUsed(benches_, faces);
}

}  // namespace cutface
