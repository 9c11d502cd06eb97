#include "cli/face.h"

#include <fmt/format.h>

#include "cutface/picture.h"

namespace cutface {
namespace {

// Checks the calibration against the picture. An overrule is recorded only where it was needed.
Status CheckScale(const FaceJob& job, const CalibrationRecord& record, const Micrograph& micrograph,
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

}  // namespace

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

Result<FaceOutcome> MeasureFace(const FaceJob& job, const std::string& image,
                                const OutputPaths& paths) {
  const auto going = [&](double share, std::string_view what) {
    return !job.progress || job.progress(share, what);
  };
  const auto stopped = [&] { return Fail(Code::kCancelled, image + ": the run was stopped"); };
  if (!going(0, "reading")) return stopped();
  ReadOptions reading;
  reading.channel = job.call.channel;
  reading.max_pixels = job.max_pixels;
  auto micrograph = ReadMicrograph(image, reading);
  if (!micrograph) return tl::unexpected(micrograph.error());

  InspectOptions options;
  options.measure.u_floor_um = job.call.u_floor_um;
  options.sample = job.sample;
  options.inspector = job.call.inspector;
  if (!job.call.pressures_mpa.empty())
    options.measure.loads = PressureLoads{job.call.pressures_mpa, job.call.wires_free};
  if (job.hints != nullptr) options.hints = *job.hints;
  options.correct_oblique = job.call.correct_oblique;
  options.progress = [&](double share, std::string_view what) {
    return going(0.1 + 0.8 * share, what);
  };
  if (options.sample.taken.empty()) options.sample.taken = micrograph->taken;
  const std::string& kind = job.design.image_kind;
  const bool any_size = TakesPitchOnly(kind);
  auto bench = job.benches.For(any_size ? 0 : micrograph->width(),
                               any_size ? 0 : micrograph->height(), job.objective, job.bench);
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

  FaceOutcome outcome;
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
  if (!going(0.9, "drawing")) return stopped();
  Result<Drawn> drawn = Drawn{};
  if (job.draws) drawn = Draw(job.call, *micrograph, bench->scale, outcome.result);
  if (!drawn) return tl::unexpected(drawn.error());
  if (auto status = WriteOutputs(paths, *drawn, outcome.result); !status)
    return tl::unexpected(status.error());
  return outcome;
}

Status TakeImageKind(const Call& call, Design& design) {
  if (call.image_kind.empty()) return {};
  if (design.method_locked && call.image_kind != design.image_kind) {
    return Fail(Code::kUsage,
                fmt::format("--image-kind {}: {} locks its method to {} pictures; leave the "
                            "option out or change the drawing",
                            call.image_kind, design.file_name, design.image_kind));
  }
  design.image_kind = call.image_kind;
  return {};
}

int ExitOf(Verdict verdict) {
  switch (verdict) {
    case Verdict::kConforms:
    case Verdict::kNotJudged:
    case Verdict::kElsewhere:
      return kExitFine;
    default:
      return kExitNotAllConform;
  }
}

}  // namespace cutface
