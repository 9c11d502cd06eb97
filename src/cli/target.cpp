#include "cli/target.h"

#include <fmt/format.h>

namespace cutface {

Result<TargetSpec> SpecOf(const Call& call) {
  const TargetCall& target = call.target;
  TargetSpec spec;
  std::string kind = target.target;
  if (kind.empty()) {
    kind = target.artefact == "dot grid"         ? "dot grid"
           : target.artefact == "check standard" ? "circle"
           : target.diameter_um > 0              ? "circle"
                                                 : "line scale";
  }
  auto parsed = ParseTargetKind(kind);
  if (!parsed) return tl::unexpected(parsed.error());
  spec.kind = *parsed;
  const bool round = spec.kind == TargetKind::kCircle || spec.kind == TargetKind::kPin;
  if (round && !(target.diameter_um > 0))
    return Fail(Code::kUsage, fmt::format("a {} needs its --diameter, as 0.5mm", kind));
  if (!round && !(target.division_um > 0))
    return Fail(Code::kUsage, fmt::format("a {} needs its --division, as 10um", kind));
  spec.division_um = target.division_um;
  spec.diameter_um = target.diameter_um;
  spec.certificate_u_um = target.u_um;
  spec.temperature_c = target.temperature_c;
  spec.nominal_pitch_um = call.calibrate.nominal_pitch_um;
  return spec;
}

Result<TargetFit> FindTarget(const Micrograph& picture, const TargetSpec& spec) {
  if (spec.kind == TargetKind::kLineScale) return FindLineScale(picture, spec);
  if (spec.kind == TargetKind::kDotGrid || spec.kind == TargetKind::kCrossGrid) {
    return FindGrid(picture, spec);
  }
  return Fail(
      Code::kUsage,
      fmt::format("a {} cannot make a record: it tells one size only; calibrate with a line "
                  "scale or a grid, then `cutface check` with the {}",
                  TargetKindName(spec.kind), TargetKindName(spec.kind)));
}

}  // namespace cutface
