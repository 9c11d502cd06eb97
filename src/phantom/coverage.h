// Exact area coverage of polygons on a pixel grid, and distances to their edges.
//
// A pixel's coverage is the exact area of the polygon inside its square (no sampling), so that a
// rendered edge lies where the polygon is. The grid may be finer than the picture: `factor` cells
// per pixel and direction; cell (i, j) spans ((i, i + 1) / factor - 0.5) in picture x.
// Keywords: rasterise, anti-aliasing, exact area, signed distance, scanline.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::phantom {

// Coverage of the cells inside `cells` (in cells of the whole grid), 0..1, CV_32FC1; 0 elsewhere.
struct Tile {
  cv::Rect cells;
  cv::Mat coverage;
};

// Of a simple contour that turns +x towards +y. What lies outside the picture is cut off exactly.
Tile CoverageOf(const ContourPx& contour, int width_px, int height_px, int factor);

// Distance of each pixel centre (factor 1) to the nearest edge of any of the contours, CV_32FC1, at
// most `band` (farther pixels hold `band`).
cv::Mat EdgeDistance(const std::vector<ContourPx>& contours, int width_px, int height_px,
                     float band);

}  // namespace cutface::phantom
