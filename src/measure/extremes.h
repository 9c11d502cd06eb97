// Extremes of a closed contour, made to be solved again and again for slightly moved contours.
//
// The room geometry solves the same questions from nothing; here every solver starts from a known
// neighbourhood and keeps linear time per draw (hull of an ordered contour without sorting,
// exchange on a handful of contact points). Tests hold them against geometry's. Keywords: calipers,
// minimum zone, inscribed, enclosing, exchange algorithm.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::measure {

using PointsUm = std::span<const PointUm>;

// Least-squares circle of the contour's arc: Gauss-Newton on radial distances, each vertex weighed
// with half the length of its two edges. `start` must be a sensible circle.
Circle<FrameUm> FitArcCircle(PointsUm contour, Circle<FrameUm> start, int iterations);

// Convex hull of a simple closed contour of positive signed area, in order (Melkman 1987).
void OrderedHull(PointsUm contour, ContourUm& hull);

struct WidthPair {
  double least = 0, greatest = 0;
};
WidthPair HullWidths(PointsUm hull);

// Contact points of an earlier solution, as indices into the contour: where the next one starts.
struct Contacts {
  std::array<std::size_t, 4> at{};
  bool known = false;
};
struct Effort {
  int rounds = 30;          // relinearisations about the moving centre
  double tolerance = 1e-6;  // um, of the extreme within one round
};

// Width of the minimum zone and its centre: linear Chebyshev problem of the radii about `centre`,
// by exchange of four contact points.
struct ZoneFit {
  PointUm centre;
  double width = 0;
};
ZoneFit FitZone(PointsUm contour, PointUm centre, const Effort& effort, Contacts& contacts);

// Smallest circle that holds the hull's corners; starts from any circle's centre.
Circle<FrameUm> FitEnclosing(PointsUm hull, PointUm centre);

// Largest circle with no vertex inside, uphill from `centre`: a local optimum. Vertices must lie
// close to each other against the radius. Exchange of three contact points.
Circle<FrameUm> FitInscribed(PointsUm contour, PointUm centre, const Effort& effort,
                             Contacts& contacts);

}  // namespace cutface::measure
