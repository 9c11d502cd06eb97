// Oblique or squashed? The stretch that the outline, the lumens and their pattern have in common.
#pragma once

#include "cutface/design.h"
#include "identify/pose.h"

namespace cutface {

// Common stretch as a tilt of the cut: cos(tilt) = 1 / stretch. One round feature alone cannot
// tell a tilt from an oval part; at least two that agree are needed.
struct CommonStretch {
  double tilt_rad = 0;  // 0 when none is shown
  double axis_rad = 0;  // direction of the stretch in the picture
  double stretch = 1;
  double disagreement = 0;  // rms of the features about the common stretch
  int features = 0;
};

struct FeaturePair {
  ContourPx measured;
  ContourUm nominal;
};
CommonStretch FindCommonStretch(const Pose& pose, double px_per_um,
                                std::span<const FeaturePair> features);

}  // namespace cutface
