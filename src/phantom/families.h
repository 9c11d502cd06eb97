// Nominal designs drawn at random: the plain families of multi-lumen extrusions.
// Keywords: phantom, family, double D, crescent, wedge, satellite, slot, nominal.
#pragma once

#include <string>
#include <vector>

#include "cutface/geometry.h"
#include "cutface/stats.h"

namespace cutface::phantom {

// A shape in the drawing's frame: contour in px of the true scale, and its JSON in mm.
struct NominalShape {
  ContourPx contour;  // turns +x towards +y
  std::string json;   // {"circle": {...}} ...
};

struct NominalLumen {
  std::string name;
  NominalShape shape;
  bool round = false;
};

struct Nominal {
  std::string family;
  NominalShape outline;
  bool outline_round = true;
  std::vector<NominalLumen> lumens;
  bool symmetric = false;  // names can be swapped by a rotation
};

struct NominalLimits {
  double diameter_px = 600;  // greatest width of the outline
  double mm_per_px = 0.002;
  double least_septum_px = 4, greatest_septum_px = 40;
  double least_wall_px = 8;
};

inline constexpr int kFamilies = 8;
// One part of family `family` (0 .. kFamilies - 1); lumens inside the outline, apart, each at least
// 20 px across.
Nominal DrawNominal(int family, const NominalLimits& limits, Random& random);

}  // namespace cutface::phantom
