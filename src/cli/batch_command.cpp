// `cutface batch`: what a run is told, what it prints, and the file that says what became of it.
#include "cli/batch_command.h"

#include <fmt/format.h>
#include <malloc.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <opencv2/core/utility.hpp>
#include <ostream>
#include <set>
#include <system_error>
#include <thread>

#include "cli/batch_faces.h"
#include "cli/bench_options.h"
#include "cli/exits.h"
#include "cli/face.h"
#include "cli/interrupt.h"
#include "cli/records.h"
#include "cli/text.h"
#include "cutface/folder_faces.h"
#include "cutface/roster.h"

namespace cutface {
namespace {

// Pictures' memory goes back to the system as soon as a face is done: left to itself, glibc keeps
// blocks of that size in every worker's own store (a quarter more per worker at 5 megapixels).
void GiveBackLargeBlocks() {
#ifdef __GLIBC__
  mallopt(M_MMAP_THRESHOLD, 4 << 20);
  mallopt(M_TRIM_THRESHOLD, 16 << 20);
#endif
}

namespace fs = std::filesystem;

constexpr int kScanMilliseconds = 1000;  // of a watched folder

int ExitOf(const FaceEntry& face) {
  if (face.state == FaceState::kMeasured) return ExitOf(face.verdict);
  for (int i = 0; i <= static_cast<int>(Code::kInternal); ++i) {
    if (CodeName(static_cast<Code>(i)) == face.code) return ExitOf(static_cast<Code>(i));
  }
  return kExitNotMeasurable;
}

std::string Clock(double seconds) {
  const int whole = static_cast<int>(std::lround(seconds));
  if (whole < 120) return fmt::format("{} s", whole);
  return whole < 7200 ? fmt::format("{} min", (whole + 30) / 60)
                      : fmt::format("{} h {} min", whole / 3600, whole % 3600 / 60);
}

// Verdicts, and what each image said last: a watched folder tells only news.
class Told {
 public:
  Told(const Call& call, const Terminal& terminal) : call_(call), terminal_(terminal) {}

  void Face(const FaceEntry& face) {
    const std::string state = FaceToJson(face);
    std::string& last = last_[face.image];
    if (last == state) return;
    last = state;
    if (face.state != FaceState::kMeasured)
      PrintError(terminal_, Error{Code::kInternal, face.reason}, face.image);
    if (call_.json) {
      terminal_.out << state << "\n" << std::flush;
      return;
    }
    const std::string_view word =
        face.state == FaceState::kMeasured ? VerdictName(face.verdict) : FaceStateName(face.state);
    std::string about = face.plane.empty() ? "" : ", " + face.plane;
    if (!face.sample.serial.empty()) about += ", serial " + face.sample.serial;
    if (face.state != FaceState::kMeasured) about += " (" + face.code + ")";
    terminal_.out << fmt::format("{:<16}  {}{}\n", word, Escaped(face.image), Escaped(about))
                  << std::flush;
  }

  void Warnings(const FaceEntry& face, const std::vector<std::string>& warnings) {
    for (const std::string& warning : warnings) {
      auto& [first, count] = warnings_[warning];
      if (count++ == 0) first = face.image;
    }
  }

  // The same note for many faces once, with their number.
  void PrintWarnings() {
    for (const auto& [text, whose] : warnings_) {
      const auto& [first, count] = whose;
      const std::string faces = count == 1 ? first : fmt::format("{} faces ({} ...)", count, first);
      PrintWarning(terminal_, faces + ": " + text);
    }
    warnings_.clear();
  }

 private:
  const Call& call_;
  const Terminal& terminal_;
  std::map<std::string, std::string> last_;
  std::map<std::string, std::pair<std::string, int>> warnings_;
};

nlohmann::ordered_json CountsToJson(const Counts& counts) {
  nlohmann::ordered_json out;
  out["faces_cut"] = counts.faces_cut;
  out["imaged"] = counts.imaged;
  out["measured"] = counts.measured;
  out["rejected"] = counts.rejected_by;
  out["waiting"] = counts.waiting_by;
  out["reimages"] = counts.reimages;
  out["recuts"] = counts.recuts;
  out["n"] = counts.n ? nlohmann::ordered_json(*counts.n) : nlohmann::ordered_json(nullptr);
  if (!counts.n_unknown.empty()) out["n_unknown"] = counts.n_unknown;
  out["n_of_plane"] = counts.n_of_plane;
  return out;
}

class Command {
 public:
  Command(const Call& call, const Terminal& terminal, const Stages& stages)
      : call_(call), terminal_(terminal), told_(call, terminal), faces_(call, stages) {}

  int Go() {
    if (auto status = Prepare(); !status) {
      PrintError(terminal_, status.error());
      return ExitOf(status.error().code) == kExitNotMeasurable ? kExitNotMeasurable
                                                               : kExitWrongCall;
    }
    Interrupt interrupt;
    for (;;) {
      const auto status = Round(interrupt);
      if (!status) {
        PrintError(terminal_, status.error());
        worst_ = WorseExit(worst_, kExitWrongCall);
        if (!call_.batch.watch || first_) return WorseExit(worst_, faces_worst_);
      }
      first_ = false;
      if (!call_.batch.watch || interrupt.Asked() || WaitForNews(interrupt)) break;
    }
    return WorseExit(worst_, faces_worst_);
  }

 private:
  Status Prepare() {
    std::error_code ignored;
    const BatchCall& batch = call_.batch;
    if (fs::equivalent(batch.folder, call_.out, ignored)) {
      return Fail(Code::kUsage, fmt::format("{}: is the folder of the pictures; name another one "
                                            "for results with --out",
                                            call_.out));
    }
    if (!fs::is_directory(batch.folder, ignored)) {
      return Fail(Code::kFileMissing,
                  fmt::format("{}: is no folder; name the folder of the pictures", batch.folder));
    }
    if (auto status = faces_.Prepare(); !status) return status;
    if (!batch.pattern.empty()) {
      auto pattern = NamePattern::Parse(batch.pattern);
      if (!pattern) return tl::unexpected(pattern.error());
      pattern_ = std::move(*pattern);
    }
    if (!batch.manifest.empty()) {
      if (auto status = ReadTheManifest(); !status) return status;
    }
    auto ledger = Ledger::Open(call_.out);
    if (!ledger) return tl::unexpected(ledger.error());
    ledger_ = std::move(*ledger);
    run_path_ = (fs::path(call_.out) / "run.json").string();
    auto before = RunBefore(call_.out);
    if (!before) return tl::unexpected(before.error());
    before_ = std::move(*before);
    // One face a thread: the libraries' own threads would fight over the same cores.
    cv::setNumThreads(1);
    return {};
  }

  Status ReadTheManifest() {
    auto manifest = ReadManifest(call_.batch.manifest);
    if (!manifest) return tl::unexpected(manifest.error());
    manifest_ = std::move(*manifest);
    return {};
  }

  int Jobs() const {
    if (call_.batch.jobs > 0) return call_.batch.jobs;
    return static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
  }

  Status Round(Interrupt& interrupt) {
    PlanRequest request;
    request.folder = call_.batch.folder;
    request.recursive = call_.batch.recursive;
    request.results = call_.out;
    if (manifest_) request.manifest = &*manifest_;
    if (pattern_) request.pattern = &*pattern_;
    request.section = call_.section;
    if (call_.batch.watch)
      request.whole = [this](const std::string& path) { return settled_.contains(path); };
    if (call_.batch.watch && first_) Scan();
    auto plan = MakePlan(request, faces_.designs());
    if (!plan) return tl::unexpected(plan.error());
    if (plan->faces.empty() && !call_.batch.watch) {
      return Fail(Code::kFileMissing,
                  fmt::format("{}: holds no picture (PNG, JPEG, BMP, TIFF){}", call_.batch.folder,
                              call_.batch.recursive ? "" : "; folders within need --recursive"));
    }
    for (const std::string& warning : plan->warnings) Note(warning);
    if (auto status = faces_.Begin(); !status) return status;
    GiveBackLargeBlocks();
    const std::string started = NowUtc();
    BatchWork work = faces_.Work();
    if (!call_.batch.records.empty() && !store_) {
      auto store = Archive::Open(call_.batch.records);
      if (!store) return tl::unexpected(store.error());
      store_.emplace(std::move(*store));
    }
    work.finished = [&](const FaceEntry& face, const std::vector<std::string>& warnings, bool) {
      ClearProgress();
      told_.Face(face);
      told_.Warnings(face, warnings);
      if (store_ && !face.result_file.empty()) Record(face);
    };
    work.tick = [&](const BatchProgress& progress) {
      ShowProgress(progress);
      return !interrupt.Asked();
    };
    BatchEnd end = RunBatch(*plan, call_.out, Jobs(), *ledger_, work);
    ClearProgress();
    told_.PrintWarnings();
    for (const std::string& warning : end.warnings) {
      PrintError(terminal_, Error{Code::kFileUnwritable, warning});
      worst_ = WorseExit(worst_, kExitWrongCall);
    }
    return Finish(*plan, std::move(end), started);
  }

  // Unchanged faces too: a run that was killed may have measured one and not recorded it. What the
  // store holds already it does not take again.
  void Record(const FaceEntry& face) {
    auto there = store_->EntryOfResult(face.image_sha256, face.result_sha256);
    if (there && *there != 0) return;
    KeepWish wish;
    wish.who = call_.inspector;
    // What the result does not say and remeasuring must know.
    for (const auto& [name, channel] : Channels()) {
      if (channel == call_.channel && channel != Channel::kGreen) wish.how["channel"] = name;
    }
    if (call_.u_floor_um != Call{}.u_floor_um)
      wish.how["u-floor"] = fmt::format("{}", call_.u_floor_um);
    wish.beside = call_.batch.designs;
    for (const std::string& place : call_.batch.calibrations) {
      std::error_code ignored;
      if (!fs::is_directory(place, ignored)) wish.beside.push_back(place);
      for (const auto& file : fs::directory_iterator(place, ignored)) {
        if (file.path().string().ends_with(".calibration.json"))
          wish.beside.push_back(file.path().string());
      }
    }
    wish.beside.push_back((fs::path(call_.batch.folder) / face.image).string());
    auto kept = KeepResultFile(*store_, (fs::path(call_.out) / face.result_file).string(), wish);
    if (!kept) {
      PrintError(terminal_, kept.error(), face.image);
      worst_ = WorseExit(worst_, kExitWrongCall);
      return;
    }
    told_.Warnings(face, kept->warnings);
  }

  void Note(const std::string& text) {
    if (noted_.insert(text).second) PrintWarning(terminal_, text);
  }

  Status Finish(const Plan& plan, BatchEnd end, const std::string& started) {
    Roster roster;
    roster.software = faces_.software();
    roster.started = started;
    roster.folder = call_.batch.folder;
    roster.inspector = call_.inspector;
    roster.designs = faces_.DesignFiles();
    roster.calibrations = faces_.CalibrationFiles(end.faces);
    roster.warnings = plan.warnings;
    roster.faces = std::move(end.faces);
    int worst = kExitFine;
    for (const FaceEntry& face : roster.faces) {
      // Watching ends by being stopped: the face in hand then is nobody's fault.
      if (call_.batch.watch && face.code == CodeName(Code::kCancelled)) continue;
      worst = WorseExit(worst, ExitOf(face));
    }
    faces_worst_ = worst;
    if (!end.stopped) roster.finished = NowUtc();
    Status status = KeepRun(call_.out, roster, before_);
    if (status) status = WriteProposals(roster);
    if (status && !end.stopped) status = ledger_->Tidy(plan.faces);
    PrintEnd(roster, end.looked_at, end.stopped);
    return status;
  }

  Status WriteProposals(const Roster& roster) {
    const bool any =
        std::any_of(roster.faces.begin(), roster.faces.end(), [](const FaceEntry& face) {
          return face.plane.empty() && face.code == CodeName(Code::kUsage);
        });
    if (!any) return {};
    const std::string path = (fs::path(call_.out) / "proposed-manifest.csv").string();
    proposals_ = path;
    return WriteWhole(path, ManifestToCsv(roster));
  }

  void PrintEnd(const Roster& roster, int anew, bool stopped) {
    const Counts counts = Count(roster);
    if (call_.json) {
      nlohmann::ordered_json line;
      line["counts"] = CountsToJson(counts);
      line["anew"] = anew;
      line["stopped"] = stopped;
      line["run"] = run_path_;
      terminal_.out << line.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace)
                    << "\n"
                    << std::flush;
      return;
    }
    std::map<std::string_view, int> verdicts;
    for (const FaceEntry& face : roster.faces) {
      if (face.state == FaceState::kMeasured) ++verdicts[VerdictName(face.verdict)];
    }
    std::string line;
    for (int i = 0; i <= static_cast<int>(Verdict::kNotJudged); ++i) {
      const std::string_view word = VerdictName(static_cast<Verdict>(i));
      if (verdicts.contains(word))
        line += fmt::format("{}{}: {}", line.empty() ? "" : ", ", word, verdicts[word]);
    }
    terminal_.out << "\n" << Escaped(CountsLine(counts)) << "\n";
    if (!line.empty()) terminal_.out << line << "\n";
    // Those that the end came before are neither.
    const auto left = counts.waiting_by.find(std::string(CodeName(Code::kCancelled)));
    const int to_do = left == counts.waiting_by.end() ? 0 : left->second;
    terminal_.out << fmt::format("{} anew, {} as before{}\n", anew,
                                 static_cast<int>(roster.faces.size()) - anew - to_do,
                                 stopped ? fmt::format("; stopped with {} to do", to_do) : "")
                  << "written: " << Escaped(run_path_)
                  << (proposals_.empty() ? "" : ", " + Escaped(proposals_)) << "\n"
                  << std::flush;
  }

  void ShowProgress(const BatchProgress& progress) {
    if (!terminal_.err_is_terminal) return;
    std::string line = fmt::format("[{}/{}]", progress.done, progress.of);
    if (progress.measured > 0 && progress.seconds > 0)
      line += fmt::format(" {:.1f} faces a second", progress.measured / progress.seconds);
    if (progress.seconds_left >= 0) line += ", " + Clock(progress.seconds_left) + " left";
    if (line == shown_) return;
    ClearProgress();
    terminal_.err << line << std::flush;
    shown_ = line;
  }

  void ClearProgress() {
    if (shown_.empty()) return;
    terminal_.err << "\r" << std::string(shown_.size(), ' ') << "\r" << std::flush;
    shown_.clear();
  }

  // Which pictures stand still: the same size and times as at the scan before.
  bool Scan() {
    std::map<std::string, std::string> now;
    if (auto images = FindImages(call_.batch.folder, call_.batch.recursive, call_.out)) {
      for (const std::string& image : *images) {
        const std::string path = (fs::path(call_.batch.folder) / image).string();
        now[path] = FileStat(path);
      }
    }
    std::map<std::string, std::string> settled;
    for (const auto& [path, stat] : now) {
      const auto before = scanned_.find(path);
      // "0:": an empty file is one whose first byte is still to come.
      if (before != scanned_.end() && before->second == stat && !stat.starts_with("0:"))
        settled[path] = stat;
    }
    const std::string manifest = call_.batch.manifest.empty() ? "" : FileStat(call_.batch.manifest);
    const bool manifest_news = manifest != manifest_stat_;
    const bool news = settled != settled_ || manifest_news;
    scanned_ = std::move(now);
    settled_ = std::move(settled);
    manifest_stat_ = manifest;
    if (manifest_news && !first_) {
      // A table that is half saved: the one before holds until it can be read.
      if (auto status = ReadTheManifest(); !status) Note(status.error().message);
    }
    return news;
  }

  // True when the end is asked for.
  bool WaitForNews(Interrupt& interrupt) {
    for (;;) {
      if (interrupt.WaitFor(kScanMilliseconds)) return true;
      if (Scan()) return false;
    }
  }

  const Call& call_;
  const Terminal& terminal_;
  Told told_;
  BatchFaces faces_;
  std::optional<Manifest> manifest_;
  std::optional<NamePattern> pattern_;
  std::optional<Ledger> ledger_;
  std::optional<Roster> before_;
  std::optional<Archive> store_;
  std::string run_path_, proposals_, shown_, manifest_stat_;
  std::map<std::string, std::string> scanned_, settled_;  // path -> stat
  std::set<std::string> noted_;
  int worst_ = kExitFine, faces_worst_ = kExitFine;  // of the call; of the faces as they are now
  bool first_ = true;
};

}  // namespace

int RunBatchCommand(const Call& call, const Terminal& terminal, const Stages& stages) {
  return Command(call, terminal, stages).Go();
}

}  // namespace cutface
