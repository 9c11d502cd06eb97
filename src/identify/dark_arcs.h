// Dark arcs near where a bond is drawn: adhesive that is missing, told without its seams.
//
// Where a layer is missing its seams cannot be followed, and a seam that was followed wrongly
// elsewhere leads past the gap. What is dark, long, and about as thick as the layer is a gap of it
// wherever it lies near.
// Keywords: bond gap, starved bond, connected component, unrolled.
#pragma once

#include <vector>

#include "identify/gap_clock.h"
#include "identify/tone_reader.h"

namespace cutface {

// `inner`, `outer`: the layer's two seams as drawn, in the picture; `bores`: contours in which dark
// is no gap. Lengths in px. The arcs are by the clock about the middle of `inner`.
std::vector<GapFound> DarkArcs(const ToneReader& tone, const ContourPx& inner,
                               const ContourPx& outer, const std::vector<ContourPx>& bores);

}  // namespace cutface
