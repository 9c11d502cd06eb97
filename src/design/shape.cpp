// Shapes to contours.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/design.h"
#include "design/flatten.h"

namespace cutface {
namespace {

constexpr double kToleranceUm = 0.02;
constexpr double kMostUm = 1e6;

// Anything the flattening could not cope with, said before it starts.
Status CheckSize(const char* what, double um) {
  if (um > 0 && um <= kMostUm) return {};
  return Fail(Code::kJsonValue,
              fmt::format("{} must be above 0 and at most 1 m, is {} um", what, um));
}

ContourUm Oval(PointUm centre, double rx, double ry, double turn_rad) {
  PolylineBuilder line(kToleranceUm);
  line.Start(centre + Rotated(PointUm{rx, 0}, turn_rad));
  line.ArcAbout(centre, rx, ry, turn_rad, 0, 2 * kPi);
  return line.Take();
}

ContourUm Rectangle(const Shape& shape) {
  const double r = shape.corner_radius_um;
  const double x = shape.size_x_um / 2 - r, y = shape.size_y_um / 2 - r;
  PolylineBuilder line(kToleranceUm);
  const auto place = [&](double px, double py) {
    return shape.centre + Rotated(PointUm{px, py}, shape.angle_rad);
  };
  line.Start(place(x + r, -y));
  const PointUm corners[] = {{x, y}, {-x, y}, {-x, -y}, {x, -y}};
  for (int i = 0; i < 4; ++i) {
    const PointUm corner = corners[i];
    const double from = i * kPi / 2;
    line.LineTo(place(corner.x + r * std::cos(from), corner.y + r * std::sin(from)));
    if (r > 0) line.ArcAbout(place(corner.x, corner.y), r, r, shape.angle_rad, from, kPi / 2);
  }
  return line.Take();
}

Status Sizes(const Shape& shape) {
  if (!std::isfinite(shape.centre.x) || !std::isfinite(shape.centre.y) ||
      std::abs(shape.centre.x) > kMostUm || std::abs(shape.centre.y) > kMostUm) {
    return Fail(Code::kJsonValue, "center must lie within 1 m");
  }
  if (!std::isfinite(shape.angle_rad)) return Fail(Code::kJsonValue, "angle must be finite");
  if (shape.kind == Shape::Kind::kCircle) return CheckSize("diameter", shape.diameter_um);
  if (auto status = CheckSize("size", shape.size_x_um); !status) return status;
  if (auto status = CheckSize("size", shape.size_y_um); !status) return status;
  // Half a nanometre of slack: a fully rounded end is drawn with radius = half the width.
  const double most = std::min(shape.size_x_um, shape.size_y_um) / 2;
  if (shape.kind == Shape::Kind::kRectangle &&
      !(shape.corner_radius_um >= 0 && shape.corner_radius_um <= most + 5e-4)) {
    return Fail(
        Code::kJsonValue,
        fmt::format("corner_radius must lie from 0 to half the shorter edge ({} um), is {} um",
                    most, shape.corner_radius_um));
  }
  return {};
}

}  // namespace

Status FlattenShape(Shape& shape, double um_per_unit) {
  if (shape.kind == Shape::Kind::kPath) {
    auto contour = FlattenSvgPath(shape.path, um_per_unit, kToleranceUm);
    if (!contour) return tl::unexpected(contour.error());
    shape.contour = std::move(*contour);
    return {};
  }
  if (auto status = Sizes(shape); !status) return status;
  switch (shape.kind) {
    case Shape::Kind::kCircle:
      shape.contour = Oval(shape.centre, shape.diameter_um / 2, shape.diameter_um / 2, 0);
      break;
    case Shape::Kind::kEllipse:
      shape.contour = Oval(shape.centre, shape.size_x_um / 2, shape.size_y_um / 2, shape.angle_rad);
      break;
    default:
      shape.contour = Rectangle(shape);
      break;
  }
  if (!TidyContour(shape.contour)) {
    return Fail(Code::kJsonValue, "encloses no area; check its size and the units");
  }
  return {};
}

}  // namespace cutface
