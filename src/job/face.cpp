// The checks before measuring, and the measuring.
#include <fmt/format.h>

#include <utility>

#include "cutface/job.h"

namespace cutface {

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

Result<ScaleOutcome> CheckScale(const CalibrationRecord& record, const Micrograph& micrograph,
                                const std::string& taken, const FaceOrder& order) {
  ScaleOutcome outcome;
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
      outcome.warnings = std::move(warnings);
      return outcome;
    }
    const Error& error = status.error();
    const bool overdue =
        error.code == Code::kCalibrationOverdue && order.accept_overdue && !checks.accept_overdue;
    const bool mismatch = error.code == Code::kCalibrationMismatch && order.accept_scale_mismatch &&
                          !checks.accept_scale_mismatch;
    if (!overdue && !mismatch) return tl::unexpected(error);
    (overdue ? checks.accept_overdue : checks.accept_scale_mismatch) = true;
    const std::string cause = error.message.substr(0, error.message.rfind(';'));
    outcome.overrules.push_back(fmt::format("{}: accepted by {}", cause, order.inspector));
  }
}

Result<ReadyFace> PrepareFace(const Micrograph& micrograph, const Benches& benches,
                              const std::string& image_kind, const FaceOrder& order) {
  ReadyFace ready;
  InspectOptions& options = ready.options;
  options.measure.u_floor_um = order.u_floor_um;
  options.measure.loads = order.loads;
  options.sample = order.sample;
  options.inspector = order.inspector;
  options.hints = order.hints;
  options.correct_oblique = order.correct_oblique;
  options.progress = order.progress;
  if (options.sample.taken.empty()) options.sample.taken = micrograph.taken;
  const bool any_size = TakesPitchOnly(image_kind);
  const int width = micrograph.width(), height = micrograph.height();
  auto bench =
      benches.For(any_size ? 0 : width, any_size ? 0 : height, order.objective, order.bench);
  if (!bench) return tl::unexpected(bench.error());
  if (auto status = KeepPitchOnly(image_kind, width, height, *bench); !status)
    return tl::unexpected(status.error());
  options.warnings = bench->warnings;
  if (const double seam = SeamU_um(image_kind, bench->scale); seam > 0) {
    options.measure.seam_u_um = seam;
    options.warnings.push_back(fmt::format(
        "stitched picture: a seam off by up to 5 px (common practice) is in the uncertainty of "
        "lengths ({:.2g} um), areas, ratios and clock angles; worse seams are not covered",
        seam));
  }
  const std::string& taken = options.sample.taken;
  auto checked = CheckScale(bench->record, micrograph, taken, order);
  if (!checked) return tl::unexpected(checked.error());
  options.warnings.insert(options.warnings.end(), checked->warnings.begin(),
                          checked->warnings.end());
  options.overrules = std::move(checked->overrules);
  if (auto status = CheckRequired(order.require_check_h, *bench, taken); !status)
    return tl::unexpected(status.error());
  auto light = ReadFlatField(bench->record, bench->record_path, order.channel);
  if (!light) return tl::unexpected(light.error());
  if (*light) {
    auto applied = (*light)->Apply(micrograph);
    if (!applied) return tl::unexpected(applied.error());
    ready.evened = std::move(*applied);
  }
  ready.bench = std::move(*bench);
  return ready;
}

Result<MeasuredFace> MeasureFace(const Micrograph& micrograph, const Benches& benches,
                                 const Design& design, const SectionDesign* plane,
                                 const FaceOrder& order, const Stages& stages) {
  auto ready = PrepareFace(micrograph, benches, design.image_kind, order);
  if (!ready) return tl::unexpected(ready.error());
  MeasuredFace face;
  face.ready = std::move(*ready);
  const Micrograph& measured = face.ready.evened ? *face.ready.evened : micrograph;
  const Bench& bench = face.ready.bench;
  if (plane != nullptr) {
    auto result =
        stages.inspect(measured, bench.record, bench.scale, design, *plane, face.ready.options);
    if (!result) return tl::unexpected(result.error());
    face.result = std::move(*result);
  } else {
    auto survey = stages.survey(measured, bench.record, bench.scale, face.ready.options);
    if (!survey) return tl::unexpected(survey.error());
    face.result = std::move(survey->result);
    face.result.image_kind = design.image_kind;
    face.draft = std::move(survey->draft);
  }
  if (face.ready.evened) face.result.flat_field_sha256 = bench.record.flat_field_sha256;
  return face;
}

}  // namespace cutface
