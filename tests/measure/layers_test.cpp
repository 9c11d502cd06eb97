// Rings, liners and bonds between eccentric circles, against closed forms.
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
using faces::Traced;

// Polygons of 1440 corners dip 0.003 um inside their circles.
constexpr double kPolygonSlackUm = 0.02;
const MeasureOptions kValuesOnly{0, 1, 0.0, false};

// Mean over an inner circle of radius r of the distance to a circle of radius R whose centre lies e
// off: R minus the mean distance of the inner circle's points from the outer centre (trapezoidal
// rule, exact for periodic functions).
double MeanThickness(double outer, double inner, double off) {
  double sum = 0;
  for (int k = 0; k < 3600; ++k) {
    const double a = 2 * kPi * k / 3600;
    sum += outer - std::sqrt(inner * inner + off * off + 2 * inner * off * std::cos(a));
  }
  return sum / 3600;
}

struct LinedFace {
  Section section;
  Design design;
  SectionDesign plane;
  LinedFace() {
    section.outline = Traced(CirclePoints({0, 0}, 1250, 1440));
    section.rings.push_back({"jacket", Traced(CirclePoints({30, 0}, 1040, 1440))});
    section.lumens = {Lumen("scope", CirclePoints({0, 0}, 400, 1440)),
                      Lumen("wash", CirclePoints({700, 0}, 100, 1440))};
    section.liners.push_back({"scope", Traced(CirclePoints({0, 5}, 430, 1440))});
    plane.rings.push_back({"jacket", CircleShape({0, 0}, 2080)});
    for (const char* name : {"scope", "wash"}) {
      LumenDesign lumen;
      lumen.name = name;
      lumen.shape = name[0] == 's' ? CircleShape({0, 0}, 800) : CircleShape({700, 0}, 200);
      if (name[0] == 's') lumen.liner_thickness_um = 30;
      plane.lumens.push_back(lumen);
    }
  }
  std::vector<Measurement> Measure(const MeasureOptions& options = kValuesOnly) const {
    return MeasureSection(section, &design, &plane, Scale::Isotropic(1.0), options);
  }
};

double ValueOf(const std::vector<Measurement>& all, const std::vector<std::string>& of,
               std::string_view word) {
  const Measurement* m = Find(all, of, word);
  EXPECT_NE(m, nullptr) << word;
  if (m == nullptr) return -1;
  EXPECT_EQ(m->state, Measurement::State::kMeasured) << m->reason;
  return m->value;
}

TEST(Layers, AnEccentricRingHasItsClosedForms) {
  const auto all = LinedFace().Measure();
  EXPECT_NEAR(ValueOf(all, {"jacket"}, "thickness_min"), 180, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"jacket"}, "thickness_max"), 240, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"jacket"}, "thickness_mean"), MeanThickness(1250, 1040, 30),
              kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"jacket"}, "concentricity"), 75, 0.02);
  EXPECT_NEAR(ValueOf(all, {"jacket"}, "eccentricity"), 30, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"jacket"}, "runout"), 60, kPolygonSlackUm);
}

TEST(Layers, ALinerReachesFromTheBoreToItsOuterEdge) {
  const auto all = LinedFace().Measure();
  EXPECT_NEAR(ValueOf(all, {"scope/liner"}, "thickness_min"), 25, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"scope/liner"}, "thickness_max"), 35, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"scope/liner"}, "runout"), 10, kPolygonSlackUm);
}

TEST(Layers, TheSeptumOfPolymerLeavesTheLinerOut) {
  const auto all = LinedFace().Measure();
  EXPECT_NEAR(ValueOf(all, {"scope", "wash"}, "septum"), 200, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"scope", "wash"}, "septum_polymer"), std::hypot(700, 5) - 530,
              kPolygonSlackUm);
}

TEST(Layers, AnEdgeThatWasNotFoundSaysWhy) {
  LinedFace face;
  face.section.liners[0].outer = {};
  face.section.liners[0].outer.doubt = "no tone step to be seen";
  const auto all = face.Measure();
  for (const char* word : {"thickness_min", "thickness_mean", "runout"}) {
    const Measurement* m = Find(all, {"scope/liner"}, word);
    ASSERT_NE(m, nullptr);
    EXPECT_EQ(m->state, Measurement::State::kNotMeasured);
    EXPECT_NE(m->reason.find("no tone step to be seen"), std::string::npos) << m->reason;
  }
  EXPECT_EQ(Find(all, {"scope", "wash"}, "septum_polymer")->state,
            Measurement::State::kNotMeasured);
}

TEST(Layers, ALinerWhoseEdgeWasNotFollowedHasNoThickness) {
  LinedFace face;
  face.section.liners[0].outer.doubt = "the edges nearly touch: one was not followed";
  const auto all = face.Measure();
  for (const char* word : {"thickness_min", "thickness_mean", "thickness_max"}) {
    const Measurement* m = Find(all, {"scope/liner"}, word);
    ASSERT_NE(m, nullptr);
    EXPECT_EQ(m->state, Measurement::State::kNotMeasured);
    EXPECT_EQ(m->reason, "the edges nearly touch: one was not followed");
  }
  face.section.liners[0].outer.doubt = "much thinner on one side";
  EXPECT_EQ(Find(face.Measure(), {"scope/liner"}, "thickness_min")->state,
            Measurement::State::kMeasured);
}

TEST(Layers, IntervalsOfAnEvenlyUncertainEdgeFollowItsDoubt) {
  LinedFace face;
  face.section.rings[0].inner.u_common_um = 2;
  const auto all = face.Measure({64, 1, 0.0, false});
  const Measurement* m = Find(all, {"jacket"}, "thickness_mean");
  ASSERT_NE(m, nullptr);
  EXPECT_NEAR(m->u, 2, 0.1);
}

TEST(Layers, ABondIsOffByTheDistanceOfItsCentres) {
  LinedFace face;
  face.section.rings = {{"sleeve", Traced(CirclePoints({12, 0}, 1150, 1440))},
                        {"adhesive", Traced(CirclePoints({0, 5}, 1100, 1440))}};
  face.plane.rings = {{"sleeve", CircleShape({0, 0}, 2300)},
                      {"adhesive", CircleShape({0, 0}, 2200)}};
  face.plane.bond = BondDesign{"adhesive", "sleeve", 5};
  const auto all = face.Measure();
  EXPECT_NEAR(ValueOf(all, {"bond"}, "offset"), 13, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"bond"}, "runout"), 26, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"adhesive"}, "thickness_min"), 50 - 13, kPolygonSlackUm);
}

// A closed strip between two radii and two angles (degrees) about a centre.
Void Strip(VoidClass kind, PointUm centre, double low, double high, double from, double to) {
  ContourUm points;
  const int steps = 200;
  for (int way = 0; way < 2; ++way) {
    for (int i = 0; i <= steps; ++i) {
      const double share = static_cast<double>(way == 0 ? i : steps - i) / steps;
      const double a = (from + share * (to - from)) * kPi / 180;
      points.push_back(centre + (way == 0 ? high : low) * PointUm{std::cos(a), std::sin(a)});
    }
  }
  Void v;
  v.kind = kind;
  v.contour = Traced(points);
  v.centroid = Centroid(std::span<const PointUm>(points));
  v.area_um2 = Area(std::span<const PointUm>(points));
  return v;
}

struct BondedFace : LinedFace {
  BondedFace() {
    section.rings = {{"sleeve", Traced(CirclePoints({0, 0}, 1150, 1440))},
                     {"adhesive", Traced(CirclePoints({0, 0}, 1100, 1440))}};
    plane.rings = {{"sleeve", CircleShape({0, 0}, 2300)}, {"adhesive", CircleShape({0, 0}, 2200)}};
    plane.bond = BondDesign{"adhesive", "sleeve", 5};
  }
};

constexpr double kAngleSlackDeg = 0.01;

TEST(ClockGaps, ABondIsBondedWhereNoGapIsWiderThanTheDrawingAllows) {
  BondedFace face;
  face.section.voids = {Strip(VoidClass::kBondGap, {}, 1100, 1150, -12, 10),  // over 3 o'clock
                        Strip(VoidClass::kBondGap, {}, 1110, 1140, 8, 25),    // meets the first
                        Strip(VoidClass::kBondGap, {}, 1120, 1150, 200, 209),
                        Strip(VoidClass::kBondGap, {}, 1120, 1123, 100, 140),  // 3 um: allowed
                        Strip(VoidClass::kVoid, {}, 600, 640, 60, 90)};
  const auto all = face.Measure();
  EXPECT_NEAR(ValueOf(all, {"bond"}, "longest_gap"), 37, kAngleSlackDeg);
  EXPECT_NEAR(ValueOf(all, {"bond"}, "bonded_arc"), 360 - 37 - 9, kAngleSlackDeg);
  EXPECT_NEAR(ValueOf(all, {"adhesive"}, "longest_gap"), 37, kAngleSlackDeg);
  EXPECT_NEAR(ValueOf(all, {"scope/liner"}, "longest_gap"), 0, kAngleSlackDeg);
}

TEST(ClockGaps, AWholeBondMayStillHaveGapsTooShortToBeSeen) {
  const auto all = BondedFace().Measure({64, 1, 0.0, false});
  const Measurement* arc = Find(all, {"bond"}, "bonded_arc");
  ASSERT_NE(arc, nullptr);
  EXPECT_EQ(arc->value, 360);
  EXPECT_EQ(arc->hi, 360);
  EXPECT_LT(arc->lo, 359);
  EXPECT_GT(Find(all, {"bond"}, "longest_gap")->hi, 1);
}

TEST(ClockGaps, ALinersGapIsSeenFromItsBore) {
  LinedFace face;
  face.section.rings.clear();
  face.plane.rings.clear();
  face.section.voids = {Strip(VoidClass::kLinerGap, {0, 5}, 430, 436, 70, 115)};
  const auto all = face.Measure();
  // Seen from the bore's centre, 5 um beside the strip's.
  EXPECT_NEAR(ValueOf(all, {"scope/liner"}, "longest_gap"), 45, 0.6);
}

TEST(ClockGaps, BesideWiresAndWithoutEdgesTheyAreNotMeasured) {
  LinedFace wired;
  wired.section.rings.clear();
  wired.plane.rings.clear();
  wired.plane.wires.emplace_back();
  EXPECT_EQ(Find(wired.Measure(), {"scope/liner"}, "longest_gap")->state,
            Measurement::State::kNotMeasured);
  BondedFace bare;
  bare.section.rings[1].inner = {};
  bare.section.rings[1].inner.doubt = "no line to be seen";
  const auto all = bare.Measure();
  EXPECT_EQ(Find(all, {"bond"}, "bonded_arc")->state, Measurement::State::kNotMeasured);
  EXPECT_EQ(Find(all, {"voids"}, "longest")->state, Measurement::State::kNotMeasured);
}

}  // namespace
}  // namespace cutface
