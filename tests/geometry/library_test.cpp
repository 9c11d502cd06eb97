// Holds this room against shapely (GEOS) and scipy on random contours: writes contours and answers
// to a file and lets library_check.py compute the same with those libraries.
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <limits>

#include "geometry/shapes.h"

namespace cutface {
namespace {

void WritePoints(std::ofstream& out, const char* name, const ContourUm& contour) {
  out << '"' << name << "\": [";
  for (std::size_t i = 0; i < contour.size(); ++i) {
    out << (i ? ", " : "") << '[' << contour[i].x << ", " << contour[i].y << ']';
  }
  out << "],\n";
}

void WriteCase(std::ofstream& out, std::uint64_t seed) {
  Random random(seed);
  const double rough = seed % 2 ? 3 : 0;
  const ContourUm a = RandomBlob(seed, random.Integer(8, 300), 100, {500, 300}, rough);
  const ContourUm b = RandomBlob(seed + 77, random.Integer(8, 300), 80,
                                 {500 + random.Uniform(-300, 300), 300}, rough);
  const PointUm probe{random.Uniform(350, 650), random.Uniform(150, 450)};
  const auto circle = FitCircle(a), enclosing = EnclosingCircle(a), inscribed = InscribedCircle(a);
  const auto widths = WidthExtremes(a);
  out << "{\"seed\": " << seed << ",\n";
  WritePoints(out, "a", a);
  WritePoints(out, "b", b);
  out << "\"probe\": [" << probe.x << ", " << probe.y << "],\n";
  const auto number = [&out](const char* name, double value) {
    out << '"' << name << "\": " << value << ",\n";
  };
  number("area", Area(a));
  number("perimeter", Perimeter(a));
  number("centroid_x", Centroid(a).x);
  number("centroid_y", Centroid(a).y);
  number("hull_area", Area(ConvexHull(a)));
  number("width_least", widths.least);
  number("width_greatest", widths.greatest);
  number("simple", IsSimple(a) ? 1 : 0);
  number("holds_probe", Contains(a, probe) ? 1 : 0);
  number("probe_distance", LeastDistance(probe, a).distance);
  number("distance", LeastDistance(a, b).distance);
  number("common_area", IntersectionArea(a, b));
  number("offset_area", Area(Offset(a, 15)));
  number("circle_x", circle->centre.x);
  number("circle_y", circle->centre.y);
  number("circle_r", circle->radius);
  number("enclosing_r", enclosing->radius);
  out << "\"inscribed_r\": " << inscribed->radius << "}";
}

TEST(Geometry, AgreesWithShapelyAndScipy) {
  const std::string file = std::string(CUTFACE_BINARY_DIR) + "/geometry_library_check.json";
  {
    std::ofstream out(file);
    out.precision(std::numeric_limits<double>::max_digits10);
    out << "[\n";
    for (std::uint64_t seed = 1; seed <= 60; ++seed) {
      if (seed > 1) out << ",\n";
      WriteCase(out, seed);
    }
    out << "]\n";
    ASSERT_TRUE(out.flush());
  }
  const std::string command = std::string("/usr/bin/python3 ") + CUTFACE_SOURCE_DIR +
                              "/tests/geometry/library_check.py " + file;
  EXPECT_EQ(std::system(command.c_str()), 0) << "what differs stands above";
}

}  // namespace
}  // namespace cutface
