// Measures the two rows of turns in a lengthwise section: pitch and its spread, covers, coverage.
//
// A turn's place follows from its number: the rows share one direction and one pitch, fitted with
// least squares over the numbered wires; missing ones are skipped by number, and wires that stand
// far off their place do not steer the fit. The direction is fitted too, so that a tilt of the axis
// in the picture has no part in any value. Covers run from the wire's edge to the long edges of the
// wall, never to the ends of the sample. A cut beside the axis shows walls too thick: as far as the
// section is lower than drawn, lower limits of covers are widened by it.
// Keywords: pitch, coil, cover, displacement, rows.
#pragma once

#include <vector>

#include "cutface/design.h"
#include "cutface/measure.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface::measure {

// Every word of every wire layer, and covers and displacement of each wire. REQUIRES: the plane is
// a lengthwise one.
std::vector<Measurement> MeasureLengthwise(const Section& section, const SectionDesign& plane,
                                           const Scale& scale, const MeasureOptions& options);

// Words of the table that only lengthwise sections have.
std::vector<std::string_view> LengthwiseWords();

}  // namespace cutface::measure
