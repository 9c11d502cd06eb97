// Voids in the body: compact places whose tone is not the body's.
//
// Edges spoil the body's tone beside them (blur, glowing rims, dark refraction bands). That is
// learnt from the picture itself: the median tone at each distance from each contour is taken off
// and its scatter sets how much must be left. What remains is thresholded at half of each place's
// own peak; long, hollow and frayed places (scratches, halos) are no voids.
// Keywords: void, bubble, inclusion, edge profile, half height.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "identify/regions.h"
#include "identify/tones.h"

namespace cutface {

// `inside`: 255 within the outline; `taken`: 255 in lumens (work px both). Strongest first.
std::vector<CoarseVoid> FindVoids(const FaceTones& tones, int reduction, const cv::Mat1b& inside,
                                  const cv::Mat1b& taken);

// Outer boundary of a mask's longest chain as a smooth contour in full-resolution px, positive
// area; empty when it has fewer than 6 places. `origin` of the mask in the work picture.
ContourPx MaskBoundary(const cv::Mat1b& mask, cv::Point origin, int reduction);

}  // namespace cutface
