// A run to compare, read from the files that a call names.
#pragma once

#include <string>
#include <vector>

#include "cutface/compare.h"

namespace cutface {

// `what`: one folder with run.json, or result files and folders of them. Errors: those of the
// readers; kUsage (nothing to read, a result that is not the one the run wrote); kDesignMismatch.
Result<Run> GatherRun(const std::vector<std::string>& what, const std::string& part);

}  // namespace cutface
