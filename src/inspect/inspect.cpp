#include "cutface/inspect.h"

#include <fmt/format.h>

#include "cutface/analyse.h"
#include "cutface/identify.h"
#include "cutface/judge.h"

namespace cutface {
namespace {

bool Going(const InspectOptions& options, double share, std::string_view what) {
  return !options.progress || options.progress(share, what);
}

tl::unexpected<Error> Stopped() {
  return Fail(Code::kCancelled, "stopped by request; nothing was written");
}

void FillIdentity(const Micrograph& micrograph, const CalibrationRecord& calibration,
                  const Scale& scale, const InspectOptions& options, SectionResult& result) {
  result.software = CUTFACE_VERSION;
  result.time = NowUtc();
  result.inspector = options.inspector;
  result.sample = options.sample;
  if (result.sample.taken.empty()) result.sample.taken = micrograph.taken;
  result.image_file = micrograph.file_name;
  result.image_sha256 = micrograph.sha256;
  result.image_width_px = micrograph.width();
  result.image_height_px = micrograph.height();
  result.calibration_id = calibration.id;
  result.calibration_sha256 = calibration.sha256;
  result.calibration_certified = calibration.Certified();
  result.mean_pitch_um = scale.mean_pitch_um();
  result.overrules = options.overrules;
  result.warnings = options.warnings;
}

}  // namespace

Result<SectionResult> Inspect(const Micrograph& micrograph, const CalibrationRecord& calibration,
                              const Scale& scale, const Design& design, const SectionDesign& plane,
                              const InspectOptions& options) {
  if (!Going(options, 0.1, "finding the face")) return Stopped();
  IdentifyOptions identify;
  identify.edge_cutoff_um = design.edge_cutoff_um;
  identify.gamma = calibration.gamma;
  auto section = IdentifySection(micrograph, scale, plane, identify);
  if (!section) return tl::unexpected(section.error());

  if (!Going(options, 0.5, "measuring")) return Stopped();
  SectionResult result;
  FillIdentity(micrograph, calibration, scale, options, result);
  result.part = design.part_number;
  result.revision = design.revision;
  result.section_name = plane.name;
  result.design_sha256 = design.sha256;
  result.units = design.units;
  result.image_kind = design.image_kind;
  if (!result.sample.station_mm) result.sample.station_mm = plane.station_mm;
  result.section = std::move(*section);
  result.measurements = MeasureSection(result.section, &design, &plane, scale, options.measure);

  if (!Going(options, 0.9, "judging")) return Stopped();
  result.findings = Analyse(result.section, &design, &plane, result.measurements);
  Judgement judgement = Judge(design, plane, result.measurements, result.findings, &result.section);
  result.characteristics = std::move(judgement.rows);
  result.verdict = judgement.verdict;
  return result;
}

}  // namespace cutface
