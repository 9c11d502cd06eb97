#include "phantom/pen.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace cutface::phantom {
namespace {

// Flattening steps: a full turn of 600 px radius in 4096 chords dips 600 * (pi / 4096)^2 / 2 =
// 1.8e-4 px.
constexpr double kStepsPerTurn = 4096;

double Mm(double px, double mm_per_px) { return std::round(px * mm_per_px * 1e4) / 1e4; }

}  // namespace

std::string Pen::At(PointPx p) const {
  return fmt::format("{:.4f},{:.4f}", Mm(p.x, mm_per_px_) + 0.0, Mm(p.y, mm_per_px_) + 0.0);
}

void Pen::MoveTo(PointPx p) {
  contour_ = {p};
  path_ = "M" + At(p);
}

void Pen::LineTo(PointPx p) {
  contour_.push_back(p);
  path_ += " L" + At(p);
}

void Pen::Arc(PointPx centre, double radius, double a0, double a1) {
  const auto steps = static_cast<int>(std::ceil(std::abs(a1 - a0) / (2 * kPi) * kStepsPerTurn)) + 1;
  for (int i = 1; i <= steps; ++i) {
    const double a = a0 + (a1 - a0) * i / steps;
    contour_.push_back(centre + PointPx{radius * std::cos(a), radius * std::sin(a)});
  }
  // In two halves: an arc command cannot tell a turn of nearly a half from its mirror image.
  const double r = Mm(radius, mm_per_px_);
  for (const double a : {0.5 * (a0 + a1), a1}) {
    path_ += fmt::format(" A{:.4f},{:.4f} 0 0 {} {}", r, r, a1 > a0 ? 1 : 0,
                         At(centre + PointPx{radius * std::cos(a), radius * std::sin(a)}));
  }
}

void Pen::Cubic(PointPx c1, PointPx c2, PointPx p) {
  const PointPx p0 = contour_.back();
  constexpr int kSteps = 128;
  for (int i = 1; i <= kSteps; ++i) {
    const double t = static_cast<double>(i) / kSteps, s = 1 - t;
    contour_.push_back((s * s * s) * p0 + (3 * s * s * t) * c1 + (3 * s * t * t) * c2 +
                       (t * t * t) * p);
  }
  path_ += " C" + At(c1) + " " + At(c2) + " " + At(p);
}

NominalShape Pen::Close() {
  ContourPx clean;
  for (const PointPx p : contour_) {
    if (clean.empty() || Distance(clean.back(), p) > 1e-9) clean.push_back(p);
  }
  while (clean.size() > 1 && Distance(clean.back(), clean.front()) < 1e-9) clean.pop_back();
  return {clean, "{\"path\": \"" + path_ + " Z\"}"};
}

NominalShape CircleShape(PointPx centre, double radius, double mm_per_px) {
  ContourPx contour;
  for (int i = 0; i < static_cast<int>(kStepsPerTurn); ++i) {
    const double a = 2 * kPi * i / kStepsPerTurn;
    contour.push_back(centre + PointPx{radius * std::cos(a), radius * std::sin(a)});
  }
  return {contour,
          fmt::format("{{\"circle\": {{\"center\": [{:.4f}, {:.4f}], \"diameter\": {:.4f}}}}}",
                      Mm(centre.x, mm_per_px) + 0.0, Mm(centre.y, mm_per_px) + 0.0,
                      Mm(2 * radius, mm_per_px))};
}

NominalShape EllipseShape(PointPx centre, double size_x, double size_y, double mm_per_px) {
  ContourPx contour;
  for (int i = 0; i < static_cast<int>(kStepsPerTurn); ++i) {
    const double a = 2 * kPi * i / kStepsPerTurn;
    contour.push_back(centre + PointPx{0.5 * size_x * std::cos(a), 0.5 * size_y * std::sin(a)});
  }
  return {
      contour,
      fmt::format("{{\"ellipse\": {{\"center\": [{:.4f}, {:.4f}], \"size\": [{:.4f}, {:.4f}]}}}}",
                  Mm(centre.x, mm_per_px) + 0.0, Mm(centre.y, mm_per_px) + 0.0,
                  Mm(size_x, mm_per_px), Mm(size_y, mm_per_px))};
}

NominalShape RectangleShape(PointPx centre, double size_x, double size_y, double corner_radius,
                            double mm_per_px) {
  const double x = 0.5 * size_x - corner_radius, y = 0.5 * size_y - corner_radius;
  Pen pen(mm_per_px);
  pen.MoveTo(centre + PointPx{x + corner_radius, -y});
  pen.LineTo(centre + PointPx{x + corner_radius, y});
  pen.Arc(centre + PointPx{x, y}, corner_radius, 0, kPi / 2);
  pen.LineTo(centre + PointPx{-x, y + corner_radius});
  pen.Arc(centre + PointPx{-x, y}, corner_radius, kPi / 2, kPi);
  pen.LineTo(centre + PointPx{-x - corner_radius, -y});
  pen.Arc(centre + PointPx{-x, -y}, corner_radius, kPi, 1.5 * kPi);
  pen.LineTo(centre + PointPx{x, -y - corner_radius});
  pen.Arc(centre + PointPx{x, -y}, corner_radius, 1.5 * kPi, 2 * kPi);
  NominalShape shape = pen.Close();
  shape.json = fmt::format(
      "{{\"rectangle\": {{\"center\": [{:.4f}, {:.4f}], \"size\": [{:.4f}, {:.4f}], "
      "\"corner_radius\": {:.4f}}}}}",
      Mm(centre.x, mm_per_px) + 0.0, Mm(centre.y, mm_per_px) + 0.0, Mm(size_x, mm_per_px),
      Mm(size_y, mm_per_px), Mm(corner_radius, mm_per_px));
  return shape;
}

}  // namespace cutface::phantom
