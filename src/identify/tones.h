// Tones of a registered face: the body's light field, and each lumen's and the potting's tone
// relative to it. After division by the light field the body is 1 everywhere.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/design.h"
#include "cutface/edge.h"
#include "identify/pose.h"

namespace cutface {

struct FaceTones {
  cv::Mat1f relative;        // work picture / light field, lightly smoothed
  cv::Mat1f fine;            // the same, hardly smoothed
  double smoothing_px = 1;   // of `relative`, px of work
  double body_tone = 0.5;    // full scale, mean of the light field over the face
  double noise = 0.01;       // of `relative` in the body (robust)
  double fine_noise = 0.01;  // of `fine`
  double outside = 1;        // potting just outside, relative
  double skin = 1;           // of the outermost ring; 1 where the drawing has no rings
  std::vector<double>
      lumen;  // per lumen of the drawing, relative; NaN when it shows no tone of its own
  double typical_step = 0;  // signed, lumen - body, of most lumens (0: none differs from the body)
  LightField light;         // of the body, full-resolution px
  cv::Mat1s nominal;        // work raster: -1 outside, 0 body, 1 + k lumen k
};

FaceTones FindTones(const cv::Mat1f& work, int reduction, const Pose& pose,
                    const SectionDesign& plane);

}  // namespace cutface
