// A conforming Delaunay mesh of a solid between contours.
#pragma once

#include <array>
#include <map>
#include <utility>
#include <vector>

#include "cutface/elastic.h"

namespace cutface::elastic {

struct MeshEdge {
  int contour = -1;  // 0: outer, 1 ...: holes, then regions
  int source = -1;   // edge of the contour as handed in
};

struct Mesh {
  ContourUm points;
  std::vector<std::array<int, 3>> triangles;      // positive signed area
  std::vector<int> material;                      // per triangle
  std::map<std::pair<int, int>, MeshEdge> edges;  // on contours; the lower point first
  std::vector<std::vector<int>> loops;            // points along each contour, in order
};

Result<Mesh> MakeMesh(const ElasticProblem& problem);

}  // namespace cutface::elastic
