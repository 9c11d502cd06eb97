// From a contour at work to a settled one: places, their scatter and doubts, and what all of them
// share.
#pragma once

#include "cutface/edge.h"
#include "edge/optics.h"
#include "edge/pull.h"
#include "edge/shape.h"
#include "edge/work.h"

namespace cutface {

// What the picture's passes know when a contour is finished.
struct Finishing {
  const Optics& optics;
  const EdgeShape& shape;  // of this contour
  double smoothing_px = 0;
};

// A place of a contour under the picture's blur.
CurvedPlace CurvedAt(const Work& w, const Optics& optics, std::size_t place);

// Scatter of one pixel of the body, as stored / full scale.
double StoredNoise(const Work& w, const Optics& optics);

// Where nothing steps, the start is all that is known.
SettledContour Unsettled(const Work& w, const char* why);

SettledContour FinishContour(const Work& w, const Finishing& with);

}  // namespace cutface
