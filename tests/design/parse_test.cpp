// What a drawing says arrives in the fields, in micrometres.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/design.h"
#include "design/drawings.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::DoubleEq;
using testing::DoubleNear;
using testing::ElementsAre;
using testing::IsNull;
using testing::NotNull;
using testing::Optional;

Design Full() {
  auto design = ParseDesign(kFullDrawing, "full.design.json");
  EXPECT_THAT(design, IsOk());
  return design ? *design : Design{};
}

const Characteristic& Row(const SectionDesign& section, std::string_view no) {
  for (const Characteristic& row : section.characteristics) {
    if (row.no == no) return row;
  }
  static const Characteristic none;
  ADD_FAILURE() << "no row " << no;
  return none;
}

TEST(ParseDesign, HeadAndSettingsArrive) {
  const Design design = Full();
  EXPECT_EQ(design.part_number, "LV-7504");
  EXPECT_EQ(design.revision, "C");
  EXPECT_EQ(design.title, "four-lumen lavage shaft");
  EXPECT_EQ(design.units, LengthUnit::kMillimetre);
  EXPECT_EQ(design.decision_rule.kind, DecisionRule::Kind::kGuarded);
  EXPECT_DOUBLE_EQ(design.decision_rule.conformance, 0.95);
  EXPECT_DOUBLE_EQ(design.edge_cutoff_um, 12);
  ASSERT_EQ(design.preparation_u.count("septum"), 1u);
  EXPECT_DOUBLE_EQ(design.preparation_u.at("septum").um, 1.5);
  EXPECT_EQ(design.preparation_u.at("septum").study, "recut-07");
  EXPECT_THAT(design.materials.at("body").modulus_mpa, Optional(50.0));
  EXPECT_THAT(design.materials.at("body").poisson, Optional(0.48));
  EXPECT_TRUE(design.method_locked);
  EXPECT_EQ(design.image_kind, "single");
  EXPECT_DOUBLE_EQ(design.limits.flow_ratio_least, 0.75);
  EXPECT_DOUBLE_EQ(design.limits.inscribed_ratio_least, 0.7);
  EXPECT_DOUBLE_EQ(design.limits.area_ratio_least, 0.9);
  EXPECT_DOUBLE_EQ(design.limits.thin_share, 0.5);
  EXPECT_DOUBLE_EQ(design.limits.off_centre_share, 0.2);
  EXPECT_DOUBLE_EQ(design.pins.step_um, 10);
  EXPECT_DOUBLE_EQ(design.pins.clearance_um, 5);
  EXPECT_EQ(design.sha256, Sha256Hex(std::string_view(kFullDrawing)));
  EXPECT_EQ(design.file_name, "full.design.json");
}

TEST(ParseDesign, FeaturesArriveInTheFilesOrderAndInMicrometres) {
  const Design design = Full();
  const SectionDesign* shaft = design.FindSection("shaft-mid");
  ASSERT_THAT(shaft, NotNull());
  EXPECT_EQ(shaft->kind, "shaft");
  EXPECT_EQ(shaft->seen_from, "proximal");
  EXPECT_THAT(shaft->station_mm, Optional(400.0));
  EXPECT_EQ(shaft->datum.clock, "scope");
  EXPECT_DOUBLE_EQ(shaft->outline.diameter_um, 2500);
  ASSERT_EQ(shaft->rings.size(), 1u);
  EXPECT_EQ(shaft->rings[0].name, "jacket");
  EXPECT_DOUBLE_EQ(shaft->rings[0].inner.diameter_um, 2080);

  ASSERT_EQ(shaft->lumens.size(), 4u);
  EXPECT_EQ(shaft->lumens[0].name, "scope");
  EXPECT_EQ(shaft->lumens[1].name, "wash");
  EXPECT_EQ(shaft->lumens[2].name, "return");
  EXPECT_EQ(shaft->lumens[3].name, "cuff");
  EXPECT_THAT(shaft->lumens[0].liner_thickness_um, Optional(DoubleEq(25)));
  EXPECT_DOUBLE_EQ(shaft->lumens[0].shape.centre.y, 470);
  EXPECT_EQ(shaft->lumens[1].shape.kind, Shape::Kind::kPath);
  EXPECT_NEAR(shaft->lumens[2].shape.angle_rad, -kPi / 6, 1e-15);
  EXPECT_DOUBLE_EQ(shaft->lumens[2].shape.size_x_um, 500);
  EXPECT_DOUBLE_EQ(shaft->lumens[3].shape.corner_radius_um, 30);
  EXPECT_EQ(shaft->lumens[3].filled, "mandrel");
  EXPECT_EQ(shaft->FindLumen("cuff"), &shaft->lumens[3]);
  EXPECT_THAT(shaft->FindLumen("Cuff"), IsNull());

  ASSERT_EQ(shaft->wires.size(), 2u);
  EXPECT_THAT(shaft->wires[0].carriers, Optional(16));
  EXPECT_THAT(shaft->wires[0].ends, Optional(1));
  EXPECT_THAT(shaft->wires[0].round_um, Optional(DoubleEq(50)));
  EXPECT_THAT(shaft->wires[0].on_diameters_um, ElementsAre(DoubleEq(2100), DoubleEq(2200)));
  EXPECT_THAT(shaft->wires[0].braid_angle_deg, Optional(50.0));
  EXPECT_THAT(shaft->wires[1].count, Optional(2));
  ASSERT_TRUE(shaft->wires[1].flat_um.has_value());
  EXPECT_DOUBLE_EQ(shaft->wires[1].flat_um->second, 100);
  ASSERT_EQ(shaft->fibres.size(), 1u);
  EXPECT_EQ(shaft->fibres[0].filaments, 40);
  EXPECT_DOUBLE_EQ(shaft->fibres[0].filament_diameter_um, 14);
}

TEST(ParseDesign, EveryContourIsPositiveSimpleAndOpenAtItsEnd) {
  const Design design = Full();
  int contours = 0;
  for (const SectionDesign& section : design.sections) {
    std::vector<const Shape*> shapes = {&section.outline};
    for (const RingDesign& ring : section.rings) shapes.push_back(&ring.inner);
    for (const LumenDesign& lumen : section.lumens) shapes.push_back(&lumen.shape);
    for (const Shape* shape : shapes) {
      ASSERT_GE(shape->contour.size(), 3u);
      EXPECT_GT(SignedArea(std::span<const PointUm>(shape->contour)), 0);
      EXPECT_TRUE(IsSimple(std::span<const PointUm>(shape->contour)));
      EXPECT_FALSE(shape->contour.front() == shape->contour.back());
      ++contours;
    }
  }
  EXPECT_EQ(contours, 6 + 8 + 1 + 2);
}

TEST(ParseDesign, LimitsFollowFromNominalOrFromMinAndMaxInResultUnits) {
  const Design design = Full();
  const SectionDesign& shaft = *design.FindSection("shaft-mid");
  const Characteristic& diameter = Row(shaft, "1");
  EXPECT_THAT(diameter.lower, Optional(DoubleNear(2450, 1e-9)));
  EXPECT_THAT(diameter.upper, Optional(DoubleNear(2550, 1e-9)));
  EXPECT_THAT(diameter.nominal, Optional(2.5));
  EXPECT_TRUE(diameter.is_length);
  EXPECT_EQ(diameter.criticality, CharacteristicClass::kMajor);
  const Characteristic& area = Row(shaft, "2");
  EXPECT_THAT(area.lower, Optional(DoubleNear(0.6e6, 1e-6)));
  EXPECT_THAT(area.upper, Optional(DoubleNear(0.8e6, 1e-6)));
  EXPECT_TRUE(area.is_area);
  EXPECT_EQ(area.criticality, CharacteristicClass::kMinor);
  const Characteristic& clock = Row(shaft, "3");
  EXPECT_THAT(clock.lower, Optional(DoubleEq(107)));
  EXPECT_THAT(clock.upper, Optional(DoubleEq(116)));
  EXPECT_FALSE(clock.is_length || clock.is_area);
  const Characteristic& septum = Row(shaft, "7");
  EXPECT_THAT(septum.of, ElementsAre("scope", "wash"));
  EXPECT_THAT(septum.lower, Optional(DoubleNear(100, 1e-12)));
  EXPECT_FALSE(septum.upper.has_value());
  EXPECT_EQ(septum.criticality, CharacteristicClass::kCritical);
  EXPECT_THAT(Row(shaft, "8").lower, Optional(0.8));
  EXPECT_THAT(Row(shaft, "5").lower, Optional(80.0));
  EXPECT_EQ(Row(shaft, "12").finding, "crosstalk");
  EXPECT_EQ(Row(shaft, "12").allowed, 0);
  EXPECT_TRUE(Row(shaft, "13").elsewhere);
  EXPECT_EQ(Row(shaft, "13").text, "length 1100");
}

TEST(ParseDesign, LikeTakesOverAllThatIsNotReplaced) {
  const Design design = Full();
  const SectionDesign* bond = design.FindSection("bond-distal");
  ASSERT_THAT(bond, NotNull());
  EXPECT_EQ(bond->kind, "bond");
  EXPECT_DOUBLE_EQ(bond->outline.diameter_um, 3100);
  EXPECT_EQ(bond->lumens.size(), 4u);  // inherited
  EXPECT_EQ(bond->wires.size(), 2u);   // inherited
  EXPECT_EQ(bond->rings.size(), 3u);   // replaced as a whole
  EXPECT_TRUE(bond->fibres.empty());   // taken away with null
  EXPECT_EQ(bond->seen_from, "proximal");
  EXPECT_EQ(bond->characteristics.size(), 12u);
  ASSERT_TRUE(bond->bond.has_value());
  EXPECT_EQ(bond->bond->adhesive, "adhesive");
  EXPECT_DOUBLE_EQ(bond->bond->gap_um, 4);
  EXPECT_FALSE(design.FindSection("shaft-mid")->bond.has_value());
}

TEST(ParseDesign, LikeMayPointForwardAndOverSteps) {
  DrawingJson drawing = FullDrawing();
  DrawingJson sections = DrawingJson::object();
  sections["c"] = {{"like", "b"}, {"station_mm", 3}};
  sections["b"] = {{"like", "shaft-mid"}, {"kind", "lengthwise"}};
  sections["shaft-mid"] = drawing["sections"]["shaft-mid"];
  drawing["sections"] = sections;
  const auto design = ParseDesign(drawing.dump(), "x");
  ASSERT_THAT(design, IsOk());
  EXPECT_EQ(design->sections[0].name, "c");
  EXPECT_EQ(design->sections[0].kind, "lengthwise");
  EXPECT_THAT(design->sections[0].station_mm, Optional(3.0));
  EXPECT_EQ(design->sections[0].lumens.size(), 4u);
}

// The same part drawn in inches and in micrometres: 1 in = 25.4 mm exactly (ISO 80000-3).
TEST(ParseDesign, UnitsScaleLengthsAreasAndPaths) {
  const char* text =
      R"({"format": "cutface/design", "version": 1, "units": "%", "part": {"number": "x"},
    "sections": {"s": {"kind": "shaft", "outline": {"circle": {"diameter": 0.1}},
      "lumens": {"a": {"path": "M0,0 h0.02 v0.02 h-0.02 z"}},
      "characteristics": [{"no": "1", "of": "a", "quantity": "area", "max": 0.0005},
                          {"no": "2", "of": "a", "quantity": "width_max", "max": 0.03}]}}})";
  struct Unit {
    const char* name;
    double um;
  };
  for (const Unit unit : {Unit{"in", 25400}, Unit{"mm", 1000}}) {
    std::string drawn = text;
    drawn.replace(drawn.find('%'), 1, unit.name);
    const auto design = ParseDesign(drawn, "x");
    ASSERT_THAT(design, IsOk());
    const SectionDesign& s = design->sections[0];
    EXPECT_DOUBLE_EQ(s.outline.diameter_um, 0.1 * unit.um);
    EXPECT_NEAR(Area(std::span<const PointUm>(s.lumens[0].shape.contour)),
                0.02 * 0.02 * unit.um * unit.um, 1e-6 * unit.um);
    EXPECT_THAT(s.characteristics[0].upper, Optional(DoubleNear(0.0005 * unit.um * unit.um, 1e-6)));
    EXPECT_THAT(s.characteristics[1].upper, Optional(DoubleNear(0.03 * unit.um, 1e-9)));
  }
}

TEST(ParseDesign, DefaultsHoldWhereTheDrawingIsSilent) {
  const auto design = ParseDesign(
      R"({"format": "cutface/design", "version": 1, "units": "um", "part": {"number": "x"},
          "sections": {"s": {"kind": "shaft", "outline": {"circle": {"diameter": 900}}}}})",
      "x");
  ASSERT_THAT(design, IsOk());
  EXPECT_EQ(design->decision_rule.kind, DecisionRule::Kind::kGuarded);
  EXPECT_DOUBLE_EQ(design->decision_rule.conformance, 0.95);
  EXPECT_DOUBLE_EQ(design->edge_cutoff_um, 10);
  EXPECT_FALSE(design->method_locked);
  EXPECT_DOUBLE_EQ(design->pins.step_um, 12.7);
  EXPECT_EQ(design->sections[0].datum.centre, "outline");
  EXPECT_EQ(design->sections[0].datum.clock, "");
}

TEST(ParseDesign, AByteOrderMarkIsNoMistake) {
  EXPECT_THAT(ParseDesign(std::string("\xEF\xBB\xBF") + kFullDrawing, "x"), IsOk());
}

TEST(ReadDesign, TheDemoDrawingIsThePlainExtrusion) {
  const auto design = ReadDesign(CUTFACE_SOURCE_DIR "/sample-images/LV-7504.design.json");
  ASSERT_THAT(design, IsOk());
  EXPECT_EQ(design->file_name, "LV-7504.design.json");
  EXPECT_EQ(design->part_number, "LV-7504");
  const SectionDesign* plane = design->FindSection("extrusion");
  ASSERT_THAT(plane, NotNull());
  EXPECT_EQ(plane->lumens.size(), 4u);
  EXPECT_TRUE(plane->rings.empty() && plane->wires.empty());
}

TEST(ReadDesign, AMissingFileIsSaidSo) {
  EXPECT_THAT(ReadDesign("/nowhere/x.design.json"), FailsWith(Code::kFileMissing));
}

}  // namespace
}  // namespace cutface
