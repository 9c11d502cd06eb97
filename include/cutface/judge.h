// Verdicts against the drawing: guarded by default (ISO 14253-1, JCGM 106).
//
// p is the probability that the true value lies within the limits, from the measured value and the
// half of its 95 % interval that points to the limit (intervals are not symmetric), the drawing's
// preparation_u added in quadrature. Guarded: p >= conformance conforms, p <= 1 - conformance does
// not conform, between the two nothing is proven. Simple: the value itself decides, allowed only
// where half the interval is at most a quarter of the distance between two limits; otherwise
// nothing is proven (a value beyond doubt outside still does not conform), and with one limit,
// which has no tolerance to compare with, the guarded rule holds. Keywords: conforms, not proven,
// guard band, conformance probability, roll-up.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface {

// Probability that the true value lies within the limits, for a value with u (normal). u = 0: 0
// or 1.
double ConformanceProbability(double value, double u, std::optional<double> lower,
                              std::optional<double> upper);
// The same with a standard uncertainty for each direction from the value (two half normals).
double ConformanceProbability(double value, double u_below, double u_above,
                              std::optional<double> lower, std::optional<double> upper);

struct Judgement {
  std::vector<CharacteristicResult> rows;
  Verdict verdict = Verdict::kNotJudged;
};
// Rows in the drawing's order; worst row decides; a high finding without a row of its own caps the
// section at "not proven" unless disposed of. Compares unrounded. `section` (may be null) tells
// rows on findings whether the picture would have shown them; without it the findings themselves
// do.
Judgement Judge(const Design& design, const SectionDesign& plane,
                std::span<const Measurement> measurements, std::span<const Finding> findings,
                const Section* section = nullptr);

}  // namespace cutface
