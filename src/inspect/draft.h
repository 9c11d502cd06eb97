// A drawing drafted from a measured face: the simplest shapes that follow its contours, rounded.
#pragma once

#include <string>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface::inspect {

// One section named "draft", kind shaft, its origin at the centre of the outline's shape, axes as
// in the picture. Characteristics stay empty: a sample shows sizes, not limits. What could not be
// drawn (cut off by the frame, overlapping) is left out and said in `warnings`.
Design DraftDesign(const Section& section, double pitch_um, std::vector<std::string>& warnings);

// The simplest of circle, ellipse, rounded rectangle and path that stays near the contour
// (micrometres, relative to `origin`): the first three within 2 % of the radius or 1 px, the path
// within 0.5 px. Sizes are rounded to about 0.2 px.
Shape FittedShape(const ContourUm& contour, PointUm origin, double pitch_um, LengthUnit units,
                  bool path_only = false);

}  // namespace cutface::inspect
