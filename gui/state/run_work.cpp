// A folder measured in the background: the batch's queue around the window's way to measure.
#include <fmt/format.h>

#include <filesystem>

#include "cutface/folder_faces.h"
#include "cutface/job.h"
#include "cutface/picture.h"
#include "gui/state/run_data.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

std::string FindManifest(const RunOrder& order) {
  if (!order.manifest.empty()) return order.manifest;
  std::error_code ignored;
  for (const char* name : {"manifest.csv", "manifest.xlsx"}) {
    std::string path = (fs::path(order.pictures) / name).string();
    if (fs::exists(path, ignored)) return path;
  }
  return "";
}

class RunWork {
 public:
  RunWork(const RunOrder& order, const Progress& progress) : order_(order), progress_(progress) {}

  Status Prepare() {
    std::error_code ignored;
    if (fs::equivalent(order_.pictures, order_.results, ignored))
      return Fail(Code::kUsage, order_.results +
                                    ": is the folder of the pictures; results go to "
                                    "another one");
    auto design = ReadDesign(order_.design);
    if (!design) return tl::unexpected(design.error());
    designs_.push_back(std::move(*design));
    auto benches = Benches::Open({}, {order_.calibration});
    if (!benches) return tl::unexpected(benches.error());
    benches_ = std::move(*benches);
    if (const std::string path = FindManifest(order_); !path.empty()) {
      auto manifest = ReadManifest(path);
      if (!manifest) return tl::unexpected(manifest.error());
      manifest_ = std::move(*manifest);
    }
    FolderOptions options;
    options.software = CUTFACE_VERSION;
    options.inspector = order_.inspector;
    options.accept_overdue = order_.accept_overdue;
    options.accept_scale_mismatch = order_.accept_scale_mismatch;
    options.calibrations = {order_.calibration};
    options_ = DigestOf(options);
    PlanRequest request;
    request.folder = order_.pictures;
    request.results = order_.results;
    if (manifest_) request.manifest = &*manifest_;
    request.section = manifest_ ? "" : order_.section;
    auto plan = MakePlan(request, designs_);
    if (!plan) return tl::unexpected(plan.error());
    plan_ = std::move(*plan);
    if (plan_.faces.empty())
      return Fail(Code::kFileMissing, order_.pictures + ": holds no picture");
    return {};
  }

  Result<RunEnd> Go(const std::function<void(const FaceEntry&)>& done) {
    auto ledger = Ledger::Open(order_.results);
    if (!ledger) return tl::unexpected(ledger.error());
    auto before = RunBefore(order_.results);
    if (!before) return tl::unexpected(before.error());
    before_ = std::move(*before);
    const std::string started = NowUtc();
    BatchWork work;
    work.key = [this](const PlannedFace& face, int w, int h) {
      return FaceKey(options_, benches_, face, w, h);
    };
    work.measure = [this](const PlannedFace& face, const std::function<bool()>& go_on) {
      return Measure(face, go_on);
    };
    work.propose = [this](const PlannedFace& face, FaceDone& about) {
      return ProposePlanes(face, benches_, ReadOptions{}, about);
    };
    work.finished = [&](const FaceEntry& face, const std::vector<std::string>&, bool) {
      done(face);
    };
    work.tick = [this](const BatchProgress& now) {
      if (!progress_) return true;
      std::string text = fmt::format("{} of {}", now.done, now.of);
      if (now.seconds_left >= 0) text += fmt::format(", {:.0f} s left", now.seconds_left);
      return progress_(now.of > 0 ? 1.0 * now.done / now.of : 0, text);
    };
    BatchEnd end = RunBatch(plan_, order_.results, 1, *ledger, work);
    RunEnd out{end.measured, static_cast<int>(end.faces.size()), end.stopped, end.warnings};
    if (auto status = WriteRun(std::move(end), started); !status)
      return tl::unexpected(status.error());
    if (!out.stopped) {
      if (auto status = ledger->Tidy(plan_.faces); !status) return tl::unexpected(status.error());
    }
    return out;
  }

 private:
  Result<FaceDone> Measure(const PlannedFace& face, const std::function<bool()>& go_on) const {
    const OutputPaths paths = PathsOfBase((fs::path(order_.results) / face.stem).string(), false,
                                          false, /*with_pressure=*/false);
    if (auto status = CheckOverwriting(paths); !status) return tl::unexpected(status.error());
    auto picture = ReadMicrograph(face.path);
    if (!picture) return tl::unexpected(picture.error());
    FaceOrder job;
    job.sample = face.entry.sample;
    job.objective = face.objective;
    job.bench = face.calibration;
    job.inspector = order_.inspector;
    job.accept_overdue = order_.accept_overdue;
    job.accept_scale_mismatch = order_.accept_scale_mismatch;
    job.progress = [&](double, std::string_view) { return go_on(); };
    auto measured = MeasureFace(*picture, benches_, *face.design,
                                face.design->FindSection(face.entry.plane), job);
    if (!measured) return tl::unexpected(measured.error());
    const SectionResult& result = measured->result;
    auto png = RenderPng(*picture, measured->ready.bench.scale, result);
    if (!png) return tl::unexpected(png.error());
    Drawn drawn;
    drawn.png = std::move(*png);
    if (auto status = WriteOutputs(paths, drawn, result); !status)
      return tl::unexpected(status.error());
    return DoneWith(result, paths.result);
  }

  Status WriteRun(BatchEnd end, const std::string& started) {
    Roster roster;
    roster.software = CUTFACE_VERSION;
    roster.started = started;
    if (!end.stopped) roster.finished = NowUtc();
    roster.folder = order_.pictures;
    roster.inspector = order_.inspector;
    roster.designs.push_back({order_.design, designs_[0].sha256, designs_[0].part_number});
    roster.calibrations = RecordsUsed(benches_, end.faces);
    roster.warnings = plan_.warnings;
    roster.faces = std::move(end.faces);
    return KeepRun(order_.results, roster, before_);
  }

  const RunOrder& order_;
  const Progress& progress_;
  std::vector<Design> designs_;
  Benches benches_;
  std::string options_;  // digest of what all faces share
  std::optional<Manifest> manifest_;
  std::optional<Roster> before_;  // the run that stood there
  Plan plan_;
};

}  // namespace

std::string RunOrder::Missing() const {
  if (pictures.empty()) return "the folder of the pictures";
  if (results.empty()) return "the folder for the results";
  if (design.empty()) return "the drawing, on the page Sample";
  if (calibration.empty()) return "the calibration record, on the page Sample";
  return "";
}

Result<RunEnd> MeasureRun(const RunOrder& order, const std::function<void(const FaceEntry&)>& done,
                          const Progress& progress) {
  if (const std::string missing = order.Missing(); !missing.empty())
    return Fail(Code::kUsage, "choose " + missing);
  RunWork work(order, progress);
  if (auto status = work.Prepare(); !status) return tl::unexpected(status.error());
  return work.Go(done);
}

}  // namespace cutface::window
