// What measuring with and without a drawing have in common.
#pragma once

#include "cutface/inspect.h"

namespace cutface {

// Reports progress; false when the caller wants to stop.
bool Going(const InspectOptions& options, double share, std::string_view what);
tl::unexpected<Error> Stopped();

// Software, time, sample, picture and calibration of a result.
void FillIdentity(const Micrograph& micrograph, const CalibrationRecord& calibration,
                  const Scale& scale, const InspectOptions& options, SectionResult& result);

}  // namespace cutface
