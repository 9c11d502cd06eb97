// A run to compare, read from the files that a call names.
#pragma once

#include <string>
#include <vector>

#include "cutface/compare.h"

namespace cutface {

struct GatheredRun {
  Run run;
  std::vector<NominalFace> nominals;  // planes of the drawing; empty without one
  std::vector<std::string> warnings;
};

// `what`: one folder with run.json, or result files and folders of them; `design`: the drawing's
// file, "" for the one that run.json names. Of many faces an even choice is laid over the drawing.
// Errors: those of the readers; kUsage (nothing to read, a result that is not the one the run
// wrote); kDesignMismatch.
Result<GatheredRun> GatherRun(const std::vector<std::string>& what, const std::string& part,
                              const std::string& design);

}  // namespace cutface
