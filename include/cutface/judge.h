// Verdicts against the drawing: guarded by default (ISO 14253-1, JCGM 106).
// Keywords: conforms, not proven, guard band, conformance probability, roll-up.
#pragma once

#include <span>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface {

// Probability that the true value lies within the limits, for a value with u (normal).
double ConformanceProbability(double value, double u, std::optional<double> lower,
                              std::optional<double> upper);

struct Judgement {
  std::vector<CharacteristicResult> rows;
  Verdict verdict = Verdict::kNotJudged;
};
// Rows in the drawing's order; worst row decides; a high finding without a row of its own caps the
// section at "not proven" unless disposed of. Compares unrounded.
Judgement Judge(const Design& design, const SectionDesign& plane,
                std::span<const Measurement> measurements, std::span<const Finding> findings);

}  // namespace cutface
