#include "cutface/inspect.h"

#include <fmt/format.h>

#include "cutface/analyse.h"
#include "cutface/identify.h"
#include "cutface/judge.h"
#include "inspect/shared.h"

namespace cutface {
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
