// One call from its words to its exit status.
#include <fmt/format.h>
#include <malloc.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/batch_command.h"
#include "cli/calibrated.h"
#include "cli/compare_command.h"
#include "cli/exits.h"
#include "cli/face.h"
#include "cli/options.h"
#include "cli/planes.h"
#include "cli/qualify.h"
#include "cli/records.h"
#include "cli/report.h"
#include "cli/study.h"
#include "cli/text.h"
#include "cutface/record.h"

namespace cutface {
namespace {

// What all images of a call share.
struct Job {
  const Call& call;
  const Terminal& terminal;
  const Stages& stages;
  Benches benches;
  Design design;                         // measure only
  const SectionDesign* plane = nullptr;  // into design
  std::optional<HintBook> hints;         // a site's own
};

void PrintJson(const Terminal& terminal, const SectionResult& result) {
  terminal.out << nlohmann::ordered_json::parse(ResultToJson(result)).dump() << "\n" << std::flush;
}

void PrintJsonError(const Terminal& terminal, const std::string& image, const Error& error) {
  nlohmann::ordered_json line;
  line["image"]["file"] = image;
  line["error"]["code"] = CodeName(error.code);
  line["error"]["message"] = error.message;
  terminal.out << line.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace)
               << "\n"
               << std::flush;
}

Status WriteDraft(const Job& job, const Design& draft) {
  if (job.call.draft_design.empty()) return {};
  return WriteWhole(job.call.draft_design, DesignToJson(draft));
}

int RunImage(const Job& job, std::size_t no) {
  const std::string& image = job.call.images[no];
  const OutputPaths paths = PathsFor(image, job.call.out, job.call.svg, job.call.edge_map,
                                     !job.call.pressures_mpa.empty());
  const auto failed = [&](const Error& error) {
    PrintError(job.terminal, error, image);
    if (job.call.json) PrintJsonError(job.terminal, image, error);
    return ExitOf(error.code);
  };
  if (auto status = CheckOverwriting(paths); !status) return failed(status.error());
  Result<FaceOutcome> outcome = [&] {
    ProgressLine progress(job.terminal, image, no + 1, job.call.images.size());
    FaceJob face{job.call, job.stages, job.benches, job.design, job.plane};
    if (job.hints) face.hints = &*job.hints;
    face.sample = job.call.sample;
    face.pressures_mpa = job.call.pressures_mpa;
    face.progress = [&](double share, std::string_view what) {
      progress.Show(share, what);
      return true;
    };
    return MeasureFace(face, image, paths);
  }();
  if (!outcome) return failed(outcome.error());
  if (outcome->draft) {
    if (auto status = WriteDraft(job, *outcome->draft); !status) return failed(status.error());
  }
  for (const std::string& warning : outcome->result.warnings)
    PrintWarning(job.terminal, warning, image);
  if (job.call.json) {
    PrintJson(job.terminal, outcome->result);
  } else {
    job.terminal.out << ResultTable(outcome->result) << "written: " << Escaped(paths.result) << ", "
                     << Escaped(paths.picture)
                     << (paths.drawing.empty() ? "" : ", " + Escaped(paths.drawing))
                     << (paths.edges.empty() ? "" : ", " + Escaped(paths.edges))
                     << (paths.pressed.empty() ? "" : ", " + Escaped(paths.pressed))
                     << (job.call.draft_design.empty() ? "" : ", " + Escaped(job.call.draft_design))
                     << "\n";
    if (no + 1 < job.call.images.size()) job.terminal.out << "\n";
    job.terminal.out << std::flush;
  }
  return ExitOf(outcome->result.verdict);
}

// Copies of a picture are made and dropped all the time; asked of the system anew each time, their
// empty pages cost an eighth of a small face's time. Batch, which lives long, does without.
void KeepSmallBlocks() {
#ifdef __GLIBC__
  mallopt(M_MMAP_THRESHOLD, 32 << 20);
  mallopt(M_TRIM_THRESHOLD, 512 << 20);
#endif
}

// Everything that can be wrong before the first image is opened.
Status Prepare(Job& job) {
  const Call& call = job.call;
  if (auto status = CheckStems(call.images); !status) return status;
  auto benches = Benches::Open(WishOf(call));
  if (!benches) return tl::unexpected(benches.error());
  job.benches = std::move(*benches);
  if (!call.hints.empty()) {
    auto hints = ReadHints(call.hints);
    if (!hints) return tl::unexpected(hints.error());
    job.hints = std::move(*hints);
  }
  if (call.command == Call::Command::kMeasure) {
    auto design = ReadDesign(call.design);
    if (!design) return tl::unexpected(design.error());
    job.design = std::move(*design);
    auto plane = ChooseSection(job.design, call.section);
    if (!plane) return tl::unexpected(plane.error());
    job.plane = *plane;
    if (auto status = CheckPressures(call, {job.plane, 1}); !status) return status;
  } else if (!call.draft_design.empty() && ReadFile(call.draft_design)) {
    return Fail(Code::kUsage,
                fmt::format("{}: is there already; a drawing is never overwritten, name a new file",
                            call.draft_design));
  }
  if (auto status = TakeImageKind(call, job.design); !status) return status;
  return MakeFolder(call.out);
}

}  // namespace

BenchWish WishOf(const Call& call) { return {call.calibration, call.bench, call.objective}; }

int ExitOf(Code code) {
  switch (code) {
    case Code::kImageEmpty:
    case Code::kImageTruncated:
    case Code::kImageFormat:
    case Code::kImageTooLarge:
    case Code::kImageDamaged:
    case Code::kNoSection:
    case Code::kTwoParts:
    case Code::kOutOfFocus:
    case Code::kInvalidContour:
    case Code::kNoPattern:
    case Code::kCancelled:
    case Code::kInternal:
      return kExitNotMeasurable;
    default:
      return kExitWrongCall;
  }
}

int WorseExit(int a, int b) {
  constexpr std::array kFromWorst = {kExitWrongCall, kExitNotMeasurable, kExitNotAllConform,
                                     kExitFine};
  for (const int status : kFromWorst) {
    if (a == status || b == status) return status;
  }
  return std::max(a, b);
}

int RunProgram(const std::vector<std::string>& words, Terminal terminal, const Stages& stages) {
  auto call = ParseCall(words);
  if (!call) {
    PrintError(terminal, call.error());
    return kExitWrongCall;
  }
  if (!call->answer.empty()) {
    terminal.out << call->answer << std::flush;
    return kExitFine;
  }
  if (call->command == Call::Command::kCalibrate) return RunCalibrate(*call, terminal);
  if (call->command == Call::Command::kCheck) return RunCheck(*call, terminal);
  if (call->command == Call::Command::kBatch) return RunBatchCommand(*call, terminal, stages);
  if (call->command == Call::Command::kPlanes) return RunPlanes(*call, terminal);
  if (call->command == Call::Command::kOpening) return RunOpening(*call, terminal);
  if (call->command == Call::Command::kReport) return RunReport(*call, terminal);
  if (call->command == Call::Command::kQualify) return RunQualifyCommand(*call, terminal);
  if (call->command == Call::Command::kStudy) return RunStudyCommand(*call, terminal);
  if (call->command == Call::Command::kCompare) return RunCompare(*call, terminal);
  if (call->command == Call::Command::kRecords) return RunRecords(*call, terminal, stages);
  Job job{*call, terminal, stages, {}, {}, nullptr, {}};
  if (auto status = Prepare(job); !status) {
    PrintError(terminal, status.error());
    return kExitWrongCall;
  }
  KeepSmallBlocks();
  int worst = kExitFine;
  for (std::size_t no = 0; no < call->images.size(); ++no)
    worst = WorseExit(worst, RunImage(job, no));
  return worst;
}

}  // namespace cutface
