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
    const double a = 2 * faces::kPi * k / 3600;
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

}  // namespace
}  // namespace cutface
