// Wires that were given to the wrong one of two layers.
//
// Layers lie close to one another, and a wire that was pushed out of its own may stand among the
// other's. It is told by its place where one layer has too many, and by its size where they differ.
// Keywords: double braid, layer, swap.
#pragma once

#include <vector>

#include "identify/wire_tracer.h"

namespace cutface::wires {

// A layer with more wires than slots may hold another one's: as many as it has too many are passed
// on, those first that lie farthest off it, where another layer lies nearer. Which one found no
// slot says little: two that stand one over the other want the same.
void PassOn(std::vector<Tracer>& tracers);

// A wire that stands alone and has clearly another layer's size is passed on to that layer where
// that one has fewer wires than it should.
void PassBySize(std::vector<Tracer>& tracers);

// What one layer lacks may be what another has too many of: neither is counted then.
void DoubtSwaps(std::vector<Tracer>& tracers);

}  // namespace cutface::wires
