// What an error means for the exit status.
#pragma once

#include "cutface/base.h"

namespace cutface {

int ExitOf(Code code);

}  // namespace cutface
