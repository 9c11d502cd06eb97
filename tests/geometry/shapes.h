// Contours of known geometry for the tests of this room.
#pragma once

#include <cmath>
#include <numbers>

#include "cutface/geometry.h"
#include "cutface/stats.h"

namespace cutface {

inline ContourUm RegularPolygon(int corners, double radius, PointUm centre = {}) {
  ContourUm contour;
  for (int i = 0; i < corners; ++i) {
    const double angle = 2 * std::numbers::pi * i / corners;
    contour.push_back(centre + PointUm{radius * std::cos(angle), radius * std::sin(angle)});
  }
  return contour;
}

inline ContourUm EllipsePolygon(int corners, const Ellipse<FrameUm>& e) {
  ContourUm contour;
  for (int i = 0; i < corners; ++i) {
    const double t = 2 * std::numbers::pi * i / corners;
    contour.push_back(
        e.centre +
        Rotated(PointUm{e.semi_major * std::cos(t), e.semi_minor * std::sin(t)}, e.angle));
  }
  return contour;
}

// The part of a disc beyond a chord: height h of a circle of radius rho, chord on y = 0, below it.
inline ContourUm CircularSegment(double rho, double h, int corners) {
  ContourUm contour;
  const double half = std::acos((rho - h) / rho);
  for (int i = 0; i <= corners; ++i) {
    const double angle = std::numbers::pi / 2 - half + 2 * half * i / corners;
    contour.push_back({rho * std::cos(angle), rho * std::sin(angle) - (rho - h)});
  }
  return contour;
}

// A sector with its apex at the origin, symmetric about +x.
inline ContourUm CircularSector(double rho, double full_angle, int corners) {
  ContourUm contour = {{0, 0}};
  for (int i = 0; i <= corners; ++i) {
    const double angle = full_angle * (static_cast<double>(i) / corners - 0.5);
    contour.push_back({rho * std::cos(angle), rho * std::sin(angle)});
  }
  return contour;
}

// A star-shaped closed contour with random lobes: smooth, not convex, never self-crossing.
inline ContourUm RandomBlob(std::uint64_t seed, int corners, double radius, PointUm centre = {},
                            double roughness = 0) {
  Random random(seed);
  double amplitude[7], phase[7];
  for (int k = 0; k < 7; ++k) {
    amplitude[k] = random.Uniform(0, 0.3) / (k + 1);
    phase[k] = random.Uniform(0, 2 * std::numbers::pi);
  }
  ContourUm contour;
  for (int i = 0; i < corners; ++i) {
    const double angle = 2 * std::numbers::pi * i / corners;
    double r = 1;
    for (int k = 0; k < 7; ++k) r += amplitude[k] * std::cos((k + 1) * angle + phase[k]);
    r = radius * std::max(0.1, r) + roughness * random.Normal();
    contour.push_back(centre + PointUm{r * std::cos(angle), r * std::sin(angle)});
  }
  return contour;
}

inline ContourUm RandomPoints(std::uint64_t seed, int count, double spread) {
  Random random(seed);
  ContourUm points;
  for (int i = 0; i < count; ++i) {
    points.push_back({spread * random.Uniform(), spread * random.Uniform()});
  }
  return points;
}

}  // namespace cutface
