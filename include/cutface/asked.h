// What a person asks of the face by hand: one or two edges, or stretches of them, and the figures
// that they give, each with its interval from the same draws as every other quantity.
//
// One stretch gives radius and arc_length; two give distance, thickness, angle (of stretches that
// are no whole edges) and centre_distance. Definitions stand in the table (QuantityOf::kAsked).
//
// Not measured, with the reason: places that were bridged or cut off by the frame where the figure
// needs them; a radius whose u is more than a quarter of it; an angle of stretches that depart from
// a straight line by more than 3 % of their length; a thickness of stretches of which less than
// half faces the other. (These limits are the project's own.) An oblique or squashed face widens
// limits as it does those of other lengths; figures are those of the face as seen, also where the
// other measurements are corrected for the tilt.
// Keywords: ask, edge, arc, distance, angle, radius, thickness.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/measure.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

// The places of the edge that are asked about, in order along the edge; of a whole edge the first
// one again at the end. Errors: kNotFound: no such edge on this face, or it was not found; kUsage:
// one end only, or both ends at one place.
Result<ContourUm> AskedStretch(const Section& section, const AskedEdge& edge);

// All figures that apply. Errors: as above; kUsage: no edge or more than two, the same stretch
// twice.
Result<std::vector<Measurement>> AskEdges(const Section& section, const Scale& scale,
                                          std::span<const AskedEdge> edges,
                                          const MeasureOptions& options = {});

// Figures that were kept, measured again on a corrected face. One whose edge is gone stays, as not
// measured.
std::vector<AskedFigure> AskAgain(const Section& section, const Scale& scale,
                                  std::span<const AskedFigure> asked,
                                  const MeasureOptions& options = {});

std::span<const std::string_view> AskedWords();

}  // namespace cutface
