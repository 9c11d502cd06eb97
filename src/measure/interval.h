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

// By what the bias seen in draws must be multiplied to be the bias of the traced contour. The draws
// start from a contour that still has some of the noise (share kCalmNoise, long waves), so where
// many places compete for the extreme (a flat septum) they show too little of it. Where bias grows
// with the noise variance v like v^p, `single` and `tripled` (differences under the same luck with
// the ripple's variance once and three times) tell p: their ratio is 3 for p = 1 (curvature rules,
// factor 1) and 1.96 for p = 1/2 (many places compete, factor 1.15, found by simulation of flat and
// nearly concentric walls). 1 where the bias is not clearly seen.
double BiasFactor(std::span<const double> single, std::span<const double> tripled);

struct IntervalRules {
  const QuantityRow* row = nullptr;
  bool correct_bias = false;
  double floor = 0;         // least u, in the row's unit
  double extra_u = 0;       // independent of the draws, in quadrature
  double over_reading = 0;  // lo reaches this much further down (tilt not corrected)
  double unseen = 0;        // hi is at least this (the largest thing that can be overlooked)
};
// Fills value, u, lo, hi of a measurement whose `raw` is set.
void SetInterval(Measurement& m, const Spread& spread, const IntervalRules& rules);

}  // namespace cutface::measure
