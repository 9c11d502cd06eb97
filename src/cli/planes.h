#pragma once

#include "cli/options.h"
#include "cli/text.h"

namespace cutface {

// Exit status: 0, or 2 for a wrong call or file.
int RunPlanes(const Call& call, const Terminal& terminal);
int RunOpening(const Call& call, const Terminal& terminal);

}  // namespace cutface
