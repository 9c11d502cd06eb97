// cutface compare: what the results of a run say together.
#pragma once

#include "cli/options.h"
#include "cutface/cli.h"

namespace CLI {
class App;
}

namespace cutface {

void AddCompareOptions(CLI::App& app, Call& call);
// Words that need reading: bounds. Errors: kUsage.
Status TakeCompareWords(Call& call);
int RunCompare(const Call& call, const Terminal& terminal);

}  // namespace cutface
