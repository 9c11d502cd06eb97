// Profiles across the lines of a line scale and the arms of crosses, for gamma and blur.
#pragma once

#include <vector>

#include "calibration/lines.h"
#include "calibration/mark_light.h"
#include "cutface/calibration.h"

namespace cutface::calibration {

// Profiles of lines that have both neighbours, at most some dozens of them; nothing where black or
// white is cut off by the camera (`clipped` then).
struct LightSamples {
  std::vector<MarkProfile> marks;
  bool clipped = false;
};
LightSamples ProfilesOfLines(const Micrograph& picture, const Lines& lines);

// A grid's marks: centres, and one step of the lattice (px) to the next mark.
struct GridPlaces {
  std::vector<PointPx> centres;
  double ax = 0, ay = 0;
};
LightSamples ProfilesOfDots(const Micrograph& picture, const GridPlaces& grid);
LightSamples ProfilesOfCrosses(const Micrograph& picture, const GridPlaces& grid);

// Gamma and blur of the picture into `fit`; a remark where they are not told.
void TellLight(LightSamples samples, TargetFit& fit);

}  // namespace cutface::calibration
