// Findings from measured faces: each with the number that it names, and none on a sound face.
#include "cutface/analyse.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/measure.h"
#include "measure/faces.h"

namespace cutface {
namespace {

using faces::CirclePoints;
using faces::CircleShape;
using faces::EllipsePoints;
using faces::Hole;
using faces::Lumen;
using faces::LumenOf;
using faces::Traced;
using testing::HasSubstr;

// Two round lumens of 500 um side by side in an outline of 1600 um: septum 200, walls 200 um.
struct Shaft {
  Section section;
  Design design;
  SectionDesign plane;

  Shaft() {
    section.outline = Traced(CirclePoints({0, 0}, 800, 1440));
    Put("scope", {-350, 0}, 250);
    Put("wash", {350, 0}, 250);
    plane.outline = CircleShape({0, 0}, 1600);
    plane.lumens = {LumenOf("scope", CircleShape({-350, 0}, 500)),
                    LumenOf("wash", CircleShape({350, 0}, 500))};
  }
  void Put(const std::string& name, PointUm centre, double radius) {
    section.lumens.push_back(Lumen(name, CirclePoints(centre, radius, 720)));
  }
  void Limit(std::vector<std::string> of, const std::string& word, double lower) {
    Characteristic c;
    c.of = std::move(of);
    c.quantity = word;
    c.lower = lower;
    plane.characteristics.push_back(c);
  }
  std::vector<Finding> Findings(double floor = 0.5) const {
    MeasureOptions options;
    options.u_floor_um = floor;
    return Analyse(section, &design, &plane,
                   MeasureSection(section, &design, &plane, Scale::Isotropic(2.0), options));
  }
  const Finding* Find(const std::vector<Finding>& all, const std::string& kind) const {
    for (const Finding& f : all) {
      if (f.kind == kind) return &f;
    }
    return nullptr;
  }
};

TEST(Analyse, SoundFaceHasNoFinding) { EXPECT_THAT(Shaft().Findings(), testing::IsEmpty()); }

TEST(Analyse, SeptumBelowItsLimitIsThinAndProvenOnlyBeyondItsInterval) {
  Shaft shaft;
  shaft.Limit({"wash", "scope"}, "septum", 203);
  auto all = shaft.Findings();
  const Finding* thin = shaft.Find(all, "thin septum");
  ASSERT_NE(thin, nullptr);
  EXPECT_EQ(thin->severity, Severity::kHigh);
  EXPECT_NEAR(thin->evidence.at("septum_um"), 200, 0.02);
  EXPECT_EQ(thin->evidence.at("limit_um"), 203);
  EXPECT_THAT(thin->text, HasSubstr("0.2000 mm"));
  EXPECT_EQ(thin->at.size(), 2u);
  all = shaft.Findings(5.0);
  EXPECT_EQ(shaft.Find(all, "thin septum")->severity, Severity::kMedium);
}

TEST(Analyse, WithoutALimitAShareOfTheNominalIsAsked) {
  Shaft shaft;
  shaft.section.lumens.clear();
  shaft.Put("scope", {-300, 0}, 250);
  shaft.Put("wash", {350, 0}, 250);  // septum 150 of 200: not below 60 %
  EXPECT_EQ(shaft.Find(shaft.Findings(), "thin septum"), nullptr);
  shaft.section.lumens.clear();
  shaft.Put("scope", {-260, 0}, 250);
  shaft.Put("wash", {350, 0}, 250);  // 110
  const auto all = shaft.Findings();
  ASSERT_NE(shaft.Find(all, "thin septum"), nullptr);
  EXPECT_NEAR(shaft.Find(all, "thin septum")->evidence.at("threshold_um"), 120, 0.1);
}

TEST(Analyse, ThinWallNamesTheOutside) {
  Shaft shaft;
  shaft.section.lumens.clear();
  shaft.Put("scope", {-450, 0}, 250);
  shaft.Put("wash", {350, 0}, 250);
  const auto all = shaft.Findings();
  const Finding* thin = shaft.Find(all, "thin wall");
  ASSERT_NE(thin, nullptr);
  EXPECT_THAT(thin->where, testing::ElementsAre("scope", "outline"));
  EXPECT_NEAR(thin->evidence.at("wall_um"), 100, 0.02);
}

// Whether the region is a void is not sure, so neither is crosstalk: told, and not counted.
TEST(Analyse, DoubtfulVoidInASoundSeptumLeavesCrosstalkOpen) {
  Shaft shaft;
  shaft.section.voids = {Hole(1, CirclePoints({0, 0}, 60, 240))};
  shaft.section.voids[0].kind = VoidClass::kDoubtful;
  auto all = shaft.Findings();
  const Finding* perhaps = shaft.Find(all, "crosstalk");
  ASSERT_NE(perhaps, nullptr);
  EXPECT_EQ(perhaps->severity, Severity::kMedium);
  EXPECT_EQ(perhaps->evidence.at("counted"), 0);
  EXPECT_LT(perhaps->evidence.at("barrier_lo_um"), 80);
  EXPECT_NEAR(perhaps->evidence.at("barrier_um"), 200, 0.05);
  EXPECT_THAT(perhaps->text, HasSubstr("cannot be ruled out"));
  // Off the way it opens nothing.
  shaft.section.voids[0] = Hole(1, CirclePoints({0, 600}, 60, 240));
  shaft.section.voids[0].kind = VoidClass::kDoubtful;
  all = shaft.Findings();
  EXPECT_EQ(shaft.Find(all, "crosstalk"), nullptr);
}

TEST(Analyse, VoidInASoundSeptumIsCrosstalk) {
  Shaft shaft;
  shaft.section.voids = {Hole(1, CirclePoints({0, 0}, 60, 240))};  // 40 + 40 of 200 um remain
  const auto all = shaft.Findings();
  const Finding* crosstalk = shaft.Find(all, "crosstalk");
  ASSERT_NE(crosstalk, nullptr);
  EXPECT_EQ(crosstalk->severity, Severity::kHigh);
  EXPECT_NEAR(crosstalk->evidence.at("barrier_um"), 80, 0.05);
  EXPECT_NEAR(crosstalk->evidence.at("barrier_weakest_um"), 40, 0.05);
  EXPECT_NEAR(crosstalk->evidence.at("septum_um"), 200, 0.05);
  EXPECT_EQ(shaft.Find(all, "thin septum"), nullptr);
  ASSERT_NE(shaft.Find(all, "void"), nullptr);
  EXPECT_NEAR(shaft.Find(all, "void")->evidence.at("equivalent_diameter_um"), 120, 0.1);
  // A smaller void leaves 60 + 60: more than half.
  shaft.section.voids = {Hole(1, CirclePoints({0, 0}, 40, 240))};
  EXPECT_EQ(shaft.Find(shaft.Findings(), "crosstalk"), nullptr);
}

TEST(Analyse, MergedLumensAreABrokenSeptum) {
  Shaft shaft;
  shaft.section.lumens.clear();
  shaft.Put("scope", {0, 0}, 400);
  shaft.section.lumens[0].names = {"scope", "wash"};
  shaft.section.lumens[0].state = LumenState::kMerged;
  shaft.section.lumens[0].breach = Segment<FrameUm>{{0, -30}, {0, 30}};
  const auto all = shaft.Findings();
  const Finding* broken = shaft.Find(all, "broken septum");
  ASSERT_NE(broken, nullptr);
  EXPECT_EQ(broken->severity, Severity::kHigh);
  EXPECT_EQ(broken->evidence.at("breach_um"), 60);
  EXPECT_EQ(shaft.Find(all, "thin septum"), nullptr);
}

TEST(Analyse, FlattenedLumenHasCollapsed) {
  Shaft shaft;
  shaft.section.lumens[0] = Lumen("scope", EllipsePoints({-350, 0}, 250, 125, 720));
  const auto all = shaft.Findings();
  const Finding* collapsed = shaft.Find(all, "collapsed lumen");
  ASSERT_NE(collapsed, nullptr);
  EXPECT_NEAR(collapsed->evidence.at("area_ratio"), 0.5, 1e-3);
  EXPECT_NEAR(collapsed->evidence.at("inscribed_ratio"), 0.5, 1e-3);
  // K of an ellipse with b = a / 2 over that of the circle of radius a: 0.2.
  EXPECT_NEAR(collapsed->evidence.at("flow_ratio"), 0.2, 1e-3);
  EXPECT_EQ(collapsed->severity, Severity::kHigh);
}

TEST(Analyse, LumensThatAllSitOnOneSideAreOffCentre) {
  Shaft shaft;
  shaft.section.lumens.clear();
  shaft.Put("scope", {-350, 30}, 250);
  shaft.Put("wash", {350, 30}, 250);  // 30 um of 200 um wall
  const auto all = shaft.Findings();
  const Finding* off = shaft.Find(all, "off-centre lumens");
  ASSERT_NE(off, nullptr);
  EXPECT_NEAR(off->evidence.at("pattern_offset_um"), 30, 0.05);
  // Turned against each other they are not: 30 up and 30 down.
  shaft.section.lumens.clear();
  shaft.Put("scope", {-350, 30}, 250);
  shaft.Put("wash", {350, -30}, 250);
  EXPECT_EQ(shaft.Find(shaft.Findings(), "off-centre lumens"), nullptr);
}

TEST(Analyse, SaysWhatIsWrongWithCutPictureAndPart) {
  Shaft shaft;
  shaft.section.placement.oblique_rad = 12 * kPi / 180;
  shaft.section.placement.mirrored = true;
  shaft.section.placement.names_proven = false;
  shaft.section.picture.grade = "doubtful";
  shaft.section.picture.reasons = {"blur of 6 px"};
  shaft.section.lumens[1].state = LumenState::kNotFound;
  shaft.section.lumens[1].bore = {};
  shaft.section.lumens[0].bore.whole = false;
  const auto all = shaft.Findings();
  ASSERT_NE(shaft.Find(all, "oblique cut"), nullptr);
  EXPECT_EQ(shaft.Find(all, "oblique cut")->severity, Severity::kMedium);
  EXPECT_NEAR(shaft.Find(all, "oblique cut")->evidence.at("stretch_percent"), 2.234, 1e-3);
  EXPECT_NE(shaft.Find(all, "mirrored"), nullptr);
  EXPECT_NE(shaft.Find(all, "wrong part"), nullptr);
  ASSERT_NE(shaft.Find(all, "poor image"), nullptr);
  EXPECT_THAT(shaft.Find(all, "poor image")->text, HasSubstr("blur of 6 px"));
  ASSERT_NE(shaft.Find(all, "cut off by the frame"), nullptr);
  EXPECT_THAT(shaft.Find(all, "cut off by the frame")->where, testing::ElementsAre("scope"));
}

TEST(Analyse, OtherSizeOrSeveralMissingLumensIsTheWrongPart) {
  Shaft shaft;
  shaft.section.outline = Traced(CirclePoints({0, 0}, 1000, 1440));
  auto all = shaft.Findings();
  ASSERT_NE(shaft.Find(all, "wrong part"), nullptr);
  EXPECT_EQ(shaft.Find(all, "wrong part")->severity, Severity::kHigh);
  Shaft empty;
  for (LumenTrace& lumen : empty.section.lumens) {
    lumen.state = LumenState::kNotFound;
    lumen.bore = {};
  }
  all = empty.Findings();
  ASSERT_NE(empty.Find(all, "wrong part"), nullptr);
  EXPECT_EQ(empty.Find(all, "wrong part")->severity, Severity::kHigh);
}

TEST(Analyse, LumensWithEachOthersSizeAreTold) {
  Shaft shaft;
  shaft.plane.lumens = {LumenOf("scope", CircleShape({-350, 0}, 500)),
                        LumenOf("wash", CircleShape({350, 0}, 440))};
  shaft.section.lumens = {Lumen("scope", CirclePoints({-350, 0}, 221, 720)),
                          Lumen("wash", CirclePoints({350, 0}, 249, 720))};
  const auto all = shaft.Findings();
  const Finding* told = shaft.Find(all, "wrong part");
  ASSERT_NE(told, nullptr);
  EXPECT_EQ(told->severity, Severity::kHigh);
  EXPECT_THAT(told->where, testing::ElementsAre("scope", "wash"));
  EXPECT_EQ(told->evidence.count("exchanged"), 1u);
  // As drawn, or one of them alone off: nothing.
  shaft.section.lumens = {Lumen("scope", CirclePoints({-350, 0}, 250, 720)),
                          Lumen("wash", CirclePoints({350, 0}, 220, 720))};
  EXPECT_EQ(shaft.Find(shaft.Findings(), "wrong part"), nullptr);
  shaft.section.lumens[0] = Lumen("scope", CirclePoints({-350, 0}, 222, 720));
  EXPECT_EQ(shaft.Find(shaft.Findings(), "wrong part"), nullptr);
}

TEST(Analyse, AFaceThatIsLargerAsAWholeSpeaksOfAnotherScale) {
  Shaft shaft;
  shaft.section.outline = Traced(CirclePoints({0, 0}, 1.07 * 800, 1440));
  shaft.section.lumens = {Lumen("scope", CirclePoints({-374, 0}, 1.075 * 250, 720)),
                          Lumen("wash", CirclePoints({374, 0}, 1.06 * 250, 720))};
  const auto all = shaft.Findings();
  const Finding* told = shaft.Find(all, "wrong scale");
  ASSERT_NE(told, nullptr);
  EXPECT_NEAR(told->evidence.at("larger_percent"), 7, 0.01);
  EXPECT_THAT(told->text, HasSubstr("7.0 % larger"));
  // A tilt explains as much.
  shaft.section.placement.stretch_kind = StretchKind::kOblique;
  shaft.section.placement.stretch = 1.14;
  EXPECT_EQ(shaft.Find(shaft.Findings(), "wrong scale"), nullptr);
  shaft.section.placement = {};
  // Lumens that are larger in an outline that is not: sizes, no scale.
  shaft.section.outline = Traced(CirclePoints({0, 0}, 800, 1440));
  EXPECT_EQ(shaft.Find(shaft.Findings(), "wrong scale"), nullptr);
}

TEST(Analyse, AFaceThatIsLaidOutOtherwiseIsTheWrongPart) {
  Shaft shaft;
  shaft.section.lumens[0] = Lumen("scope", CirclePoints({-350, 0}, 150, 720));
  EXPECT_EQ(shaft.Find(shaft.Findings(), "wrong part"), nullptr);  // one may have collapsed
  shaft.section.voids = {Hole(1, CirclePoints({0, 500}, 200, 360))};
  const auto all = shaft.Findings();
  const Finding* told = shaft.Find(all, "wrong part");
  ASSERT_NE(told, nullptr);
  EXPECT_EQ(told->severity, Severity::kHigh);
  EXPECT_EQ(told->evidence.at("holes_like_lumens"), 1);
  EXPECT_EQ(told->evidence.at("lumens_not_as_drawn"), 1);
}

TEST(Analyse, ARingOfSpecksSpeaksOfWiresThatAreNotDrawn) {
  Shaft shaft;
  const auto speck = [&](int no, double degrees, double radius) {
    const double t = degrees * 3.14159265358979 / 180;
    Void v = Hole(no, CirclePoints({radius * std::cos(t), radius * std::sin(t)}, 15, 60));
    v.kind = VoidClass::kDebris;
    return v;
  };
  for (int i = 0; i < 8; ++i)
    shaft.section.voids.push_back(speck(i + 1, 45.0 * i, i % 2 == 0 ? 690 : 720));
  const auto all = shaft.Findings();
  const Finding* told = shaft.Find(all, "extra wire");
  ASSERT_NE(told, nullptr);
  EXPECT_EQ(told->severity, Severity::kHigh);
  EXPECT_EQ(told->evidence.at("places"), 8);
  // A drawn layer is told, so that they are none of its wires; or it is not, so that they may be.
  WireLayerTrace layer;
  layer.name = "braid";
  layer.expected = 1;
  shaft.section.wire_layers = {layer};
  shaft.plane.wires.resize(1);
  shaft.plane.wires[0].name = "braid";
  EXPECT_EQ(shaft.Find(shaft.Findings(), "extra wire"), nullptr);
  shaft.section.wires.resize(1);
  shaft.section.wires[0].layer = "braid";
  EXPECT_NE(shaft.Find(shaft.Findings(), "extra wire"), nullptr);
  shaft.section.wires.clear();
  shaft.section.wire_layers.clear();
  shaft.plane.wires.clear();
  // On one side only: dirt.
  for (int i = 0; i < 8; ++i)
    shaft.section.voids[static_cast<std::size_t>(i)] = speck(i + 1, 20.0 * i, 700);
  EXPECT_EQ(shaft.Find(shaft.Findings(), "extra wire"), nullptr);
}

TEST(Analyse, ALinerOrALayerOfWiresThatWasNotToldIsAFinding) {
  Shaft shaft;
  shaft.plane.lumens[0].liner_thickness_um = 25;
  WireLayerTrace layer;
  layer.name = "braid";
  layer.expected = 16;
  layer.counted = false;
  layer.doubt = "no wire was found";
  shaft.section.wire_layers = {layer};
  auto all = shaft.Findings();
  const Finding *liner = shaft.Find(all, "missing liner"), *wires = shaft.Find(all, "missing wire");
  ASSERT_NE(liner, nullptr);
  EXPECT_THAT(liner->where, testing::ElementsAre("scope"));
  EXPECT_EQ(liner->severity, Severity::kHigh);  // no row of the drawing says it
  ASSERT_NE(wires, nullptr);
  EXPECT_THAT(wires->where, testing::ElementsAre("braid"));
  EXPECT_EQ(wires->severity, Severity::kHigh);
  EXPECT_EQ(wires->evidence.at("counted"), 0);
  EXPECT_THAT(wires->text, HasSubstr("16 are drawn: no wire was found"));
  shaft.Limit({"scope/liner"}, "thickness_mean", 20);
  all = shaft.Findings();
  EXPECT_EQ(shaft.Find(all, "missing liner")->severity, Severity::kMedium);
  LinerTrace told;
  told.lumen = "scope";
  told.outer = Traced(CirclePoints({-350, 0}, 275, 720));
  shaft.section.liners = {told};
  shaft.section.wires.resize(16);
  for (WireTrace& wire : shaft.section.wires) wire.layer = "braid";
  all = shaft.Findings();
  EXPECT_EQ(shaft.Find(all, "missing liner"), nullptr);
  EXPECT_EQ(shaft.Find(all, "missing wire"), nullptr);
}

TEST(Analyse, NoEdgeAroundABoreIsTold) {
  Shaft shaft;
  for (ContourVertex& v : shaft.section.lumens[1].bore.vertices) v.state = VertexState::kBridged;
  const auto all = shaft.Findings();
  const Finding* told = shaft.Find(all, "wrong part");
  ASSERT_NE(told, nullptr);
  EXPECT_THAT(told->where, testing::ElementsAre("wash"));
  EXPECT_EQ(told->severity, Severity::kMedium);
  Shaft bare;
  for (ContourVertex& v : bare.section.outline->vertices) v.state = VertexState::kBridged;
  const auto more = bare.Findings();
  told = bare.Find(more, "wrong part");
  ASSERT_NE(told, nullptr);
  EXPECT_THAT(told->where, testing::ElementsAre("outline", "scope", "wash"));
  EXPECT_EQ(told->severity, Severity::kHigh);
}

TEST(Analyse, SurveyWithoutDrawingStillSeesTheFace) {
  Shaft shaft;
  shaft.section.voids = {Hole(1, CirclePoints({0, 0}, 60, 240))};
  const auto measured = MeasureSection(shaft.section, nullptr, nullptr, Scale::Isotropic(2.0));
  const auto all = Analyse(shaft.section, nullptr, nullptr, measured);
  ASSERT_EQ(all.size(), 1u);
  EXPECT_EQ(all[0].kind, "void");
}

TEST(Analyse, FilledLumenIsANote) {
  Shaft shaft;
  shaft.section.lumens[0].state = LumenState::kFilled;
  const auto all = shaft.Findings();
  ASSERT_NE(shaft.Find(all, "filled lumen"), nullptr);
  EXPECT_EQ(shaft.Find(all, "filled lumen")->severity, Severity::kLow);
}

TEST(Analyse, AMandrelIsToldInPlaceOfAFilling) {
  Shaft shaft;
  LumenTrace& lumen = shaft.section.lumens[0];
  lumen.state = LumenState::kFilled;
  const double bore = 2 * std::sqrt(Area(lumen.bore.Points()) / std::numbers::pi);
  lumen.mandrel = LeftMandrel{Centroid(lumen.bore.Points()), 0.9 * bore, 0.9 * bore};
  const auto all = shaft.Findings();
  EXPECT_EQ(shaft.Find(all, "filled lumen"), nullptr);
  const Finding* mandrel = shaft.Find(all, "mandrel left in");
  ASSERT_NE(mandrel, nullptr);
  EXPECT_EQ(mandrel->where, lumen.names);
  EXPECT_NEAR(mandrel->evidence.at("share_of_diameter_percent"), 90, 0.1);
  EXPECT_THAT(mandrel->text, testing::HasSubstr("measured around"));
}

TEST(Analyse, AStarvedOffCentreBondIsTold) {
  Shaft shaft;
  shaft.section.lumens.clear();
  shaft.plane.lumens.clear();
  shaft.section.rings = {{"sleeve", Traced(CirclePoints({0, 0}, 700, 1440))},
                         {"adhesive", Traced(CirclePoints({30, 0}, 650, 1440))}};
  shaft.plane.rings = {{"sleeve", CircleShape({0, 0}, 1400)},
                       {"adhesive", CircleShape({0, 0}, 1300)}};
  shaft.plane.bond = BondDesign{"adhesive", "sleeve", 5};
  Void gap = Hole(1, CirclePoints({-650, 0}, 40, 720), VoidClass::kBondGap);
  shaft.section.voids = {gap};
  const auto all = shaft.Findings();
  const Finding* starved = shaft.Find(all, "starved bond");
  ASSERT_NE(starved, nullptr);
  // A disc of radius 40 um seen from 680 um away.
  EXPECT_NEAR(starved->evidence.at("longest_gap_deg"),
              2 * std::asin(40.0 / 680) * 180 / std::numbers::pi, 0.05);
  const Finding* off = shaft.Find(all, "off-centre bond");
  ASSERT_NE(off, nullptr);
  EXPECT_NEAR(off->evidence.at("offset_um"), 30, 0.1);
  const Finding* uneven = shaft.Find(all, "uneven bond");
  ASSERT_NE(uneven, nullptr);
  EXPECT_NEAR(uneven->evidence.at("thickness_min_um"), 20, 0.3);
  EXPECT_EQ(shaft.Find(all, "void"), nullptr);
  shaft.section.rings[0].inner = {};  // a seam that was not told: the gap is there all the same
  const auto blind = shaft.Findings();
  ASSERT_NE(shaft.Find(blind, "starved bond"), nullptr);
  EXPECT_EQ(shaft.Find(blind, "starved bond")->severity, Severity::kHigh);
  EXPECT_EQ(shaft.Find(blind, "starved bond")->evidence.at("gaps"), 1);
  shaft.section.rings[0].inner = Traced(CirclePoints({0, 0}, 700, 1440));
  shaft.section.voids.clear();
  shaft.section.rings[1].inner = Traced(CirclePoints({0, 0}, 650, 1440));
  const auto sound = shaft.Findings();
  for (const char* kind : {"starved bond", "off-centre bond", "uneven bond"})
    EXPECT_EQ(shaft.Find(sound, kind), nullptr) << kind;
}

TEST(Analyse, WiresThatAreMissingPulledOutExtraOrBareAreNamed) {
  Shaft shaft;
  const auto add = [&](int no, WireState state, const char* exposed) {
    WireTrace wire;
    wire.layer = "braid";
    wire.no = no;
    wire.state = state;
    wire.exposed_to = exposed;
    shaft.section.wires.push_back(wire);
  };
  add(1, WireState::kWire, "");
  add(2, WireState::kMissing, "");
  add(3, WireState::kPulledOut, "");
  add(4, WireState::kExtra, "");
  add(5, WireState::kWire, "outside");
  shaft.section.wires.front().displaced = true;
  shaft.section.wires.front().off_um = 80;
  const auto all = shaft.Findings();
  ASSERT_EQ(all.size(), 5u);
  const auto missing = std::count_if(all.begin(), all.end(),
                                     [](const Finding& f) { return f.kind == "missing wire"; });
  EXPECT_EQ(missing, 2);
  EXPECT_EQ(shaft.Find(all, "missing wire")->severity, Severity::kHigh);
  EXPECT_THAT(shaft.Find(all, "missing wire")->where, testing::ElementsAre("braid", "braid/2"));
  EXPECT_THAT(shaft.Find(all, "exposed wire")->where,
              testing::ElementsAre("braid", "braid/5", "outline"));
  EXPECT_EQ(shaft.Find(all, "displaced wire")->evidence.at("off_um"), 80);
  EXPECT_NE(shaft.Find(all, "extra wire"), nullptr);
}

TEST(Analyse, OverloadedSeptumIsProvenOnlyBeyondItsInterval) {
  Shaft shaft;
  shaft.design.materials["body"] = {50.0, 0.45, 2.0};
  Measurement septum, stress;
  septum.of = stress.of = {"scope", "wash"};
  septum.quantity = "septum";
  septum.value = 200;
  stress.quantity = "ligament_stress";
  stress.unit = "MPa";
  stress.value = 2.5;
  stress.lo = 2.2;
  stress.hi = 2.8;
  const auto found = [&] {
    return Analyse(shaft.section, &shaft.design, &shaft.plane, std::vector{septum, stress});
  };
  auto all = found();
  const Finding* over = shaft.Find(all, "overloaded septum");
  ASSERT_NE(over, nullptr);
  EXPECT_EQ(over->severity, Severity::kHigh);
  EXPECT_EQ(over->evidence.at("allowed_mpa"), 2.0);
  stress.lo = 1.9;
  all = found();
  EXPECT_EQ(shaft.Find(all, "overloaded septum")->severity, Severity::kMedium);
  stress.hi = 2.0;
  all = found();
  EXPECT_EQ(shaft.Find(all, "overloaded septum"), nullptr);
}

TEST(Analyse, CollapseTellsPressedFlatFromShrunk) {
  Shaft shaft;
  shaft.section.lumens.clear();
  // Half as high at the same perimeter: b / a = 0.5, perimeter / a = 4.8442241.
  const double a = 2 * kPi * 250 / 4.8442241;
  shaft.section.lumens.push_back(Lumen("scope", EllipsePoints({-350, 0}, a, a / 2, 1440)));
  shaft.Put("wash", {350, 0}, 200);
  const auto all = shaft.Findings();
  int seen = 0;
  for (const Finding& f : all) {
    if (f.kind != "collapsed lumen") continue;
    ++seen;
    const bool flat = f.where.front() == "scope";
    EXPECT_THAT(f.text, HasSubstr(flat ? "perimeter is kept" : "it shrank"));
    if (flat) {
      EXPECT_THAT(f.text, HasSubstr("narrow from 12 to 6 o'clock"));
      EXPECT_NEAR(std::abs(std::remainder(f.evidence.at("narrow_clock_deg"), 180)), 0, 0.5);
    }
    EXPECT_NEAR(f.evidence.at("perimeter_ratio"), flat ? 1.0 : 0.8, 0.005);
  }
  EXPECT_EQ(seen, 2);
}

}  // namespace
}  // namespace cutface
