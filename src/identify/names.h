// Which registration names the regions best, once their shapes are known.
//
// The explained share of tones finds the face, but one filled or collapsed lumen can tip it between
// turns that name alike lumens differently. The regions' own shapes decide then: mean overlap
// (intersection / union) of each nominal lumen with the region it would name.
#pragma once

#include "identify/regions.h"

namespace cutface {

struct NameChoice {
  int other = -1;     // index in pose.others, -1: the pose stays
  double margin = 1;  // mean overlap of the chosen against the best that names otherwise
};

NameChoice ChooseNames(const Pose& pose, const Regions& regions, const SectionDesign& plane);

}  // namespace cutface
