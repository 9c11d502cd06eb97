// Barriers of built-up faces: wires that conduct, liners that may have come off. Closed forms of
// circles on a line. The wall of an only lumen as a ring.
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/measure.h"
#include "measure/faces.h"

namespace cutface {
namespace {

using faces::CirclePoints;
using faces::CircleShape;
using faces::Find;
using faces::Lumen;
using faces::LumenOf;
using faces::Traced;

// Polygons of 720 corners dip 0.01 um inside circles of up to 1250 um.
constexpr double kPolygonSlackUm = 0.03;
const MeasureOptions kValuesOnly{0, 1, 0.0, false};

WireTrace Wire(int no, PointUm at, double radius) {
  WireTrace wire;
  wire.layer = "braid";
  wire.no = no;
  wire.centroid = at;
  wire.long_um = wire.short_um = 2 * radius;
  wire.contour = Traced(CirclePoints(at, radius, 360));
  return wire;
}

// Two lumens of radius 300 whose bores are 400 apart, in a round body of radius 1250.
struct TwoLumens {
  Section section;
  Design design;
  SectionDesign plane;
  TwoLumens() {
    section.outline = Traced(CirclePoints({0, 0}, 1250, 720));
    section.lumens = {Lumen("left", CirclePoints({-500, 0}, 300, 720)),
                      Lumen("right", CirclePoints({500, 0}, 300, 720))};
    plane.outline = CircleShape({0, 0}, 2500);
    plane.lumens = {LumenOf("left", CircleShape({-500, 0}, 600)),
                    LumenOf("right", CircleShape({500, 0}, 600))};
  }
  // Three wires of radius 25 in a row between the bores; ligaments 40, 60, 100, 50 in order.
  void AddBraid() {
    WireLayerDesign layer;
    layer.name = "braid";
    layer.count = 3;
    layer.round_um = 50;
    plane.wires = {layer};
    WireLayerTrace trace;
    trace.name = "braid";
    trace.expected = 3;
    section.wire_layers = {trace};
    section.wires = {Wire(1, {-135, 0}, 25), Wire(2, {-25, 0}, 25), Wire(3, {125, 0}, 25)};
  }
  std::vector<Measurement> Measure(const MeasureOptions& options = kValuesOnly) const {
    return MeasureSection(section, &design, &plane, Scale::Isotropic(1.0), options);
  }
};

const Measurement& Of(const std::vector<Measurement>& all, const std::vector<std::string>& of,
                      std::string_view word) {
  static const Measurement none;
  const Measurement* m = Find(all, of, word);
  EXPECT_NE(m, nullptr) << word;
  return m == nullptr ? none : *m;
}

TEST(BarrierOfBuiltFaces, WiresAreSolidUnlessTheyConduct) {
  TwoLumens face;
  face.AddBraid();
  const auto all = face.Measure();
  EXPECT_NEAR(Of(all, {"left", "right"}, "barrier").value, 400, kPolygonSlackUm);
  const Measurement& wired = Of(all, {"left", "right"}, "barrier_conducting");
  EXPECT_NEAR(wired.value, 40 + 60 + 100 + 50, kPolygonSlackUm);
  ASSERT_EQ(wired.at.size(), 8u);  // four ligaments
  EXPECT_NEAR(Distance(wired.at[0], PointUm{-200, 0}), 0, 0.5);
  EXPECT_NEAR(Distance(wired.at[7], PointUm{200, 0}), 0, 0.5);
  EXPECT_NEAR(Of(all, {"left", "right"}, "septum").value, 400, kPolygonSlackUm);
}

TEST(BarrierOfBuiltFaces, AWireNearTheOutsideShortensTheWayThere) {
  TwoLumens face;
  face.AddBraid();
  // Wall of the left lumen: 1250 - 800; a wire in it leaves 450 - 50.
  face.section.wires[0] = Wire(1, {-1000, 0}, 25);
  const auto all = face.Measure();
  EXPECT_NEAR(Of(all, {"left"}, "barrier").value, 450, kPolygonSlackUm);
  EXPECT_NEAR(Of(all, {"left"}, "barrier_conducting").value, 400, kPolygonSlackUm);
}

TEST(BarrierOfBuiltFaces, WiresThatWereNotAllToldTellNoWay) {
  TwoLumens face;
  face.AddBraid();
  face.section.wire_layers[0].counted = false;
  face.section.wire_layers[0].doubt = "2 of 3 wires seen";
  const auto all = face.Measure();
  const Measurement& wired = Of(all, {"left", "right"}, "barrier_conducting");
  EXPECT_EQ(wired.state, Measurement::State::kNotMeasured);
  EXPECT_NE(wired.reason.find("2 of 3 wires seen"), std::string::npos) << wired.reason;
  TwoLumens plain;
  EXPECT_EQ(Find(plain.Measure(), {"left", "right"}, "barrier_conducting"), nullptr);
}

TEST(BarrierOfBuiltFaces, TheHaloOfAllWiresMovesThemTogether) {
  TwoLumens face;
  face.AddBraid();
  for (WireTrace& wire : face.section.wires) wire.contour.u_common_um = 2;
  MeasureOptions options;
  options.u_floor_um = 0;
  const Measurement wired = Of(face.Measure(options), {"left", "right"}, "barrier_conducting");
  // Six edges of metal move at once: 6 x 2 um.
  EXPECT_NEAR(wired.u, 12, 0.3);
  EXPECT_LT(wired.lo, 250 - 1.9 * 12);
}

TEST(BarrierOfBuiltFaces, TheLowerLimitAllowsForLinersThatCameOff) {
  TwoLumens face;
  face.plane.lumens[0].liner_thickness_um = 30;
  // The liner's outer edge is off: 50 thick towards the other lumen, 10 on the far side. Where it
  // has come off all round, the way leads through 10 there and through 350 from its outer edge.
  face.section.liners = {{"left", Traced(CirclePoints({-480, 0}, 330, 720))}};
  WireLayerDesign layer;
  layer.name = "braid";
  layer.count = 3;
  face.plane.wires = {layer};  // built up: gaps are not told surely
  MeasureOptions options;
  const Measurement barrier = Of(face.Measure(options), {"left", "right"}, "barrier");
  EXPECT_NEAR(barrier.value, 400, kPolygonSlackUm);
  EXPECT_LT(barrier.lo, 360.5);
  EXPECT_GT(barrier.lo, 350);
  EXPECT_EQ(barrier.grade, "doubtful");
  EXPECT_NE(barrier.grade_reason.find("upper bound"), std::string::npos);
}

TEST(WallOfAnOnlyLumen, IsARingWithItsClosedForms) {
  Section section;
  section.outline = Traced(CirclePoints({0, 0}, 1000, 1440));
  section.lumens = {Lumen("bore", CirclePoints({0, -40}, 600, 1440))};
  Design design;
  SectionDesign plane;
  plane.outline = CircleShape({0, 0}, 2000);
  plane.lumens = {LumenOf("bore", CircleShape({0, 0}, 1200))};
  const auto all = MeasureSection(section, &design, &plane, Scale::Isotropic(1.0), kValuesOnly);
  EXPECT_NEAR(Of(all, {"bore/wall"}, "thickness_min").value, 360, kPolygonSlackUm);
  EXPECT_NEAR(Of(all, {"bore/wall"}, "thickness_max").value, 440, kPolygonSlackUm);
  EXPECT_NEAR(Of(all, {"bore/wall"}, "eccentricity").value, 40, kPolygonSlackUm);
  EXPECT_NEAR(Of(all, {"bore/wall"}, "runout").value, 80, kPolygonSlackUm);
  // The bore is up, so the wall is thickest at 6 o'clock; to first order the wave is the offset.
  EXPECT_NEAR(Of(all, {"bore/wall"}, "first_harmonic").value, 40, 0.2);
  EXPECT_NEAR(Of(all, {"bore/wall"}, "first_harmonic_clock").value, 180, 0.1);
  EXPECT_EQ(Find(all, {"bore/wall"}, "longest_gap"), nullptr);
  // Two lumens leave no ring.
  EXPECT_EQ(Find(TwoLumens().Measure(), {"left/wall"}, "eccentricity"), nullptr);
}

}  // namespace
}  // namespace cutface
