// What one or two stretches of edges give, on one set of their places: the geometry behind the
// words of QuantityOf::kAsked, without intervals.
// Keywords: stretch, polyline, facing, line fit, circle fit.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::measure {

// The nearest place of a line for a vertex of another one, found once and followed over the draws.
struct Facing {
  std::size_t edge = 0;  // of the other line
  double distance = 0;
  PointUm on_other;
  bool within = false;  // not beyond an end of the other line
};
// For every vertex of `line` the nearest place of `other` (open lines); brute force, exact.
std::vector<Facing> FacingOf(const ContourUm& line, const ContourUm& other);
// The same among the edges near those of `hints`, for lines that moved a little.
Facing FacingNear(PointUm p, const ContourUm& other, std::size_t hint);

struct FittedLine {
  PointUm through, direction;  // unit
  double departure = 0;        // greatest distance of a place from the line
  double length = 0;           // extent of the places along it
};
FittedLine FitLine(const ContourUm& places);

double LineLength(const ContourUm& line);

// Mean along `line` of the distance to `other`, over the places that face it; nullopt when none
// does. `share`: of the length that faces it.
std::optional<double> MeanThickness(const ContourUm& line, const std::vector<Facing>& facing,
                                    double* share = nullptr);

}  // namespace cutface::measure
