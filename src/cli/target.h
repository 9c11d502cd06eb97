// A target in a picture, as the call describes it.
#pragma once

#include "cli/options.h"
#include "cutface/calibration.h"

namespace cutface {

// Errors: kUsage: a kind that does not go with the artefact, or without its size.
Result<TargetSpec> SpecOf(const Call& call);
// Does the artefact's certificate hold on the day (ISO date, or date and time) that it was used?
// Errors: kUsage: --certificate-due is no date; kCalibrationOverdue.
Status CheckCertificate(const Call& call, const std::string& used);

}  // namespace cutface
