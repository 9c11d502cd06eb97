// Polygon tools of the phantom room: shaping as-built contours and taking their exact sizes.
//
// Written apart from the measuring rooms on purpose: what is here says what is true, and nothing in
// it may share a mistake with the code that is tested against it. All lengths are pixels, x right,
// y down, pixel centres on whole numbers; contours are closed, last vertex joined to the first.
// Keywords: phantom, truth, resample, smooth, least distance, inscribed circle, calipers, union.
#pragma once

#include <cstddef>
#include <utility>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::phantom {

// Affine map in the plane: p -> (a x + b y + tx, c x + d y + ty).
struct Affine {
  double a = 1, b = 0, c = 0, d = 1, tx = 0, ty = 0;
  PointPx operator()(PointPx p) const { return {a * p.x + b * p.y + tx, c * p.x + d * p.y + ty}; }
};
Affine Compose(const Affine& outer, const Affine& inner);  // outer after inner
Affine RotationMap(double radians);
// Stretches by `factor` along the direction `radians`, about the origin.
Affine StretchMap(double factor, double radians);
ContourPx Mapped(const ContourPx& contour, const Affine& map);
// The same map with `centre` in place of the origin.
Affine About(PointPx centre, const Affine& map);

double AreaOf(const ContourPx& contour);  // signed: positive when it turns +x towards +y
double LengthOf(const ContourPx& contour);
PointPx CentroidOf(const ContourPx& contour);
bool Inside(const ContourPx& contour, PointPx p);  // even-odd
std::pair<PointPx, PointPx> BoundsOf(const ContourPx& contour);
PointPx OutwardNormalAt(const ContourPx& contour, std::size_t vertex);

// `count` vertices at equal steps of arc length.
ContourPx EqualSteps(const ContourPx& contour, std::size_t count);
// Gaussian average of the vertices along the arc; rounds corners to about 1.5 `sigma`. The contour
// must have equal steps.
ContourPx ArcSmoothed(const ContourPx& contour, double sigma);
// Vertices rounded to 1/1000 px, as the truth file writes them.
ContourPx Rounded(const ContourPx& contour);

struct Gap {
  double distance = 0;  // 0 when the contours cross or one edge touches the other
  PointPx on_first, on_second;
};
Gap LeastGap(const ContourPx& first, const ContourPx& second);
// From a point to the edges of a contour; on_first = p.
Gap LeastGap(PointPx p, const ContourPx& contour);

struct WidthPair {
  double least = 0, greatest = 0;
};
WidthPair WidthsOf(const ContourPx& contour);  // between parallel tangents

struct Disc {
  PointPx centre;
  double radius = 0;
  double rms = 0;  // of the distances to the arc (least squares only)
};
// Orthogonal least squares over the whole arc, edges included (not only vertices).
Disc LeastSquaresDisc(const ContourPx& contour);
// Largest disc inside; the radius is at most 5e-4 px too small.
Disc InscribedDisc(const ContourPx& contour);

// Union of polygons; the outer boundary of the largest piece.
ContourPx UnionOf(const std::vector<ContourPx>& parts);

}  // namespace cutface::phantom
