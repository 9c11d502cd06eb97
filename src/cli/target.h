// A target in a picture, as the call describes it.
#pragma once

#include "cli/options.h"
#include "cutface/calibration.h"

namespace cutface {

// Errors: kUsage: a kind that does not go with the artefact, or without its size.
Result<TargetSpec> SpecOf(const Call& call);
// Finds what `spec` says, with the finder of its kind. Errors: those of the finders.
Result<TargetFit> FindTarget(const Micrograph& picture, const TargetSpec& spec);

}  // namespace cutface
