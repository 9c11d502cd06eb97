// Workers over a plan: what the ledger knows is taken from it, the rest is measured.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <mutex>
#include <thread>

#include "batch/stat.h"
#include "cutface/batch.h"
#include "cutface/record.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;  // no jump of the wall clock touches it

constexpr std::array kImageFaults = {Code::kImageEmpty,   Code::kImageTruncated, Code::kImageFormat,
                                     Code::kImageDamaged, Code::kNoSection,      Code::kTwoParts,
                                     Code::kOutOfFocus,   Code::kInvalidContour, Code::kNoPattern};

// Would the same picture fail again in the same way?
bool IsOfTheImage(Code code) {
  return std::find(kImageFaults.begin(), kImageFaults.end(), code) != kImageFaults.end();
}

// Nothing is wrong with the picture: it waits.
FaceState StateAfter(Code code) {
  switch (code) {
    case Code::kCancelled:
    case Code::kFileUnwritable:
    case Code::kFileMissing:
    case Code::kUsage:
      return FaceState::kWaiting;
    default:
      return FaceState::kRejected;
  }
}

std::optional<Verdict> VerdictOf(std::string_view word) {
  for (int i = 0; i <= static_cast<int>(Verdict::kNotJudged); ++i) {
    if (VerdictName(static_cast<Verdict>(i)) == word) return static_cast<Verdict>(i);
  }
  return std::nullopt;
}

struct FaceEnd {
  FaceEntry entry;
  std::vector<std::string> warnings;
  bool fresh = false;
  bool done = false;
};

class Run {
 public:
  Run(const Plan& plan, const std::string& results, Ledger& ledger, const BatchWork& work)
      : plan_(plan), results_(results), ledger_(ledger), work_(work), ends_(plan.faces.size()) {}

  BatchEnd Go(int jobs) {
    const auto begun = Clock::now();
    std::vector<std::thread> workers;
    const auto count = std::min<std::size_t>(static_cast<std::size_t>(jobs),
                                             std::max<std::size_t>(plan_.faces.size(), 1));
    for (std::size_t i = 0; i < count; ++i) workers.emplace_back([this] { Work(); });
    std::size_t told = 0;
    while (told < ends_.size()) {
      {
        std::unique_lock<std::mutex> guard(mutex_);
        news_.wait_for(guard, std::chrono::milliseconds(200), [&] { return ends_[told].done; });
      }
      if (!work_.tick(Progress(begun))) stop_ = true;
      Tell(told);
    }
    for (std::thread& worker : workers) worker.join();
    BatchEnd end;
    for (FaceEnd& face : ends_) {
      const bool left = face.entry.code == CodeName(Code::kCancelled);  // in hand when it stopped
      end.looked_at += face.fresh && !left ? 1 : 0;
      end.faces.push_back(std::move(face.entry));
    }
    end.measured = measured_;
    end.stopped = stop_;
    if (!trouble_.empty()) end.warnings.push_back(trouble_);
    return end;
  }

 private:
  // Hands over what is done without a gap.
  void Tell(std::size_t& told) {
    while (told < ends_.size()) {
      {
        const std::lock_guard<std::mutex> guard(mutex_);
        if (!ends_[told].done) return;
      }
      const FaceEnd& face = ends_[told++];
      work_.finished(face.entry, face.warnings, face.fresh);
    }
  }

  BatchProgress Progress(Clock::time_point begun) const {
    BatchProgress p;
    p.of = static_cast<int>(ends_.size());
    p.done = done_;
    p.measured = measured_;
    p.seconds = std::chrono::duration<double>(Clock::now() - begun).count();
    // Faces out of the ledger cost next to nothing: what is left is taken to be new at the rate of
    // the new ones.
    constexpr int kTellsARate = 3;
    if (p.measured >= kTellsARate) p.seconds_left = p.seconds / p.measured * (p.of - p.done);
    return p;
  }

  void Work() {
    for (;;) {
      const std::size_t no = next_++;
      if (no >= plan_.faces.size()) return;
      FaceEnd end = DoFace(plan_.faces[no]);
      const std::lock_guard<std::mutex> guard(mutex_);
      ends_[no] = std::move(end);
      ends_[no].done = true;
      ++done_;
      news_.notify_one();
    }
  }

  static void Put(FaceEntry& entry, const Error& error) {
    entry.state = StateAfter(error.code);
    entry.code = CodeName(error.code);
    entry.reason = error.message;
  }

  FaceEnd DoFace(const PlannedFace& face) {
    FaceEnd end;
    end.entry = face.entry;
    if (!face.ready && !face.propose) return end;
    if (stop_ || full_) {
      Put(end.entry, stop_ ? Error{Code::kCancelled, "the run was stopped before this face"}
                           : Error{Code::kFileUnwritable, "the folder of results takes no files"});
      return end;
    }
    LedgerLine line;
    line.image = face.entry.image;
    line.stem = face.stem;
    const LedgerLine* known = ledger_known(face);
    const std::string stat = FileStat(face.path);
    if (known != nullptr && !stat.empty() && known->stat == stat) {
      line.image_sha256 = known->image_sha256;
    } else {
      const auto bytes = ReadFile(face.path);
      if (!bytes) {
        Put(end.entry, bytes.error());
        return end;
      }
      line.image_sha256 = Sha256Hex(*bytes);
    }
    line.stat = SettledStatOf(face.path);
    end.entry.image_sha256 = line.image_sha256;
    if (known != nullptr && TakeKnown(face, *known, line, end)) return end;
    end.fresh = true;
    if (face.propose) {
      Propose(face, line, end);
    } else {
      Measure(face, line, end);
    }
    return end;
  }

  const LedgerLine* ledger_known(const PlannedFace& face) {
    const std::lock_guard<std::mutex> guard(ledger_mutex_);
    return ledger_.Find(face.entry.image);
  }

  std::string ResultPath(const std::string& stem) const {
    return (fs::path(results_) / (stem + ".result.json")).string();
  }

  // Takes the face out of the ledger where nothing changed. A result that somebody changed since
  // (edited in the window, say) is never overwritten. False: to be measured.
  bool TakeKnown(const PlannedFace& face, const LedgerLine& known, const LedgerLine& now,
                 FaceEnd& end) {
    const bool same =
        known.image_sha256 == now.image_sha256 && known.stem == face.stem && SameKey(face, known);
    if (known.verdict.empty() || !VerdictOf(known.verdict)) {
      if (same) Recall(face, known, end);
      return same;
    }
    const std::string path = ResultPath(known.stem);
    const std::string stat = FileStat(path);
    if (stat.empty()) return false;
    std::string sha256 = known.result_sha256;
    if (stat != known.result_stat) {
      const auto bytes = ReadFile(path);
      if (!bytes) return false;
      sha256 = Sha256Hex(*bytes);
    }
    if (sha256 != known.result_sha256) {
      TakeChanged(face, known, same, sha256, end);
      return true;
    }
    if (!same) return false;
    Recall(face, known, end);
    LedgerLine again = known;
    again.stat = now.stat;
    again.result_stat = SettledStatOf(path);
    const bool news = again.stat != known.stat || again.result_stat != known.result_stat;
    if (news && !again.stat.empty() && !again.result_stat.empty()) Keep(std::move(again));
    return true;
  }

  bool SameKey(const PlannedFace& face, const LedgerLine& known) const {
    const auto key = work_.key(face, known.width_px, known.height_px);
    return key && *key == known.key;
  }

  void TakeChanged(const PlannedFace& face, const LedgerLine& known, bool same,
                   const std::string& sha256, FaceEnd& end) {
    const std::string path = ResultPath(known.stem);
    const auto result = ReadResult(path);
    if (!same || !result || result->image_sha256 != known.image_sha256) {
      Put(end.entry,
          Error{Code::kUsage, fmt::format("{}: was changed after it was measured; move it away to "
                                          "have the face measured again",
                                          path)});
      return;
    }
    Recall(face, known, end);
    end.entry.verdict = result->verdict;
    end.entry.result_sha256 = sha256;
    end.warnings.push_back(
        fmt::format("{}: was changed after it was measured; it is taken as it is now", path));
  }

  static void Recall(const PlannedFace& face, const LedgerLine& known, FaceEnd& end) {
    FaceEntry& entry = end.entry;
    end.warnings = known.warnings;
    entry.design_sha256 = known.design_sha256;
    entry.calibration_sha256 = known.calibration_sha256;
    if (!known.verdict.empty()) {
      entry.state = FaceState::kMeasured;
      entry.verdict = VerdictOf(known.verdict).value_or(Verdict::kNotJudged);
      entry.result_file = known.stem + ".result.json";
      entry.result_sha256 = known.result_sha256;
    } else if (face.propose && known.code.empty()) {
      PutProposal(face, known.planes, entry);
    } else {
      entry.state = FaceState::kRejected;
      entry.code = known.code;
      entry.reason = known.reason;
    }
  }

  static void PutProposal(const PlannedFace& face, const std::vector<std::string>& planes,
                          FaceEntry& entry) {
    entry.proposed_planes = planes;
    std::string list;
    for (const std::string& plane : planes) list += (list.empty() ? "" : ", ") + plane;
    const std::string found =
        planes.empty()       ? "none of the drawing's sections fits the picture"
        : planes.size() == 1 ? fmt::format("the picture looks like {}", list)
                             : fmt::format("{} sections fit the picture: {}", planes.size(), list);
    Put(entry, Error{Code::kUsage,
                     fmt::format("{}: no plane is named; {}; name it in a manifest, by --pattern "
                                 "or --section",
                                 face.path, found)});
  }

  void Measure(const PlannedFace& face, LedgerLine& line, FaceEnd& end) {
    auto done = MakeFolder(face);
    if (!done) {
      Put(end.entry, done.error());
      return;
    }
    // A crash between result and ledger must not look like a result that somebody changed.
    if (const LedgerLine* known = ledger_known(face); known != nullptr && !known->verdict.empty()) {
      LedgerLine begun;
      begun.image = line.image;
      begun.stem = line.stem;
      Keep(std::move(begun));
    }
    auto measured = work_.measure(face, [this] { return !stop_; });
    if (!measured) {
      Put(end.entry, measured.error());
      if (measured.error().code == Code::kFileUnwritable) NoticeFull();
      if (IsOfTheImage(measured.error().code)) KeepRejection(face, line, measured.error());
      return;
    }
    if (measured->image_sha256 != line.image_sha256) {
      Put(end.entry, Error{Code::kUsage,
                           fmt::format("{}: changed while it was measured; run again", face.path)});
      return;
    }
    FaceEntry& entry = end.entry;
    entry.state = FaceState::kMeasured;
    entry.verdict = measured->verdict;
    entry.result_file = face.stem + ".result.json";
    entry.result_sha256 = measured->result_sha256;
    entry.design_sha256 = measured->design_sha256;
    entry.calibration_sha256 = measured->calibration_sha256;
    end.warnings = measured->warnings;
    ++measured_;
    const auto key = work_.key(face, measured->width_px, measured->height_px);
    if (!key) return;
    line.width_px = measured->width_px;
    line.height_px = measured->height_px;
    line.key = *key;
    line.result_stat = SettledStatOf(ResultPath(face.stem));
    line.result_sha256 = measured->result_sha256;
    line.design_sha256 = measured->design_sha256;
    line.calibration_sha256 = measured->calibration_sha256;
    line.verdict = VerdictName(measured->verdict);
    line.warnings = measured->warnings;
    Keep(std::move(line));
  }

  void Propose(const PlannedFace& face, LedgerLine& line, FaceEnd& end) {
    FaceDone about;
    const auto planes = work_.propose(face, about);
    if (!planes) {
      Put(end.entry, planes.error());
      return;
    }
    PutProposal(face, *planes, end.entry);
    ++measured_;
    const auto key = work_.key(face, about.width_px, about.height_px);
    if (!key) return;
    line.width_px = about.width_px;
    line.height_px = about.height_px;
    line.key = *key;
    line.planes = *planes;
    Keep(std::move(line));
  }

  // A picture whose size is not known (it cannot be read) has a key of its own: size nought.
  void KeepRejection(const PlannedFace& face, LedgerLine& line, const Error& error) {
    const auto key = work_.key(face, 0, 0);
    if (!key) return;
    line.key = *key;
    line.code = CodeName(error.code);
    line.reason = error.message;
    Keep(std::move(line));
  }

  void Keep(LedgerLine line) {
    const std::lock_guard<std::mutex> guard(ledger_mutex_);
    if (const auto status = ledger_.Put(std::move(line)); !status && trouble_.empty())
      trouble_ = status.error().message + "; what was measured is measured again next time";
  }

  Status MakeFolder(const PlannedFace& face) {
    std::error_code error;
    const fs::path folder = (fs::path(results_) / face.stem).parent_path();
    fs::create_directories(folder, error);
    if (!error) return {};
    NoticeFull();
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: {}; check rights and room", folder.string(), error.message()));
  }

  // One file that cannot be written may be that file's own trouble; a folder that takes none ends
  // the run, or every face would be measured in vain.
  void NoticeFull() {
    const std::string probe = (fs::path(results_) / "run.probe").string();
    const std::string block(std::size_t{64} << 10, '\0');
    const Status status = WriteWhole(probe, block);
    std::error_code ignored;
    fs::remove(probe, ignored);
    if (status) return;
    full_ = true;
    const std::lock_guard<std::mutex> guard(ledger_mutex_);
    if (trouble_.empty())
      trouble_ = fmt::format(
          "{}: takes no more files; the run ends here, run again when there is "
          "room",
          results_);
  }

  const Plan& plan_;
  const std::string& results_;
  Ledger& ledger_;
  const BatchWork& work_;
  std::vector<FaceEnd> ends_;
  std::mutex mutex_;         // of ends_
  std::mutex ledger_mutex_;  // of the ledger and trouble_
  std::condition_variable news_;
  std::atomic<std::size_t> next_ = 0;
  std::atomic<int> done_ = 0, measured_ = 0;
  std::atomic<bool> stop_ = false, full_ = false;
  std::string trouble_;
};

}  // namespace

BatchEnd RunBatch(const Plan& plan, const std::string& results, int jobs, Ledger& ledger,
                  const BatchWork& work) {
  CF_CHECK(jobs >= 1);
  return Run(plan, results, ledger, work).Go(jobs);
}

// --- memory --------------------------------------------------------------------------------------

struct MemoryGate::State {
  std::uint64_t limit = 0, taken = 0;
  std::mutex mutex;
  std::condition_variable freed;
};

MemoryGate::MemoryGate(std::uint64_t limit_bytes) : state_(std::make_unique<State>()) {
  state_->limit = limit_bytes;
}
MemoryGate::~MemoryGate() = default;

MemoryGate::Share::Share(Share&& other) noexcept : gate_(other.gate_), bytes_(other.bytes_) {
  other.gate_ = nullptr;
}
MemoryGate::Share& MemoryGate::Share::operator=(Share&& other) noexcept {
  std::swap(gate_, other.gate_);
  std::swap(bytes_, other.bytes_);
  return *this;
}
MemoryGate::Share::~Share() {
  if (gate_ == nullptr) return;
  {
    const std::lock_guard<std::mutex> guard(gate_->state_->mutex);
    gate_->state_->taken -= bytes_;
  }
  gate_->state_->freed.notify_all();
}

std::optional<MemoryGate::Share> MemoryGate::Take(std::uint64_t bytes) {
  std::unique_lock<std::mutex> guard(state_->mutex);
  if (bytes > state_->limit) return std::nullopt;
  state_->freed.wait(guard, [&] { return state_->taken + bytes <= state_->limit; });
  state_->taken += bytes;
  Share share;
  share.gate_ = this;
  share.bytes_ = bytes;
  return share;
}

}  // namespace cutface
