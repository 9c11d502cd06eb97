#include "cutface/inspect.h"

#include <fmt/format.h>

#include <numbers>

#include "cutface/identify.h"
#include "inspect/measured.h"
#include "inspect/shared.h"

namespace cutface {
namespace {

// Notes the asked correction where it can be made; what is done or not done stands in the result.
void NoteCorrection(SectionResult& result) {
  constexpr double kDegrees = 180 / std::numbers::pi;
  Placement& placement = result.section.placement;
  if (!(placement.oblique_rad > 0)) {
    result.warnings.push_back(fmt::format(
        "the correction of an oblique cut was asked for and not made: {}",
        placement.stretch_kind == StretchKind::kSquashed ? "the slice is squashed, not tilted"
                                                         : "no tilt is shown"));
    return;
  }
  placement.oblique_corrected = true;
  result.edits.push_back(fmt::format(
      "values corrected for an oblique cut of {:.2f} degrees (u {:.2f}), stretched along {:.0f} "
      "degrees in the picture, on request{}{}; values as seen stand beside them{}",
      placement.oblique_rad * kDegrees, placement.u_oblique_rad * kDegrees,
      placement.oblique_axis_rad * kDegrees, result.inspector.empty() ? "" : " of ",
      result.inspector,
      placement.stretch_kind == StretchKind::kEither
          ? "; sizes do not tell the tilt from a squashed slice, so half of the correction is in "
            "the uncertainty"
          : ""));
}

}  // namespace

Result<SectionResult> Inspect(const Micrograph& micrograph, const CalibrationRecord& calibration,
                              const Scale& scale, const Design& design, const SectionDesign& plane,
                              const InspectOptions& options) {
  if (!Going(options, 0.1, "finding the face")) return Stopped();
  IdentifyOptions identify;
  identify.edge_cutoff_um = design.edge_cutoff_um;
  identify.gamma = calibration.gamma;
  identify.u_gamma = calibration.gamma_u.value_or(0);
  identify.detail = design.image_kind == "crop";
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
  if (options.correct_oblique) NoteCorrection(result);
  MeasureAndJudge(design, plane, scale, options, {}, result);
  return result;
}

}  // namespace cutface
