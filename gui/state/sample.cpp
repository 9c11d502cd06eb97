#include "gui/state/sample.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "cutface/asked.h"
#include "cutface/picture.h"
#include "cutface/record.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

Progress Part(const Progress& progress, double from, double to) {
  if (!progress) return {};
  return [=](double share, std::string_view what) {
    return progress(from + share * (to - from), what);
  };
}

// Identity and name as they are now: they change no number.
void Rename(const Order& order, SectionResult& result) {
  const std::string taken = result.sample.taken;
  const std::optional<double> station = result.sample.station_mm;
  result.sample = order.sample;
  if (result.sample.taken.empty()) result.sample.taken = taken;
  if (!result.sample.station_mm) result.sample.station_mm = station;
  result.inspector = order.inspector;
}

}  // namespace

std::string Order::Missing() const {
  if (image.empty()) return "a picture";
  if (design.empty()) return "the drawing";
  if (calibration.empty()) return "the calibration record of the bench";
  return "";
}

FaceOrder Order::ForJob(const Progress& progress) const {
  FaceOrder job;
  job.sample = sample;
  job.inspector = inspector;
  job.accept_overdue = accept_overdue;
  job.accept_scale_mismatch = accept_scale_mismatch;
  job.progress = progress;
  return job;
}

std::string Sample::Name() const {
  if (!order.sample.serial.empty()) return order.sample.serial;
  return fs::path(order.image).stem().string();
}

void Finish(Measured& measured) {
  const SectionResult& result = measured.result;
  const SectionDesign* plane = measured.Plane();
  measured.marks = MarksOf(BuildDisplayList(result), measured.scale);
  measured.frame = FindDatumFrame(result.section, plane, measured.scale);
  measured.walls.clear();
  for (const std::string& name : WallNames(result.section)) {
    if (auto wall = ProfileWall(result.section, plane, measured.scale, name))
      measured.walls.push_back(std::move(*wall));
  }
  measured.face = {{0, 0}, {1.0 * result.image_width_px, 1.0 * result.image_height_px}};
  if (result.section.outline && result.section.outline->vertices.size() >= 3)
    measured.face = BoundingBox(measured.scale.ToPx(result.section.outline->Points()));
}

Result<Picture> LoadPicture(const std::string& path, const Progress& progress) {
  if (progress && !progress(0, "reading the picture"))
    return Fail(Code::kCancelled, "stopped by request");
  auto read = ReadMicrograph(path);
  if (!read) return tl::unexpected(read.error());
  auto micrograph = std::make_shared<const Micrograph>(std::move(*read));
  auto tiles = TilePyramid::Build(*micrograph, progress);
  if (!tiles) return tl::unexpected(tiles.error());
  Picture picture{micrograph, std::make_shared<const TilePyramid>(std::move(*tiles)), {0, 1}};
  // 8-bit pictures are shown as they are; of more bits often only a few are used.
  if (micrograph->bits > 8) picture.range = picture.tiles->FullContrast();
  return picture;
}

Result<Measured> MeasureSample(const Micrograph& picture, const Order& order,
                               const Progress& progress) {
  auto benches = Benches::Open({order.calibration, "", ""});
  if (!benches) return tl::unexpected(benches.error());
  auto design = ReadDesign(order.design);
  if (!design) return tl::unexpected(design.error());
  Measured measured;
  measured.design = std::move(*design);
  auto plane = ChooseSection(measured.design, order.section);
  if (!plane) return tl::unexpected(plane.error());
  measured.plane = (*plane)->name;
  auto face = MeasureFace(picture, *benches, measured.design, *plane,
                          order.ForJob(Part(progress, 0, 0.95)));
  if (!face) return tl::unexpected(face.error());
  if (progress && !progress(0.96, "drawing")) return Fail(Code::kCancelled, "stopped by request");
  measured.result = face->result;
  measured.found = std::move(face->result);
  measured.scale = face->ready.bench.scale;
  face->ready.options.progress = {};
  measured.ready = std::make_shared<const ReadyFace>(std::move(face->ready));
  Finish(measured);
  return measured;
}

Result<Measured> CorrectSample(const Micrograph& picture, const Measured& before,
                               const std::vector<Correction>& corrections,
                               const Progress& progress) {
  const SectionDesign* plane = before.Plane();
  if (plane == nullptr || !before.ready)
    return Fail(Code::kUsage,
                "this result was read from a file; measure the picture again, then correct it");
  Measured after = before;
  InspectOptions options = before.ready->options;
  options.progress = Part(progress, 0, 0.95);
  const Micrograph& seen = before.ready->evened ? *before.ready->evened : picture;
  auto result = Remeasure(before.found, corrections, seen, before.ready->bench.record, before.scale,
                          before.design, *plane, options);
  if (!result) return tl::unexpected(result.error());
  after.result = std::move(*result);
  Finish(after);
  return after;
}

Result<Measured> RestoreWork(const Micrograph& picture, const Measured& fresh,
                             const UnsavedWork& work, const Progress& progress) {
  if (!work.image_sha256.empty() && work.image_sha256 != fresh.result.image_sha256)
    return Fail(Code::kUsage, work.order.image +
                                  ": is another picture than the one that the unsaved work was "
                                  "done on; it stays unsaved");
  Measured before = fresh;
  const MeasureOptions& options = fresh.ready->options.measure;
  before.found.asked = AskAgain(fresh.found.section, fresh.scale, work.asked, options);
  return CorrectSample(picture, before, work.corrections, progress);
}

Status ExportPicture(const Micrograph& picture, const Measured& measured, const Order& order,
                     const std::string& path) {
  const bool svg = path.ends_with(".svg");
  if (!svg && !path.ends_with(".png"))
    return Fail(Code::kUsage, path + ": a picture's name ends in .png or .svg");
  OutputPaths paths;
  (svg ? paths.drawing : paths.picture) = path;
  if (auto status = CheckOverwriting(paths); !status) return status;
  SectionResult result = measured.result;
  Rename(order, result);
  if (svg) {
    auto drawn = RenderSvg(picture, measured.scale, result);
    if (!drawn) return tl::unexpected(drawn.error());
    return WriteWhole(path, *drawn);
  }
  auto png = RenderPng(picture, measured.scale, result);
  if (!png) return tl::unexpected(png.error());
  return WriteWhole(path, MarkedPicture(*png, result.software));
}

Result<Reopened> ReopenResult(const std::string& path, const std::vector<std::string>& folders) {
  auto result = ReadResult(path);
  if (!result) return tl::unexpected(result.error());
  Reopened reopened;
  Measured& measured = reopened.measured;
  measured.result = std::move(*result);
  measured.found = measured.result;
  const SectionResult& r = measured.result;
  // A result keeps micrometres and the mean pitch: places are right where the lens does not
  // distort, else to its distortion.
  measured.scale = Scale::Isotropic(r.mean_pitch_um);
  reopened.order.sample = r.sample;
  reopened.order.inspector = r.inspector;
  reopened.order.section = r.section_name;
  reopened.order.out = fs::path(path).parent_path().string();
  reopened.corrections = CorrectionsOf(r);
  std::vector<fs::path> places = {fs::path(path).parent_path(),
                                  fs::path(path).parent_path() / ".."};
  places.insert(places.end(), folders.begin(), folders.end());
  for (const fs::path& folder : places) {
    const fs::path picture = folder / r.image_file;
    std::error_code ignored;
    if (!fs::is_regular_file(picture, ignored)) continue;
    const auto bytes = ReadFile(picture.string());
    if (!bytes || Sha256Hex(*bytes) != r.image_sha256) continue;  // another picture of this name
    reopened.picture = picture.lexically_normal().string();
    break;
  }
  reopened.order.image = reopened.picture.empty() ? r.image_file : reopened.picture;
  Finish(measured);
  return reopened;
}

Result<std::string> SaveSample(const Micrograph& picture, const Measured& measured,
                               const Order& order) {
  const std::string folder = order.out.empty() ? "." : order.out;
  const OutputPaths paths = PathsFor(order.image, folder);
  if (auto status = MakeFolder(folder); !status) return tl::unexpected(status.error());
  if (auto status = CheckOverwriting(paths); !status) return tl::unexpected(status.error());
  SectionResult result = measured.result;
  Rename(order, result);
  auto png = RenderPng(picture, measured.scale, result);
  if (!png) return tl::unexpected(png.error());
  Drawn drawn;
  drawn.png = std::move(*png);
  if (auto status = WriteOutputs(paths, drawn, result); !status)
    return tl::unexpected(status.error());
  return paths.result;
}

}  // namespace cutface::window
