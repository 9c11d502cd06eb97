// Laminar flow through a bore: K = integral of u over the bore, laplacian u = -1, u = 0 on the wall
// (flow = K / viscosity * pressure gradient; torsion knows the same K as a quarter of its
// constant).
//
// u = w - r^2 / 4 with w harmonic and w = r^2 / 4 on the wall; the slope of w comes from a boundary
// integral equation, collocated at the middles of straight elements whose integrals are exact. K
// then needs the slope only along the wall. Checked within 0.2 % against Shah & London (1978).
// Keywords: flow ratio, Poiseuille, boundary element, torsion.
#pragma once

#include <span>
#include <vector>

#include "cutface/design.h"
#include "cutface/geometry.h"

namespace cutface::measure {

struct FlowFigure {
  double k = 0;                       // um^4
  std::vector<double> slope_squared;  // (du/dn)^2 at each vertex of the contour handed in, um^2
};

// `elements`: number of boundary elements of a round bore; slender bores get more, by the square
// root of perimeter^2 / (4 pi area). The cost grows with the square to the cube.
FlowFigure SolveFlow(std::span<const PointUm> contour, int elements = 140);
// Closed forms where there are any, else SolveFlow on the nominal contour.
double NominalFlow(const Shape& shape);

}  // namespace cutface::measure
