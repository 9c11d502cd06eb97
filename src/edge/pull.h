// What blur does to curved edges and to corners.
#pragma once

namespace cutface {

// A place of a settled contour, as far as blur goes. Curvature is 1 / px, smoothed over some 6 px,
// positive where convex; `mean` is the contour's own, 2 pi over its perimeter.
struct CurvedPlace {
  double blur = 1, curvature = 0, mean = 0;
};

// Outward displacement that undoes the pull, px: blur^2 / 2 times the curvature (Verbeek & van
// Vliet 1994), and more at corners.
double CurvaturePull(const CurvedPlace& place);

// What a corner's true roundness leaves open, px.
double CornerDoubt(const CurvedPlace& place);

}  // namespace cutface
