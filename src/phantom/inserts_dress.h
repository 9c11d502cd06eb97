// Tones of rings, liners, wires, fibres and gaps. After Dress. Keywords: phantom, tone, halo.
#pragma once

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/as_built.h"

namespace cutface::phantom {

void DressInserts(PhantomScene& scene, const BuiltPart& part, bool hard, Random& random);

}  // namespace cutface::phantom
