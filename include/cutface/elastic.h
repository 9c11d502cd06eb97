// The pressurised section: plane-strain linear elasticity on measured contours, by finite elements.
//
// Mesh: Delaunay triangles (dual of the Voronoi diagram) of points on the contours and of a graded
// quadtree inside, boundary edges halved until the triangulation holds them all (conforming).
// Elements: quadratic displacements with continuous linear pressure (Taylor & Hood 1973), which do
// not lock near incompressible; pressure is its own at either side of a material's edge. Solved by
// a sparse LDL^T of the quasi-definite system (Vanderbei 1995). Small displacements, straight
// edges. Stress = 2 mu eps - p I, p = -lambda div u; out of the plane no strain: a long straight
// tube that cannot stretch. Units: um, MPa; loads in MPa.
//
// Error: below 2 % of Lame's cylinder, the eccentric cylinder and the thick plate (tests), with at
// least `layers` elements over every ligament; sharp inner corners concentrate stress without limit
// and are only as sharp as the mesh.
// Keywords: finite elements, plane strain, mixed, mesh, Delaunay, septum, pressure, ligament.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <vector>

#include "cutface/geometry.h"

namespace cutface {

struct ElasticMaterial {
  double modulus_mpa = 1;
  double poisson = 0.3;  // 0 to 0.5; above 0.4999 it is taken as 0.4999
};

struct ElasticProblem {
  struct Hole {
    ContourUm contour;
    double pressure_mpa = 0;  // pushes on the solid
  };
  // A material's edge within the solid: what lies inside it is of `material`; of several the last.
  struct Region {
    ContourUm contour;
    std::size_t material = 0;
  };
  ContourUm outer;
  std::vector<Hole> holes;  // do not touch one another or `outer`
  std::vector<Region> regions;
  std::vector<ElasticMaterial> materials = {{}};  // the first is that of the body
  // Per edge of `outer` (vertex i to i + 1), or empty: pressure from outside; edges that are held.
  std::vector<double> outer_pressure_mpa;
  std::vector<char> outer_held;
  double layers = 2.5;     // elements over the thinnest ligament
  double coarsest = 0.04;  // largest element, as a share of the outer contour's extent
  int most_nodes = 12000;  // corners; the mesh is made coarser until it has no more
};

struct PlaneStress {
  double xx = 0, yy = 0, xy = 0, zz = 0;  // MPa, tension positive
  double Along(PointUm direction) const;  // normal stress on planes across a unit direction
  double Mises() const;
};

// Stress across a ligament, split as pressure vessel rules do (mean and linear part).
struct LigamentStress {
  double membrane_mpa = 0;  // mean of the stress along the ligament's wall (across the line)
  double bending_mpa = 0;   // linear part at the surface; > 0: tension at the line's first end
  double Greatest() const;  // |membrane| + |bending|
};

class ElasticSolution {
 public:
  // Nothing outside the solid.
  std::optional<PlaneStress> StressAt(PointUm p) const;
  std::optional<PointUm> DisplacementAt(PointUm p) const;  // rigid motion of `outer` taken off
  // Along the line from a to b (both on edges of the solid). Nothing where it leaves the solid for
  // more than a twentieth of its length.
  std::optional<LigamentStress> Linearised(PointUm a, PointUm b) const;

  const ContourUm& corners() const;  // of the elements
  const std::vector<std::array<int, 3>>& elements() const;
  // Displaced outer contour (index 0) and holes (1 ...), `times` as far as it really moves.
  ContourUm Displaced(std::size_t contour, double times) const;

  struct Impl;
  explicit ElasticSolution(std::shared_ptr<const Impl> impl) : impl_(std::move(impl)) {}

 private:
  std::shared_ptr<const Impl> impl_;
};

// Errors: kInvalidContour (contours that touch, cross or are none; a ligament too thin to mesh),
// kUsage (materials out of range), kInternal (the solver fails).
Result<ElasticSolution> SolveElastic(const ElasticProblem& problem);

}  // namespace cutface
