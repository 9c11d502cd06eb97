// Small helpers on float pictures for the files of this room. Coordinates are pixels of the picture
// that is passed in.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::segment {

// Bilinear sample; coordinates outside are clamped to the border.
float SampleAt(const cv::Mat1f& image, double x, double y);

// Sets the inside of the contour to `value`.
void Fill(cv::Mat1b& mask, const ContourPx& contour, int value);

// Chain of border pixels to a contour along the border itself: smoothed, moved out by half a pixel,
// positive area.
ContourPx FromChain(const std::vector<cv::Point>& chain, cv::Point origin);

// Pixels of one picture to those of another whose pixels are `factor` times as large.
ContourPx Shrunk(const ContourPx& contour, double factor);
ContourPx Enlarged(const ContourPx& contour, double factor);

// What an edge looks like along a contour.
struct EdgeLook {
  double step = 0;         // median of outside - inside, signed
  double clear_share = 0;  // share of visible places whose step is over a third of it
  double contact = 0;      // share of places that lie on the frame
  double inside = 0;       // median tone just inside
  double outside = 0;
};
EdgeLook LookAlong(const cv::Mat1f& image, const ContourPx& contour, int way);

// Moves each place along its normal to where the tone is half way between the levels on its two
// sides, at most `reach` pixels.
ContourPx AtHalfLevel(const cv::Mat1f& image, const ContourPx& contour, double inside,
                      double outside, double reach);

}  // namespace cutface::segment
