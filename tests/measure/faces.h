// Faces made by hand: contours of known shape with a stated error model, and noise after that model
// from a generator of its own (the product's draws are what these tests judge).
#pragma once

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"
#include "cutface/stats.h"

namespace cutface::faces {

inline ContourUm CirclePoints(PointUm centre, double radius, int count) {
  ContourUm points;
  for (int i = 0; i < count; ++i) {
    const double a = 2 * kPi * i / count;
    points.push_back(centre + radius * PointUm{std::cos(a), std::sin(a)});
  }
  return points;
}

// A polygon's edges cut into steps of at most `spacing`; corners stay.
inline ContourUm Subdivided(const ContourUm& corners, double spacing) {
  ContourUm points;
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const PointUm a = corners[i], b = corners[(i + 1) % corners.size()];
    const int steps = std::max(1, static_cast<int>(std::ceil(Distance(a, b) / spacing)));
    for (int k = 0; k < steps; ++k) points.push_back(a + (1.0 * k / steps) * (b - a));
  }
  return points;
}

inline ContourUm RectanglePoints(PointUm centre, double width, double height, double spacing) {
  const double x = width / 2, y = height / 2;
  return Subdivided({centre + PointUm{-x, -y}, centre + PointUm{x, -y}, centre + PointUm{x, y},
                     centre + PointUm{-x, y}},
                    spacing);
}

inline ContourUm EllipsePoints(PointUm centre, double a, double b, int count) {
  // Equal steps of arc, from a fine table: equal steps of the parameter crowd at the flat ends.
  ContourUm fine;
  const int n = 40 * count;
  for (int i = 0; i < n; ++i) {
    const double t = 2 * kPi * i / n;
    fine.push_back(centre + PointUm{a * std::cos(t), b * std::sin(t)});
  }
  std::vector<double> arc{0};
  for (std::size_t i = 0; i < fine.size(); ++i) {
    arc.push_back(arc.back() + Distance(fine[i], fine[(i + 1) % fine.size()]));
  }
  ContourUm points;
  std::size_t j = 0;
  for (int i = 0; i < count; ++i) {
    const double s = arc.back() * i / count;
    while (arc[j + 1] < s) ++j;
    points.push_back(fine[j]);
  }
  return points;
}

// The part of a circle above the chord at height `chord_y` (y < chord_y in the picture's frame).
inline ContourUm SegmentPoints(PointUm centre, double radius, double chord_y, double spacing) {
  const double half = std::acos(-chord_y / radius);  // half angle of the arc about -y
  const int arc_steps = std::max(8, static_cast<int>(std::ceil(2 * half * radius / spacing)));
  ContourUm points;
  for (int i = 0; i <= arc_steps; ++i) {
    const double a = -kPi / 2 - half + 2 * half * i / arc_steps;
    points.push_back(centre + radius * PointUm{std::cos(a), std::sin(a)});
  }
  const PointUm a = points.back(), b = points.front();
  const int chord_steps = static_cast<int>(std::ceil(Distance(a, b) / spacing));
  for (int i = 1; i < chord_steps; ++i) points.push_back(a + (1.0 * i / chord_steps) * (b - a));
  return points;
}

struct ErrorModel {
  double sigma = 0, noise_length = 0, u_common = 0, u_arc = 0, arc_length = 0;
};

inline TracedContour Traced(const ContourUm& points, const ErrorModel& model = {}) {
  TracedContour contour;
  const ContourUm normals = OutwardNormals<FrameUm>(points);
  for (std::size_t i = 0; i < points.size(); ++i) {
    contour.vertices.push_back({points[i], normals[i], model.sigma, VertexState::kMeasured});
  }
  contour.u_common_um = model.u_common;
  contour.u_arc_um = model.u_arc;
  contour.arc_length_um = model.arc_length;
  contour.noise_length_um = model.noise_length;
  return contour;
}

inline LumenTrace Lumen(const std::string& name, const ContourUm& points,
                        const ErrorModel& model = {}) {
  LumenTrace lumen;
  lumen.names = {name};
  lumen.bore = Traced(points, model);
  return lumen;
}

inline Void Hole(int no, const ContourUm& points, VoidClass kind = VoidClass::kVoid) {
  Void hole;
  hole.no = no;
  hole.kind = kind;
  hole.contour = Traced(points);
  hole.centroid = Centroid<FrameUm>(points);
  hole.area_um2 = Area<FrameUm>(points);
  return hole;
}

// A zero-mean periodic process with unit variance and correlation exp(-(d / length)^2): a Fourier
// series with the variance of each harmonic after the transform of the correlation.
inline std::vector<double> Ripple(const ContourUm& points, double length, Random& random) {
  std::vector<double> arc{0};
  for (std::size_t i = 0; i < points.size(); ++i) {
    arc.push_back(arc.back() + Distance(points[i], points[(i + 1) % points.size()]));
  }
  const double perimeter = arc.back();
  std::vector<double> out(points.size(), 0.0);
  std::vector<double> variance;
  double sum = 0;
  for (int k = 0; k <= static_cast<int>(perimeter / length) + 2; ++k) {
    const double x = kPi * k * length / perimeter;
    variance.push_back((k == 0 ? 1 : 2) * std::exp(-x * x));
    sum += variance.back();
  }
  for (std::size_t k = 0; k < variance.size(); ++k) {
    const double scale = std::sqrt(variance[k] / sum);
    const double a = scale * random.Normal(), b = scale * random.Normal();
    for (std::size_t i = 0; i < out.size(); ++i) {
      const double phase = 2 * kPi * static_cast<double>(k) * arc[i] / perimeter;
      out[i] += k == 0 ? a : a * std::cos(phase) + b * std::sin(phase);
    }
  }
  return out;
}

// The contour as a tracer with this error model might have seen it, in a picture whose scale is off
// by the factors sx and sy.
inline TracedContour Seen(const ContourUm& truth, const ErrorModel& model, double sx, double sy,
                          Random& random) {
  const ContourUm normals = OutwardNormals<FrameUm>(truth);
  const double common = model.u_common * random.Normal();
  std::vector<double> arc(truth.size(), 0.0), noise(truth.size(), 0.0);
  if (model.u_arc > 0) arc = Ripple(truth, model.arc_length, random);
  if (model.sigma > 0) noise = Ripple(truth, model.noise_length, random);
  ContourUm points = truth;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double shift = common + model.u_arc * arc[i] + model.sigma * noise[i];
    points[i] = points[i] + shift * normals[i];
    points[i] = {points[i].x * sx, points[i].y * sy};
  }
  return Traced(points, model);
}

inline Shape CircleShape(PointUm centre, double diameter) {
  Shape shape;
  shape.kind = Shape::Kind::kCircle;
  shape.centre = centre;
  shape.diameter_um = diameter;
  shape.contour = CirclePoints(centre, diameter / 2, 720);
  return shape;
}

inline LumenDesign LumenOf(const std::string& name, Shape shape) {
  LumenDesign lumen;
  lumen.name = name;
  lumen.shape = std::move(shape);
  return lumen;
}

inline const Measurement* Find(const std::vector<Measurement>& all,
                               const std::vector<std::string>& of, std::string_view word) {
  for (const Measurement& m : all) {
    if (m.of == of && m.quantity == word) return &m;
  }
  return nullptr;
}

}  // namespace cutface::faces
