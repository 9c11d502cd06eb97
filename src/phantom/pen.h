// Draws nominal shapes: a finely flattened contour and, beside it, the JSON of a design file.
// Keywords: path, arc, Bezier, SVG path data, circle, ellipse, rectangle.
#pragma once

#include <string>

#include "phantom/families.h"

namespace cutface::phantom {

// Path data with M, L, A, C and Z, millimetres to 4 decimals. Coordinates in px. The path must turn
// +x towards +y.
class Pen {
 public:
  explicit Pen(double mm_per_px) : mm_per_px_(mm_per_px) {}
  void MoveTo(PointPx p);
  void LineTo(PointPx p);
  // From angle a0 to a1 about `centre`; at most one turn. The pen must stand at a0.
  void Arc(PointPx centre, double radius, double a0, double a1);
  void Cubic(PointPx c1, PointPx c2, PointPx p);
  NominalShape Close();

 private:
  std::string At(PointPx p) const;
  double mm_per_px_;
  ContourPx contour_;
  std::string path_;
};

NominalShape CircleShape(PointPx centre, double radius, double mm_per_px);
NominalShape EllipseShape(PointPx centre, double size_x, double size_y, double mm_per_px);
NominalShape RectangleShape(PointPx centre, double size_x, double size_y, double corner_radius,
                            double mm_per_px);

}  // namespace cutface::phantom
