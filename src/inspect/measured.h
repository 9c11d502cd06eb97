// From a section to numbers, findings and verdicts: what Inspect and Remeasure share.
#pragma once

#include <span>

#include "cutface/inspect.h"

namespace cutface {

// Fills measurements, pressure, findings, characteristics and verdict of `result` from its section.
// `disposed`: findings that a person disposed of, before judging.
void MeasureAndJudge(const Design& design, const SectionDesign& plane, const Scale& scale,
                     const InspectOptions& options, std::span<const Correction> disposed,
                     SectionResult& result);
// "crosstalk, scope and wash": how a correction names a finding.
std::string FindingName(const Finding& finding);

}  // namespace cutface
