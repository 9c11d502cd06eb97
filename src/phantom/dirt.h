// What preparing and mounting leaves in a picture: lips, gaps, chips, scratches, dust, bubbles.
// Keywords: phantom, smear, shrink gap, chip, scratch, dust, bubble, holder, scale bar.
#pragma once

#include "cutface/phantom.h"
#include "cutface/stats.h"

namespace cutface::phantom {

// A strip along `contour` between arc lengths at its vertices: from the edge to `width` px outside
// (negative: inside), tapering to nothing at both ends over a third of its length.
ContourPx StripAlong(const ContourPx& contour, double middle_share, double length_px, double width,
                     double ragged, Random& random);

// Adds dirt to a scene whose outline, lumens and tones are set. `pitch_um` only labels the scale
// bar.
void AddDirt(PhantomScene& scene, bool hard, double pitch_um, Random& random);

}  // namespace cutface::phantom
