// Every number of a cut face, each with an honest interval.
//
// Method: the contours' error model (noise along the contour, slowly varying and common shifts, scale)
// is drawn `draws` times for all contours together; every quantity is evaluated on the traced contours
// and on each drawn set. The spread gives u, the quantiles lo and hi, the mean the bias of extremes.
// Monte Carlo propagation after JCGM 101:2008. One function per row of cutface/quantity.h.
// Keywords: diameter, septum, wall, barrier, inscribed, interval, draws.
#pragma once

#include <cstdint>
#include <vector>

#include "cutface/design.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

struct MeasureOptions {
  int draws = 64;             // REQUIRES: 0 or >= 16. 0: values only (lo = hi = value, u = 0)
  std::uint64_t seed = 1;     // same seed, same digits
  double u_floor_um = 0.5;    // site's floor for u of lengths; 0 for accuracy benches
  bool brute_force = false;   // slow twins of the distance searches
};

// Every quantity that applies, asked for by the drawing or not; `design` may be null (survey).
std::vector<Measurement> MeasureSection(const Section& section, const Design* design,
                                        const SectionDesign* plane, const Scale& scale,
                                        const MeasureOptions& options = {});

// One function per row: words that have a measuring function, for the test against the table.
std::vector<std::pair<std::string, int>> MeasuredWords();  // word, QuantityOf as int

}  // namespace cutface
