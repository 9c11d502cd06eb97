// Words of wire layers: count, covers, the layer's circle, braid angle and what follows from it.
//
// Wires are few and stiff, so their words do not go through the draws of contours: uncertainties
// are put together from those of wires' places, the layer's halo, the other contour and the scale.
// Keywords: wire, braid, cover, braid angle, picks, coverage.
#pragma once

#include <string_view>
#include <vector>

#include "cutface/measure.h"

namespace cutface::measure {

// Every word of every wire layer of the drawing; nothing without a drawing.
void MeasureWires(const Section& section, const SectionDesign* plane, const Scale& scale,
                  const MeasureOptions& options, std::vector<Measurement>& out);

std::vector<std::string_view> WireWords();

}  // namespace cutface::measure
