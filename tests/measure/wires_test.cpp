// Words of wire layers against closed forms, and when they are refused.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/measure.h"
#include "measure/faces.h"

namespace cutface {
namespace {

using faces::CirclePoints;
using faces::Find;
using faces::Lumen;
using faces::Traced;
using testing::HasSubstr;

constexpr double kSlack_um = 0.02;  // polygons of 1440 corners
const MeasureOptions kValuesOnly{0, 1, 0.0, false};
const MeasureOptions kWithIntervals{64, 1, 0.0, false};

// Sixteen round wires of 50 um on a circle of 2150 um, cut at 50 degrees, outline 2500, bore 1900.
struct BraidedFace {
  Section section;
  Design design;
  SectionDesign plane;
  double wire = 50, angle_deg = 50;
  BraidedFace() {
    section.outline = Traced(CirclePoints({0, 0}, 1250, 1440));
    section.lumens = {Lumen("scope", CirclePoints({0, 0}, 950, 1440))};
    WireLayerDesign braid;
    braid.name = "braid";
    braid.carriers = 16;
    braid.ends = 1;
    braid.round_um = wire;
    braid.on_diameters_um = {2150};
    braid.braid_angle_deg = angle_deg;
    plane.wires = {braid};
    WireLayerTrace layer;
    layer.name = "braid";
    layer.expected = 16;
    layer.short_um = wire;
    layer.long_um = wire / std::cos(angle_deg * kPi / 180);
    layer.u_long_um = 0.5;
    layer.u_halo_um = 0.3;
    section.wire_layers = {layer};
    for (int family = 1; family <= 2; ++family) {
      for (int i = 0; i < 8; ++i)
        AddWire(family, 8 * (family - 1) + i + 1, 45.0 * i + (family == 1 ? 3 : 20), 1075);
    }
  }
  void AddWire(int family, int no, double deg, double radius) {
    WireTrace w;
    w.layer = "braid";
    w.family = family;
    w.no = no;
    const double a = deg * kPi / 180;
    w.centroid = {radius * std::cos(a), radius * std::sin(a)};
    w.short_um = wire;
    w.long_um = section.wire_layers[0].long_um;
    w.u_centroid_um = 0.3;
    ContourUm contour;
    for (int k = 0; k < 360; ++k) {
      const double t = 2 * kPi * k / 360;
      const PointUm radial{std::cos(a), std::sin(a)}, tangent{-std::sin(a), std::cos(a)};
      contour.push_back(w.centroid + (0.5 * w.short_um * std::cos(t)) * radial +
                        (0.5 * w.long_um * std::sin(t)) * tangent);
    }
    w.contour = Traced(contour);
    section.wires.push_back(w);
  }
  Measurement Word(std::string_view word, const MeasureOptions& options = kValuesOnly,
                   double pitch_um = 2.0) const {
    const auto all =
        MeasureSection(section, &design, &plane, Scale::Isotropic(pitch_um, 1e-4), options);
    const Measurement* m = Find(all, {"braid"}, word);
    EXPECT_NE(m, nullptr) << word;
    return m != nullptr ? *m : Measurement{};
  }
};

TEST(WireWords, HaveTheirClosedForms) {
  const BraidedFace face;
  EXPECT_EQ(face.Word("count").value, 16);
  EXPECT_NEAR(face.Word("spacing_max").value, 45, 1e-6);
  EXPECT_NEAR(face.Word("outer_cover").value, 1250 - 1075 - 25, kSlack_um);
  EXPECT_NEAR(face.Word("inner_cover").value, 1075 - 25 - 950, 0.2);  // the ends come nearer
  EXPECT_NEAR(face.Word("layer_diameter").value, 2150, kSlack_um);
  EXPECT_NEAR(face.Word("braid_angle").value, 50, 1e-6);
  const double picks = 16 * std::tan(50 * kPi / 180) / (2 * kPi * 2.150);
  EXPECT_NEAR(face.Word("picks_per_mm").value, picks, 1e-4);
  const double f = picks * 0.050 / std::sin(50 * kPi / 180);
  EXPECT_NEAR(face.Word("coverage").value, 100 * (2 * f - f * f), 1e-2);
}

TEST(WireWords, AMissingWireCountsAndOpensItsFamily) {
  BraidedFace face;
  face.section.wires[3].state = WireState::kMissing;
  EXPECT_EQ(face.Word("count").value, 15);
  EXPECT_NEAR(face.Word("spacing_max").value, 90, 1e-6);
}

TEST(WireWords, TheWorstWireGivesTheCover) {
  BraidedFace face;
  face.section.wires.pop_back();
  face.AddWire(2, 16, 335, 1120);
  EXPECT_NEAR(face.Word("outer_cover").value, 1250 - 1120 - 25, kSlack_um);
  face.section.wires.back().exposed_to = "outside";
  EXPECT_EQ(face.Word("outer_cover").value, 0);
}

TEST(WireWords, ADoubtfulOutlineMakesTheCoverDoubtfulAndALostOneMakesNone) {
  BraidedFace face;
  EXPECT_EQ(face.Word("outer_cover").grade, "clean");
  face.section.outline->doubt = "follows a rim";
  EXPECT_EQ(face.Word("outer_cover").grade, "doubtful");
  EXPECT_THAT(face.Word("outer_cover").grade_reason, HasSubstr("follows a rim"));
  EXPECT_NEAR(face.Word("outer_cover").value, 1250 - 1075 - 25, kSlack_um);
  face.AddWire(2, 17, 335, 1320);  // wholly outside
  EXPECT_EQ(face.Word("outer_cover").state, Measurement::State::kNotMeasured);
  EXPECT_THAT(face.Word("outer_cover").reason, HasSubstr("wholly outside"));
}

TEST(WireWords, UncertaintyOfTheAngleFollowsFromTheLength) {
  const BraidedFace face;
  const Measurement angle = face.Word("braid_angle", kWithIntervals);
  // d(angle) / d(long) = cot(angle) / long.
  const double length = face.section.wire_layers[0].long_um;
  const double u = 0.5 / length / std::tan(50 * kPi / 180) * 180 / kPi;
  EXPECT_GT(angle.u, 0.99 * u);
  EXPECT_LT(angle.u, 1.3 * u);
  EXPECT_LT(angle.lo, 50);
  EXPECT_GT(angle.hi, 50);
}

TEST(WireWords, SmallAnglesAndSmallWiresAreNotMeasured) {
  BraidedFace face;
  EXPECT_THAT(face.Word("braid_angle", kValuesOnly, 5.0).reason, HasSubstr("too small"));
  face.section.wire_layers[0].long_um = 50 / std::cos(25 * kPi / 180);
  EXPECT_THAT(face.Word("braid_angle").reason, HasSubstr("below 30 degrees"));
  EXPECT_EQ(face.Word("picks_per_mm").state, Measurement::State::kNotMeasured);
}

TEST(WireWords, ALayerThatWasNotToldGivesNoNumbers) {
  BraidedFace face;
  face.section.wire_layers[0].counted = false;
  face.section.wire_layers[0].doubt = "cut off";
  for (const char* word : {"count", "spacing_max", "outer_cover", "inner_cover"}) {
    EXPECT_EQ(face.Word(word).state, Measurement::State::kNotMeasured) << word;
    EXPECT_EQ(face.Word(word).reason, "cut off") << word;
  }
}

// The stretch of what is seen does not depend on one wire more or less; of a part of the layer it
// is not told.
TEST(WireWords, AnAngleIsToldWhereMostOfTheLayerIsSeen) {
  BraidedFace face;
  face.section.wire_layers[0].counted = false;
  face.section.wire_layers[0].doubt = "cut off";
  face.section.wires.erase(face.section.wires.begin());
  EXPECT_NEAR(face.Word("braid_angle").value, 50, 1e-6);
  EXPECT_EQ(face.Word("braid_angle").grade, "doubtful");
  face.section.wires.resize(face.section.wires.size() / 2);
  EXPECT_EQ(face.Word("braid_angle").reason, "cut off");
}

TEST(WireWords, WithoutFamiliesTheCountStandsAndTheSpacingDoesNot) {
  BraidedFace face;
  face.section.wire_layers[0].families_told = false;
  face.section.wire_layers[0].doubt = "hands cross";
  EXPECT_EQ(face.Word("count").value, 16);
  EXPECT_EQ(face.Word("spacing_max").reason, "hands cross");
}

}  // namespace
}  // namespace cutface
