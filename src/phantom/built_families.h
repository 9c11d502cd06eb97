// Random drawings of built-up parts, as the text of a design file with one section "face".
// Keywords: phantom, braided shaft, tubes in the wall, hub, balloon bond, lengthwise section.
#pragma once

#include <string>

#include "cutface/stats.h"

namespace cutface::phantom {

struct BuiltDrawing {
  std::string family;
  std::string json;
};

inline constexpr int kBuiltFamilies = 8;
// `diameter_px`: greatest width of the outline. Empty json when the draw does not fit: draw again.
BuiltDrawing DrawBuiltDrawing(int family, double diameter_px, double mm_per_px, bool hard,
                              const std::string& number, Random& random);

}  // namespace cutface::phantom
