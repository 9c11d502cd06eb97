// One call from its words to its exit status.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/calibrated.h"
#include "cli/exits.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/planes.h"
#include "cli/records.h"
#include "cli/report.h"
#include "cli/text.h"
#include "cutface/picture.h"
#include "cutface/record.h"

namespace cutface {
namespace {

int ExitOf(const SectionResult& result) {
  switch (result.verdict) {
    case Verdict::kConforms:
    case Verdict::kNotJudged:
    case Verdict::kElsewhere:
      return kExitFine;
    default:
      return kExitNotAllConform;
  }
}

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

Result<const SectionDesign*> ChooseSection(const Design& design, const std::string& name) {
  std::string names;
  std::vector<std::string_view> known;
  for (const SectionDesign& section : design.sections) {
    names += (names.empty() ? "" : ", ") + section.name;
    known.push_back(section.name);
  }
  if (name.empty()) {
    if (design.sections.size() == 1) return &design.sections.front();
    return Fail(Code::kUsage, fmt::format("{}: has {} sections; choose one with --section: {}",
                                          design.file_name, design.sections.size(), names));
  }
  if (const SectionDesign* section = design.FindSection(name)) return section;
  const std::string near = NearestWord(name, known);
  return Fail(Code::kNotFound,
              fmt::format("{}: has no section \"{}\"{}; its sections: {}", design.file_name, name,
                          near.empty() ? "" : fmt::format(", perhaps \"{}\"", near), names));
}

// Checks the calibration against the picture. An overrule is recorded only where it was needed.
Status CheckScale(const Job& job, const CalibrationRecord& record, const Micrograph& micrograph,
                  const std::string& taken, InspectOptions& options) {
  std::optional<std::pair<double, double>> embedded;
  if (micrograph.embedded)
    embedded = {micrograph.embedded->pitch_x_um, micrograph.embedded->pitch_y_um};
  ScaleChecks checks;
  checks.taken = taken;
  const auto check = [&](std::vector<std::string>& warnings) {
    return CheckCalibration(record, micrograph.width(), micrograph.height(), embedded, checks,
                            warnings);
  };
  for (;;) {
    std::vector<std::string> warnings;
    const Status status = check(warnings);
    if (status) {
      options.warnings.insert(options.warnings.end(), warnings.begin(), warnings.end());
      return {};
    }
    const Error& error = status.error();
    const bool overdue = error.code == Code::kCalibrationOverdue && job.call.accept_overdue &&
                         !checks.accept_overdue;
    const bool mismatch = error.code == Code::kCalibrationMismatch &&
                          job.call.accept_scale_mismatch && !checks.accept_scale_mismatch;
    if (!overdue && !mismatch) return status;
    (overdue ? checks.accept_overdue : checks.accept_scale_mismatch) = true;
    const std::string cause = error.message.substr(0, error.message.rfind(';'));
    options.overrules.push_back(fmt::format("{}: accepted by {}", cause, job.call.inspector));
  }
}

struct Outcome {
  SectionResult result;
  std::optional<Design> draft;  // survey
};

Result<Drawn> Draw(const Call& call, const Micrograph& micrograph, const Scale& scale,
                   const SectionResult& result) {
  Drawn drawn;
  auto png = RenderPng(micrograph, scale, result);
  if (!png) return tl::unexpected(png.error());
  drawn.png = std::move(*png);
  if (call.svg) {
    auto svg = RenderSvg(micrograph, scale, result);
    if (!svg) return tl::unexpected(svg.error());
    drawn.svg = std::move(*svg);
  }
  if (call.edge_map) {
    PictureOptions options;
    options.edge_map = true;
    auto edges = RenderPng(micrograph, scale, result, options);
    if (!edges) return tl::unexpected(edges.error());
    drawn.edges = std::move(*edges);
  }
  if (result.pressure) {
    PictureOptions options;
    options.pressure_map = true;
    auto pressed = RenderPng(micrograph, scale, result, options);
    if (!pressed) return tl::unexpected(pressed.error());
    drawn.pressed = std::move(*pressed);
  }
  return drawn;
}

Result<Outcome> MeasureImage(const Job& job, const std::string& image, const OutputPaths& paths,
                             ProgressLine& progress) {
  progress.Show(0, "reading");
  ReadOptions reading;
  reading.channel = job.call.channel;
  auto micrograph = ReadMicrograph(image, reading);
  if (!micrograph) return tl::unexpected(micrograph.error());

  InspectOptions options;
  options.measure.u_floor_um = job.call.u_floor_um;
  options.sample = job.call.sample;
  options.inspector = job.call.inspector;
  if (!job.call.pressures_mpa.empty())
    options.measure.loads = PressureLoads{job.call.pressures_mpa, job.call.wires_free};
  options.hints = job.hints;
  options.correct_oblique = job.call.correct_oblique;
  options.progress = [&](double share, std::string_view what) {
    progress.Show(0.1 + 0.8 * share, what);
    return true;
  };
  if (options.sample.taken.empty()) options.sample.taken = micrograph->taken;
  const std::string& kind = job.design.image_kind;
  const bool any_size = TakesPitchOnly(kind);
  auto bench =
      job.benches.For(any_size ? 0 : micrograph->width(), any_size ? 0 : micrograph->height());
  if (!bench) return tl::unexpected(bench.error());
  if (auto status = KeepPitchOnly(kind, micrograph->width(), micrograph->height(), *bench); !status)
    return tl::unexpected(status.error());
  options.warnings = bench->warnings;
  if (const double seam = SeamU_um(kind, bench->scale); seam > 0) {
    options.measure.seam_u_um = seam;
    options.warnings.push_back(fmt::format(
        "stitched picture: a seam off by up to 5 px (common practice) is in the uncertainty of "
        "lengths ({:.2g} um), areas, ratios and clock angles; worse seams are not covered",
        seam));
  }
  const std::string& taken = options.sample.taken;
  if (auto status = CheckScale(job, bench->record, *micrograph, taken, options); !status) {
    return tl::unexpected(status.error());
  }
  if (auto status = CheckRequired(job.call, *bench, taken); !status)
    return tl::unexpected(status.error());
  auto light = ReadFlatField(bench->record, bench->record_path, job.call.channel);
  if (!light) return tl::unexpected(light.error());
  std::optional<Micrograph> even;
  if (*light) {
    auto applied = (*light)->Apply(*micrograph);
    if (!applied) return tl::unexpected(applied.error());
    even = std::move(*applied);
  }
  const Micrograph& measured = even ? *even : *micrograph;

  Outcome outcome;
  if (job.plane != nullptr) {
    auto result =
        job.stages.inspect(measured, bench->record, bench->scale, job.design, *job.plane, options);
    if (!result) return tl::unexpected(result.error());
    outcome.result = std::move(*result);
  } else {
    auto survey = job.stages.survey(measured, bench->record, bench->scale, options);
    if (!survey) return tl::unexpected(survey.error());
    outcome.result = std::move(survey->result);
    outcome.result.image_kind = kind;
    outcome.draft = std::move(survey->draft);
  }
  if (*light) outcome.result.flat_field_sha256 = bench->record.flat_field_sha256;
  progress.Show(0.9, "drawing");
  auto drawn = Draw(job.call, *micrograph, bench->scale, outcome.result);
  if (!drawn) return tl::unexpected(drawn.error());
  if (auto status = WriteOutputs(paths, *drawn, outcome.result); !status)
    return tl::unexpected(status.error());
  return outcome;
}

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
  Result<Outcome> outcome = [&] {
    ProgressLine progress(job.terminal, image, no + 1, job.call.images.size());
    return MeasureImage(job, image, paths, progress);
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
  return ExitOf(outcome->result);
}

// Everything that can be wrong before the first image is opened.
Status Prepare(Job& job) {
  const Call& call = job.call;
  if (auto status = CheckStems(call.images); !status) return status;
  auto benches = Benches::Open(call);
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
    for (const auto& [name, mpa] : call.pressures_mpa) {
      if (job.plane->FindLumen(name) != nullptr) continue;
      std::vector<std::string_view> lumens;
      for (const LumenDesign& lumen : job.plane->lumens) lumens.push_back(lumen.name);
      const std::string near = NearestWord(name, lumens);
      return Fail(Code::kUsage,
                  fmt::format("--pressure {}: {} has no such lumen{}", name, job.plane->name,
                              near.empty() ? "" : fmt::format(", perhaps \"{}\"", near)));
    }
  } else if (!call.draft_design.empty() && ReadFile(call.draft_design)) {
    return Fail(Code::kUsage,
                fmt::format("{}: is there already; a drawing is never overwritten, name a new file",
                            call.draft_design));
  }
  if (!call.image_kind.empty()) {
    if (job.design.method_locked && call.image_kind != job.design.image_kind) {
      return Fail(Code::kUsage,
                  fmt::format("--image-kind {}: {} locks its method to {} pictures; leave the "
                              "option out or change the drawing",
                              call.image_kind, job.design.file_name, job.design.image_kind));
    }
    job.design.image_kind = call.image_kind;
  }
  return MakeFolder(call.out);
}

}  // namespace

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
  if (call->command == Call::Command::kPlanes) return RunPlanes(*call, terminal);
  if (call->command == Call::Command::kOpening) return RunOpening(*call, terminal);
  if (call->command == Call::Command::kReport) return RunReport(*call, terminal);
  if (call->command == Call::Command::kRecords) return RunRecords(*call, terminal, stages);
  Job job{*call, terminal, stages, {}, {}, nullptr, {}};
  if (auto status = Prepare(job); !status) {
    PrintError(terminal, status.error());
    return kExitWrongCall;
  }
  int worst = kExitFine;
  for (std::size_t no = 0; no < call->images.size(); ++no)
    worst = WorseExit(worst, RunImage(job, no));
  return worst;
}

}  // namespace cutface
