// The command study: results or a table in; figures, a page and preparation_u
// out.
#pragma once

#include "cli/options.h"
#include "cli/text.h"

namespace CLI {
class App;
}

namespace cutface {

// `call` must outlive the parsing.
void AddStudyOptions(CLI::App &app, Call &call);
int RunStudyCommand(const Call &call, const Terminal &terminal);

}  // namespace cutface
