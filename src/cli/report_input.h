// What a report is made from, gathered from the files that a call names.
#pragma once

#include "cli/options.h"
#include "cutface/report.h"

namespace cutface {

// Reads run.json or result files, the drawing, calibration records and decisions. `warnings` tells
// what is missing and does not stop the report. Errors: those of the readers; kUsage (nothing to
// read, a result that is not the one the run wrote, more than one part in the run).
Result<ReportInput> GatherReport(const Call& call, std::vector<std::string>& warnings);

// Verifies chain and seals of the store and takes what it says of the faces. Errors: those of
// Archive::Open and Verify; kRecordsDamaged.
Status TakeFromRecords(const std::string& place, const Progress& progress, ReportInput& input);

}  // namespace cutface
