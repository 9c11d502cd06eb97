// The command report: a run or result files in; PDF, XLSX, HTML, CSV and QIF out.
#pragma once

#include "cli/options.h"
#include "cli/text.h"

namespace CLI {
class App;
}

namespace cutface {

// `call` must outlive the parsing.
void AddReportOptions(CLI::App& app, Call& call);
int RunReport(const Call& call, const Terminal& terminal);

}  // namespace cutface
