// The drawing laid on its traced outline: where the tones of a whole face led the registration
// astray (a strongly tilted cut, a part half outside the frame), the outline alone may show it.
// Keywords: point-to-line registration, reweighted least squares.
#pragma once

#include <vector>

#include "identify/outline_trace.h"

namespace cutface {

// `warp` shifted and stretched (not turned) until the drawn outline lies on what is seen of the
// traced one: least squares of the distances along the normals (Chen & Medioni 1992, Image and
// Vision Computing 10, 145), Tukey's weights. `of_all`: share of the outline's places that `seen`
// are. The same warp where too little is seen.
Warp LaidOn(const Warp& warp, const SectionDesign& plane, const std::vector<PointPx>& seen,
            double of_all);
Warp LaidOnTrace(const Warp& warp, const SectionDesign& plane, const OutlineTrace& trace);

// Greatest way that a place of the drawn outline goes from one registration to the other, px.
double OutlineMoved(const Warp& from, const Warp& to, const SectionDesign& plane);

}  // namespace cutface
