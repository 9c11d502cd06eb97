// Tones of the full picture relative to the body's light field, between pixels.
#pragma once

#include <algorithm>

#include "cutface/edge.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

class ToneReader {
 public:
  ToneReader(const Micrograph& micrograph, const LightField& light)
      : micrograph_(micrograph), light_(light) {}
  // Bilinear; places beyond the frame are held at its rim.
  double operator()(PointPx p) const {
    const double x = std::clamp(p.x, 0.0, micrograph_.width() - 1.001);
    const double y = std::clamp(p.y, 0.0, micrograph_.height() - 1.001);
    const int xi = static_cast<int>(x), yi = static_cast<int>(y);
    const double fx = x - xi, fy = y - yi;
    const double tone =
        (1 - fy) * ((1 - fx) * micrograph_.At(xi, yi) + fx * micrograph_.At(xi + 1, yi)) +
        fy * ((1 - fx) * micrograph_.At(xi, yi + 1) + fx * micrograph_.At(xi + 1, yi + 1));
    return tone / light_.At(p.x, p.y);
  }
  bool Inside(PointPx p) const {
    return p.x >= 0 && p.y >= 0 && p.x <= micrograph_.width() - 1 &&
           p.y <= micrograph_.height() - 1;
  }

 private:
  const Micrograph& micrograph_;
  const LightField& light_;
};

inline ContourPx InPx(const TracedContour& contour, const Scale& scale) {
  const ContourUm points = contour.Points();
  return scale.ToPx(std::span<const PointUm>(points));
}

}  // namespace cutface
