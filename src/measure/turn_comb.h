// The even comb that the turns of a lengthwise section stand in: both rows share direction and
// pitch. Keywords: pitch, least squares, turn, row.
#pragma once

#include <vector>

#include "cutface/section.h"

namespace cutface::measure {

struct Turn {
  const WireTrace* wire = nullptr;
  int row = 0, slot = -1;  // slot -1: an extra wire
  PointUm off;             // from its place in the comb
  bool steers = true;
};

struct CombFit {
  PointUm base[2], step;         // place = base[row] + slot * step
  double along = 0, across = 0;  // deviation of a wire about its place
  double sum_squares = 0;        // of slots about their rows' means
  double rows[2] = {0, 0};       // wires that steer
  double pitch() const { return Norm(step); }
  PointUm axis() const { return (1 / Norm(step)) * step; }
};

// Least squares of the places against the numbers; wires far off their place do not steer it. Fills
// `off` and `steers`.
CombFit FitComb(std::vector<Turn>& turns);

}  // namespace cutface::measure
