// Rows of wires as a lengthwise section draws them, um.
// Keywords: lengthwise, wire, row, drawn size.
#pragma once

#include <algorithm>
#include <cmath>

#include "cutface/design.h"
#include "cutface/geometry.h"

namespace cutface {

// Size of the cut wire as drawn. A wire at angle a to the axis meets a lengthwise plane at 90 - a.
struct DrawnWire {
  double across = 0, along = 0;  // um
};
inline DrawnWire SizeOf(const WireLayerDesign& layer) {
  const double a = layer.braid_angle_deg.value_or(90) * M_PI / 180;
  const double stretch = 1 / std::max(0.2, std::sin(a));
  if (layer.flat_um) return {layer.flat_um->first, layer.flat_um->second * stretch};
  const double d = layer.round_um.value_or(0);
  return {d, d * stretch};
}

inline double RadiusOf(const WireLayerDesign& layer) {
  double sum = 0;
  for (double d : layer.on_diameters_um) sum += 0.5 * d;
  return sum / std::max<double>(1, static_cast<double>(layer.on_diameters_um.size()));
}

// Where the axis is drawn.
inline double MiddleOf(const SectionDesign& plane) {
  const Box<FrameUm> box = BoundingBox(plane.outline.contour);
  return 0.5 * (box.least.y + box.greatest.y);
}

inline double LengthOf(const SectionDesign& plane) {
  const Box<FrameUm> box = BoundingBox(plane.outline.contour);
  return box.greatest.x - box.least.x;
}

}  // namespace cutface
