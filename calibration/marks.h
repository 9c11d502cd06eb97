// Isolated marks of a grid (dots, crosses): where their middles are.
#pragma once

#include <vector>

#include "cutface/micrograph.h"

namespace cutface::calibration {

struct Blob {
  PointPx at;       // centre of gravity of its light against the ground around
  double area = 0;  // px
};

// All whole marks of usual size; those at the frame and those that dirt joins or halves are left
// out.
std::vector<Blob> FindBlobs(const Micrograph& picture);

}  // namespace cutface::calibration
