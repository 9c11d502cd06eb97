// How much larger than the metal its picture is.
//
// A blurred edge seen at the level where the metal's share is one half lies on the metal's edge
// only when nothing saturates; bright metal moves it outwards, the ends of a slender ellipse move
// inwards. The level at which edges are seen is the same for all wires of a layer: it follows from
// the half axis across, which the drawing knows, and tells the half axis along.
// Keywords: halo, saturation, blur, ellipse, level.
#pragma once

#include "identify/wire_fit.h"

namespace cutface {

// Share of light that a blurred ellipse (bar) of these half axes shows at a place of its axes.
double BlurredAlong(const WireSize& size, double blur_px, double s);
double BlurredAcross(const WireSize& size, double blur_px, double t);

struct Halo {
  double level = 0.5;  // of the metal's share at which edges are seen
  double across = 0;   // px by which the seen half axis exceeds the true one
  double along = 0;    // likewise
  bool told = true;    // false: the seen size does not fit the drawn one
};
// `seen` at the half level; `across` true half axis across.
Halo TellHalo(const WireSize& seen, double across, double blur_px);

}  // namespace cutface
