#include "gui/state/shape_edit.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>

namespace cutface::window {
namespace {

double Rounded(double um) { return std::round(10 * um) / 10; }

// An SVG path scaled and moved: p becomes s p + d. Absolute coordinates take both, relative ones
// and radii the scale; an arc's angle and flags stay. The first command is absolute in SVG whatever
// its case.
std::string ChangedPath(const std::string& path, double s, double dx, double dy) {
  std::string out;
  char command = 'M';
  int index = 0;
  bool first = true;
  for (std::size_t i = 0; i < path.size();) {
    const char c = path[i];
    if (std::isalpha(static_cast<unsigned char>(c)) != 0 && c != 'e' && c != 'E') {
      command = c;
      index = 0;
      out += c;
      ++i;
      continue;
    }
    double value = 0;
    const auto [end, error] = std::from_chars(path.data() + i, path.data() + path.size(), value);
    if (error != std::errc()) {
      out += c;
      ++i;
      continue;
    }
    const bool absolute = std::isupper(static_cast<unsigned char>(command)) != 0 || first;
    const char kind = static_cast<char>(std::toupper(static_cast<unsigned char>(command)));
    const int in_arc = index % 7;
    const bool length = kind != 'A' || in_arc < 2 || in_arc > 4;
    const int place = kind == 'A' ? in_arc - 5 : kind == 'H' ? 0 : kind == 'V' ? 1 : index % 2;
    if (length) value *= s;
    if (absolute && place == 0) value += dx;
    if (absolute && place == 1) value += dy;
    out += fmt::format("{:.6g}", value);
    i = static_cast<std::size_t>(end - path.data());
    if (++index == 2) first = false;
  }
  return out;
}

bool Takes(Shape& shape, Shape changed, double um_per_unit) {
  if (!FlattenShape(changed, um_per_unit)) return false;
  shape = std::move(changed);
  return true;
}

PointUm MiddleOf(const Shape& shape) {
  if (shape.kind != Shape::Kind::kPath) return shape.centre;
  const Box<FrameUm> box = BoundingBox(shape.contour);
  return 0.5 * (box.least + box.greatest);
}

bool Scaled(Shape& shape, double s, double um_per_unit) {
  if (!(s > 0.01 && s < 100)) return false;
  Shape changed = shape;
  const PointUm d = (1 - s) / um_per_unit * MiddleOf(shape);
  changed.path = ChangedPath(shape.path, s, d.x, d.y);
  return Takes(shape, std::move(changed), um_per_unit);
}

PointUm AxisOf(const Shape& shape, bool across) {
  const double a = shape.angle_rad + (across ? 0 : std::acos(0.0));
  return {std::cos(a), std::sin(a)};
}

}  // namespace

bool MovedBy(Shape& shape, PointUm by, double um_per_unit) {
  Shape changed = shape;
  if (shape.kind == Shape::Kind::kPath)
    changed.path = ChangedPath(shape.path, 1, by.x / um_per_unit, by.y / um_per_unit);
  else
    changed.centre = shape.centre + by;
  return Takes(shape, std::move(changed), um_per_unit);
}

std::vector<PointUm> HandlesOf(const Shape& shape) {
  const PointUm c = shape.centre;
  switch (shape.kind) {
    case Shape::Kind::kCircle: {
      const double r = 0.5 * shape.diameter_um;
      return {c + PointUm{r, 0}, c + PointUm{0, r}, c + PointUm{-r, 0}, c + PointUm{0, -r}};
    }
    case Shape::Kind::kEllipse:
    case Shape::Kind::kRectangle: {
      const PointUm x = 0.5 * shape.size_x_um * AxisOf(shape, true);
      const PointUm y = 0.5 * shape.size_y_um * AxisOf(shape, false);
      return {c + x, c + y, c - x, c - y};
    }
    case Shape::Kind::kPath:
      break;
  }
  if (shape.contour.size() < 3) return {};
  const auto farthest = [&](double x, double y) {
    return *std::max_element(shape.contour.begin(), shape.contour.end(), [&](PointUm a, PointUm b) {
      return x * a.x + y * a.y < x * b.x + y * b.y;
    });
  };
  return {farthest(1, 0), farthest(0, 1), farthest(-1, 0), farthest(0, -1)};
}

bool DragHandle(Shape& shape, std::size_t no, PointUm to, double um_per_unit) {
  const std::vector<PointUm> handles = HandlesOf(shape);
  if (no >= handles.size()) return false;
  const PointUm middle = MiddleOf(shape), d = to - middle;
  if (shape.kind == Shape::Kind::kCircle)
    return SetSize(shape, "diameter", Rounded(2 * Norm(d)), um_per_unit);
  if (shape.kind == Shape::Kind::kPath) {
    const double before = Norm(handles[no] - middle);
    return before > 0 && Scaled(shape, Norm(d) / before, um_per_unit);
  }
  const bool across = no % 2 == 0;
  const PointUm axis = AxisOf(shape, across);
  return SetSize(shape, across ? "width" : "height",
                 Rounded(2 * std::abs(d.x * axis.x + d.y * axis.y)), um_per_unit);
}

std::vector<ShapeSize> SizesOf(const Shape& shape) {
  std::vector<ShapeSize> sizes;
  if (shape.kind == Shape::Kind::kCircle) {
    sizes.push_back({"diameter", "diameter", shape.diameter_um});
  } else if (shape.kind == Shape::Kind::kPath) {
    if (shape.contour.size() < 3) return sizes;
    const Box<FrameUm> box = BoundingBox(shape.contour);
    sizes.push_back({"width", "width", box.greatest.x - box.least.x});
    sizes.push_back({"height", "height", box.greatest.y - box.least.y});
  } else {
    sizes.push_back({"width", "width", shape.size_x_um});
    sizes.push_back({"height", "height", shape.size_y_um});
  }
  const PointUm middle = MiddleOf(shape);
  sizes.push_back({"x", "middle, x", middle.x});
  sizes.push_back({"y", "middle, y", middle.y});
  return sizes;
}

bool SetSize(Shape& shape, const std::string& id, double um, double um_per_unit) {
  if (!std::isfinite(um)) return false;
  const PointUm middle = MiddleOf(shape);
  if (id == "x") return MovedBy(shape, {um - middle.x, 0}, um_per_unit);
  if (id == "y") return MovedBy(shape, {0, um - middle.y}, um_per_unit);
  if (!(um > 0)) return false;
  if (shape.kind == Shape::Kind::kPath) {
    for (const ShapeSize& size : SizesOf(shape))
      if (size.id == id && size.um > 0) return Scaled(shape, um / size.um, um_per_unit);
    return false;
  }
  Shape changed = shape;
  if (id == "diameter" && shape.kind == Shape::Kind::kCircle)
    changed.diameter_um = um;
  else if (id == "width" && shape.kind != Shape::Kind::kCircle)
    changed.size_x_um = um;
  else if (id == "height" && shape.kind != Shape::Kind::kCircle)
    changed.size_y_um = um;
  else
    return false;
  return Takes(shape, std::move(changed), um_per_unit);
}

}  // namespace cutface::window
