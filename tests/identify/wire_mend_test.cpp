// What wires say of edges, and edges of wires, on contours made by hand.

#include "identify/wire_mend.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <utility>

namespace cutface {
namespace {

using ::testing::HasSubstr;

TracedContour Circle(PointUm middle, double radius, int count) {
  TracedContour contour;
  for (int i = 0; i < count; ++i) {
    const double a = 2 * 3.14159265358979 * i / count;
    contour.vertices.push_back(
        {middle + radius * PointUm{std::cos(a), std::sin(a)}, {std::cos(a), std::sin(a)}, 0.1});
  }
  return contour;
}

WireTrace Wire(PointUm middle) {
  WireTrace wire;
  wire.layer = "braid";
  wire.centroid = middle;
  wire.long_um = wire.short_um = 10;
  wire.contour = Circle(middle, 5, 36);
  return wire;
}

// An outline of 100 um about the origin; one wire stands across it.
Section WithOutline(const char* doubt) {
  Section section;
  section.outline = Circle({0, 0}, 100, 720);
  section.outline->doubt = doubt;
  section.wires.push_back(Wire({101, 0}));
  WireLayerTrace layer;
  layer.name = "braid";
  section.wire_layers.push_back(layer);
  return section;
}

TEST(Exposed, AWireAcrossTheOutlineIsExposed) {
  for (const char* doubt : {"", "no edge to be seen along 27 % of it"}) {
    SCOPED_TRACE(doubt);
    Section section = WithOutline(doubt);
    MendAtWires(Scale::Isotropic(1), {}, section);
    EXPECT_EQ(section.wires[0].exposed_to, "outside");
    EXPECT_EQ(section.outline->doubt, doubt);
  }
}

TEST(Exposed, ADoubtfulOutlineThatLeavesWiresWhollyOutExposesNone) {
  Section section = WithOutline("no edge to be seen along 27 % of it");
  section.wires.push_back(Wire({0, 130}));
  MendAtWires(Scale::Isotropic(1), {}, section);
  for (const WireTrace& wire : section.wires) EXPECT_EQ(wire.exposed_to, "");
  EXPECT_THAT(section.outline->doubt, HasSubstr("wires that lie wholly outside it: 1"));
}

// A strand that has left the jacket: an edge that is seen all round is believed.
TEST(Exposed, AWireWhollyOutOfAnOutlineThatIsSeenIsExposed) {
  Section section = WithOutline("");
  section.wires.push_back(Wire({0, 130}));
  MendAtWires(Scale::Isotropic(1), {}, section);
  for (const WireTrace& wire : section.wires) EXPECT_EQ(wire.exposed_to, "outside");
  EXPECT_EQ(section.outline->doubt, "");
}

}  // namespace
}  // namespace cutface
