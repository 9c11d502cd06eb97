// What stands out from the body inside the outline, before anything is named.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "identify/tones.h"

namespace cutface {

struct UnnamedRegion {
  PointPx centre;   // full-resolution px
  double area = 0;  // full-resolution px^2
};

// Connected regions at one level between body (0) and lumen (1): a low level finds pale lumens
// whole, a high one still parts two lumens along a thin septum.
struct RegionPool {
  std::vector<UnnamedRegion> regions;
  cv::Mat1i label;       // 0: none, 1 + index of the region
  double px_per_px = 1;  // px of `label` per full-resolution px

  PointPx corner;  // full-resolution px of the label picture's upper left corner

  int At(PointPx p) const;  // index of the region at a place, -1: none
};

// By rising level, without levels that part nothing.
std::vector<RegionPool> FindRegionPools(const FaceTones& tones, int reduction, const Pose& pose);

}  // namespace cutface
