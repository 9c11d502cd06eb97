// From the values of one quantity over the draws to its bias, standard uncertainty and interval.
// Keywords: bias, interval, bootstrap, skewness, floor, one-sided.
#pragma once

#include <span>

#include "cutface/quantity.h"
#include "cutface/section.h"

namespace cutface::measure {

struct Spread {
  double bias = 0;      // mean difference of the drawn values from the one at rest
  double u = 0;         // standard deviation
  double skewness = 0;  // 0 unless clearly present
};
// `differences`: drawn value minus value at rest.
Spread SpreadOf(std::span<const double> differences);

struct IntervalRules {
  const QuantityRow* row = nullptr;
  double floor = 0;         // least u, in the row's unit
  double extra_u = 0;       // independent of the draws, in quadrature
  double over_reading = 0;  // lo reaches this much further down (tilt not corrected)
  double unseen = 0;        // hi is at least this (the largest thing that can be overlooked)
};
// Fills value, u, lo, hi of a measurement whose `raw` is set.
void SetInterval(Measurement& m, const Spread& spread, const IntervalRules& rules);

}  // namespace cutface::measure
