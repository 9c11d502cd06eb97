// Small drawings by words, for tests of names and registration.
#pragma once

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "cutface/design.h"
#include "support/matchers.h"

namespace cutface::drawings {

inline std::string Round(double x, double y, double diameter) {
  return fmt::format(R"({{"circle": {{"center": [{:.6f}, {:.6f}], "diameter": {:.6f}}}}})", x, y,
                     diameter);
}
inline std::string Oblong(double width, double height) {
  return fmt::format(R"({{"rectangle": {{"size": [{:.6f}, {:.6f}]}}}})", width, height);
}

// A wedge between two radii and two angles (degrees), corners sharp.
inline std::string Wedge(double from_deg, double to_deg, double inner, double outer) {
  const auto at = [](double radius, double deg) {
    return fmt::format("{:.6f},{:.6f}", radius * std::cos(deg * kPi / 180),
                       radius * std::sin(deg * kPi / 180));
  };
  return fmt::format(
      R"({{"path": "M{} L{} A{:.6f},{:.6f} 0 0 1 {} L{} A{:.6f},{:.6f} 0 0 0 {} Z"}})",
      at(inner, from_deg), at(outer, from_deg), outer, outer, at(outer, to_deg), at(inner, to_deg),
      inner, inner, at(inner, from_deg));
}

using Lumens = std::vector<std::pair<std::string, std::string>>;

// Millimetres. The one section is called "face".
inline Design Drawn(const std::string& outline, const Lumens& lumens) {
  std::string text = R"({"format": "cutface/design", "version": 1, "units": "mm",
    "part": {"number": "T-1"}, "sections": {"face": {"kind": "shaft", "outline": )" +
                     outline + R"(, "lumens": {)";
  for (std::size_t i = 0; i < lumens.size(); ++i)
    text += fmt::format("{}\"{}\": {}", i ? ", " : "", lumens[i].first, lumens[i].second);
  const auto design = ParseDesign(text + "}}}}", "test");
  EXPECT_THAT(design, IsOk());
  return design ? *design : Design{};
}

// A shaft without any symmetry: names can be proven.
inline Design FourLumens() {
  return Drawn(Round(0, 0, 1.6), {{"scope", Round(0, 0.36, 0.62)},
                                  {"wash", Wedge(185, 262, 0.18, 0.66)},
                                  {"return", Wedge(278, 350, 0.18, 0.66)},
                                  {"cuff", Round(0.52, 0.26, 0.22)}});
}

}  // namespace cutface::drawings
