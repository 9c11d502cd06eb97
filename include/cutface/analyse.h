// Findings: what is at risk on this face and the evidence. Reads measurements, computes no number.
// Keywords: collapsed lumen, thin septum, crosstalk, oblique cut, wrong part, poor image.
#pragma once

#include <span>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface {

std::vector<Finding> Analyse(const Section& section, const Design* design,
                             const SectionDesign* plane, std::span<const Measurement> measurements);

}  // namespace cutface
