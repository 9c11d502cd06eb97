#include "cli/target.h"

#include <fmt/format.h>

#include "cutface/calibration_keeping.h"
#include "cutface/targets.h"

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
  const bool round = IsRound(spec.kind);
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

Status CheckCertificate(const Call& call, const std::string& used) {
  const std::string& due = call.target.certificate_due;
  if (due.empty()) return {};
  if (!ParseClockTime(due + "T00:00")) {
    return Fail(Code::kUsage,
                fmt::format("--certificate-due {}: is no date, write it as 2027-03-02", due));
  }
  if (used.substr(0, 10) <= due) return {};
  return Fail(Code::kCalibrationOverdue,
              fmt::format("certificate {} ran out on {}, the artefact was used on {}; have it "
                          "certified again",
                          call.target.certificate, due, used.substr(0, 10)));
}

}  // namespace cutface
