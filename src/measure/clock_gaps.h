// Gaps along a layer as they are seen from its centre: arcs by the clock.
// Keywords: bonded arc, longest gap, starved bond, liner gap.
#pragma once

#include <vector>

#include "cutface/design.h"
#include "measure/face.h"

namespace cutface::measure {

struct ClockGaps {
  bool told = false;  // gaps along this layer are looked for and its edges were found
  int count = 0;
  double total_deg = 0, longest_deg = 0;
  double u_end_deg = 0;       // of one end of a gap
  double unseen_deg = 0;      // the longest arc that can be overlooked
  std::vector<PointUm> ends;  // of the longest gap
};

// Of the bond: voids of class bond gap that reach at least `gap_um` across, from the shaft's
// centre.
ClockGaps BondGaps(const Face& face, const SectionDesign& plane, double pitch_um);
// Of a layer: the adhesive's are the bond's, a liner's are the gaps nearest to its outer edge.
ClockGaps LayerGaps(const Face& face, const Layer& layer, const SectionDesign& plane,
                    double pitch_um);

}  // namespace cutface::measure
