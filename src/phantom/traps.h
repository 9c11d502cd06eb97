// Hostile faces: sound pictures with something in them, or in the files beside them, that does not
// belong to the drawing.
#pragma once

#include "cutface/phantom.h"

namespace cutface::phantom {

// Face `seed` of the hostile set. The trap follows from the seed: seed % 9 in the order of kTraps.
PhantomFace DrawHostileFace(std::uint64_t seed);
// Of the hostile-built set: seed % 12 in the order of kBuiltTraps.
PhantomFace DrawHostileBuiltFace(std::uint64_t seed);

}  // namespace cutface::phantom
