// The command qualify: phantoms of a drawing and camera measured here; figures and a page out.
#pragma once

#include "cli/options.h"
#include "cli/text.h"

namespace CLI {
class App;
}

namespace cutface {

// `call` must outlive the parsing, which sets its command when this one is chosen.
void AddQualifyCommand(CLI::App& program, Call& call);
int RunQualifyCommand(const Call& call, const Terminal& terminal);

}  // namespace cutface
