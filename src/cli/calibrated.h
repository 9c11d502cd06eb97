// calibrate and check as whole commands.
#pragma once

#include "cli/options.h"
#include "cutface/cli.h"
#include "cutface/job.h"

namespace cutface {

// The bench that a call names.
BenchWish WishOf(const Call& call);

// They return the exit status.
int RunCalibrate(const Call& call, const Terminal& terminal);
int RunCheck(const Call& call, const Terminal& terminal);

}  // namespace cutface
