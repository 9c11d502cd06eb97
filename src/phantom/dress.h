// Light, tones and dirt drawn at random for a part that lies in the picture.
// Keywords: phantom, tones, rim, lip, gap, scratches, dust, illumination.
#pragma once

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/as_built.h"

namespace cutface::phantom {

// Fills tones, lumens, voids, optics, sensor and effects of `scene`, whose size and light are set.
// What `look` tells is taken from it; the numbers drawn stay the same. `pitch_um` only labels a
// burnt-in scale bar.
void Dress(PhantomScene& scene, const BuiltPart& part, PhantomSet set, double pitch_um,
           Random& random, const PhantomLook& look = {});

}  // namespace cutface::phantom
