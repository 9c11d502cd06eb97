// One pressurised section from standard input, its ligament on standard output: for the comparison
// with an independent solver (tests/reference/pressurised_section.py).
//
// Input: modulus, Poisson's ratio; number of contours, the outer one first; per contour its
// pressure (MPa), number of points, points (um). Then the two ends of a ligament and a number of
// places with x y. Output: membrane and bending stress, then displacement and stress per place.
#include <cstdio>
#include <iostream>

#include "cutface/elastic.h"

int main() {
  using namespace cutface;
  ElasticProblem problem;
  std::size_t contours = 0;
  std::cin >> problem.materials[0].modulus_mpa >> problem.materials[0].poisson >> contours;
  for (std::size_t c = 0; c < contours; ++c) {
    double pressure = 0;
    std::size_t count = 0;
    std::cin >> pressure >> count;
    ContourUm points(count);
    for (PointUm& p : points) std::cin >> p.x >> p.y;
    if (c == 0) {
      problem.outer = points;
    } else {
      problem.holes.push_back({points, pressure});
    }
  }
  PointUm a, b;
  std::size_t places = 0;
  std::cin >> a.x >> a.y >> b.x >> b.y >> places;
  if (!std::cin) return 2;
  const auto solution = SolveElastic(problem);
  if (!solution) {
    std::fprintf(stderr, "%s\n", solution.error().message.c_str());
    return 1;
  }
  const auto ligament = solution->Linearised(a, b);
  if (!ligament) return 1;
  std::printf("%.9g %.9g\n", ligament->membrane_mpa, ligament->bending_mpa);
  for (std::size_t i = 0; i < places; ++i) {
    PointUm p;
    std::cin >> p.x >> p.y;
    const auto u = solution->DisplacementAt(p);
    const auto s = solution->StressAt(p);
    if (!u || !s) return 1;
    std::printf("%.9g %.9g %.9g %.9g %.9g %.9g\n", u->x, u->y, s->xx, s->yy, s->xy, s->zz);
  }
  return 0;
}
