// Where the drawing lies in the picture: centre, rotation, mirror and stretch of the cut face.
//
// 1. Centre: the nominal outline is matched with the picture's edges by double-angle correlation
// (FFT), so that
//    neither the sign nor the height of the tone step matters.
// 2. Outline: a closed minimum-cost path along the normals of the placed nominal outline.
// 3. Rotation and mirror: share of tone variance that the drawing's labels explain (correlation
// ratio,
//    Roche et al. 1998), with a quadratic light field fitted along, over all angles.
// Keywords: registration, correlation ratio, symmetry, interchangeable.
#pragma once

#include <opencv2/core.hpp>

#include "cutface/design.h"
#include "identify/warp.h"

namespace cutface {

struct Pose {
  Warp warp;  // design um -> picture px (full resolution)
  bool mirrored = false;
  double rotation_rad = 0;
  ContourPx outline;                  // coarse traced outline, full-resolution px
  std::vector<char> outline_visible;  // per vertex: inside the frame
  double outline_unlike = 0;          // share of it whose tones are not those expected there
  std::vector<std::vector<std::string>> interchangeable;
  std::vector<Warp> others;  // further registrations that name lumens otherwise, best first
};

// The same pose with another registration, its derived fields renewed.
Pose WithWarp(const Pose& pose, const Warp& warp);

// `work` is the reduced picture, 0..1, `reduction` its block edge; um_per_px at full resolution.
// `detail`: the picture shows a part of the face only; every place is tried, and a fit that is not
// the only one is an error. `least`: share of the tones' variance that the drawing must explain.
// Errors: kNoSection, kTwoParts.
inline constexpr double kExplainedLeast = 0.25;
Result<Pose> FindPose(const cv::Mat1f& work, int reduction, double um_per_px,
                      const SectionDesign& plane, bool detail = false,
                      double least = kExplainedLeast);

}  // namespace cutface
