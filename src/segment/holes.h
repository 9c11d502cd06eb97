// Compact regions inside the outline that differ from the body: lumens and voids alike.
#pragma once

#include <vector>

#include "cutface/segment.h"
#include "segment/body.h"

namespace cutface::segment {

// Contours in pixels of `work`; `reduction` is the size of those in pixels of the full picture.
// Largest first; `main_step` receives the typical step of the prevailing direction (0: none).
std::vector<ProposedHole> FindHoles(const Body& body, int reduction, double& main_step);

}  // namespace cutface::segment
