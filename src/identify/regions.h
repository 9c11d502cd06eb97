// Connected regions of the registered face, given the drawing's names: lumens, merged lumens,
// voids.
//
// Coarse by intent (about a pixel of the work picture): tracing and edge fitting settle the
// contours.
#pragma once

#include <string>
#include <vector>

#include "identify/tones.h"

namespace cutface {

struct CoarseLumen {
  std::vector<int> lumens;    // indices in the drawing; two or more when merged
  ContourPx contour;          // full-resolution px, positive area
  double step = 0;            // signed, lumen - body, relative tone
  double ridge_contrast = 1;  // weakest contrast of the septum where two lumens had to be parted
  bool cut_by_frame = false;
};

struct CoarseVoid {
  ContourPx contour;
  double step = 0;      // signed, void - body, relative tone
  double noise = 0.01;  // of the tones it was found in
  double blur_px = 0;   // softness of its own edge, as the sigma of a blurred step
};

struct Regions {
  std::vector<CoarseLumen> lumens;
  std::vector<int> missing;
  std::vector<CoarseVoid> voids;
};

Regions FindRegions(const FaceTones& tones, int reduction, const Pose& pose,
                    const SectionDesign& plane);

}  // namespace cutface
