// A shape of the drawing changed by hand: moved, drawn larger or smaller at a handle, or given a
// size that was typed. All in micrometres in the drawing's frame; the room design says what can be
// a shape. Keywords: shape, drag, handle, size, path.
#pragma once

#include <string>
#include <vector>

#include "cutface/design.h"

namespace cutface::window {

// False: it cannot lie so; then nothing is changed. `um_per_unit`: of the drawing, for paths.
bool MovedBy(Shape& shape, PointUm by, double um_per_unit);

// Where a shape can be taken to change its size: of a circle its four ends, of an ellipse or
// rectangle the ends of its axes, of a path its outermost places.
std::vector<PointUm> HandlesOf(const Shape& shape);
// Handle `no` follows to a place; the centre stays. Sizes are rounded to 0.1 um.
bool DragHandle(Shape& shape, std::size_t no, PointUm to, double um_per_unit);

// What can be typed: "diameter", "width", "height", "x", "y" (of the centre, from the datum's).
struct ShapeSize {
  std::string id, label;
  double um = 0;
};
std::vector<ShapeSize> SizesOf(const Shape& shape);
// Of a path width or height: the other follows, a path keeps its form. False: no such size, not
// above zero where it must be, or no shape comes of it.
bool SetSize(Shape& shape, const std::string& id, double um, double um_per_unit);

}  // namespace cutface::window
