// A written drawing reads back the same, and a validator that is not ours accepts it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>

#include "cutface/design.h"
#include "design/drawings.h"
#include "support/matchers.h"
#include "support/validate.h"

namespace cutface {
namespace {

void ExpectSameShape(const Shape& a, const Shape& b) {
  EXPECT_EQ(a.kind, b.kind);
  EXPECT_EQ(a.centre, b.centre);
  EXPECT_EQ(a.diameter_um, b.diameter_um);
  EXPECT_EQ(a.size_x_um, b.size_x_um);
  EXPECT_EQ(a.size_y_um, b.size_y_um);
  EXPECT_EQ(a.angle_rad, b.angle_rad);
  EXPECT_EQ(a.corner_radius_um, b.corner_radius_um);
  EXPECT_EQ(a.path, b.path);
  EXPECT_EQ(a.contour, b.contour);
}

void ExpectSameRow(const Characteristic& a, const Characteristic& b) {
  EXPECT_EQ(a.no, b.no);
  EXPECT_EQ(a.of, b.of);
  EXPECT_EQ(a.quantity, b.quantity);
  EXPECT_EQ(a.plus, b.plus);
  EXPECT_EQ(a.minus, b.minus);
  EXPECT_EQ(a.nominal, b.nominal);
  EXPECT_EQ(a.lower, b.lower);
  EXPECT_EQ(a.upper, b.upper);
  EXPECT_EQ(a.criticality, b.criticality);
  EXPECT_EQ(a.finding, b.finding);
  EXPECT_EQ(a.allowed, b.allowed);
  EXPECT_EQ(a.text, b.text);
  EXPECT_EQ(a.elsewhere, b.elsewhere);
  EXPECT_EQ(a.is_length, b.is_length);
  EXPECT_EQ(a.is_area, b.is_area);
}

void ExpectSameSection(const SectionDesign& a, const SectionDesign& b) {
  SCOPED_TRACE(a.name);
  EXPECT_EQ(a.name, b.name);
  EXPECT_EQ(a.kind, b.kind);
  EXPECT_EQ(a.station_mm, b.station_mm);
  EXPECT_EQ(a.seen_from, b.seen_from);
  EXPECT_EQ(a.datum.centre, b.datum.centre);
  EXPECT_EQ(a.datum.clock, b.datum.clock);
  ExpectSameShape(a.outline, b.outline);
  ASSERT_EQ(a.rings.size(), b.rings.size());
  for (std::size_t i = 0; i < a.rings.size(); ++i) {
    EXPECT_EQ(a.rings[i].name, b.rings[i].name);
    ExpectSameShape(a.rings[i].inner, b.rings[i].inner);
  }
  ASSERT_EQ(a.lumens.size(), b.lumens.size());
  for (std::size_t i = 0; i < a.lumens.size(); ++i) {
    EXPECT_EQ(a.lumens[i].name, b.lumens[i].name);
    ExpectSameShape(a.lumens[i].shape, b.lumens[i].shape);
    EXPECT_EQ(a.lumens[i].liner_thickness_um, b.lumens[i].liner_thickness_um);
    EXPECT_EQ(a.lumens[i].opens_to, b.lumens[i].opens_to);
    EXPECT_EQ(a.lumens[i].filled, b.lumens[i].filled);
  }
  ASSERT_EQ(a.wires.size(), b.wires.size());
  for (std::size_t i = 0; i < a.wires.size(); ++i) {
    EXPECT_EQ(a.wires[i].name, b.wires[i].name);
    EXPECT_EQ(a.wires[i].carriers, b.wires[i].carriers);
    EXPECT_EQ(a.wires[i].ends, b.wires[i].ends);
    EXPECT_EQ(a.wires[i].count, b.wires[i].count);
    EXPECT_EQ(a.wires[i].round_um, b.wires[i].round_um);
    EXPECT_EQ(a.wires[i].flat_um, b.wires[i].flat_um);
    EXPECT_EQ(a.wires[i].on_diameters_um, b.wires[i].on_diameters_um);
    EXPECT_EQ(a.wires[i].braid_angle_deg, b.wires[i].braid_angle_deg);
  }
  ASSERT_EQ(a.fibres.size(), b.fibres.size());
  for (std::size_t i = 0; i < a.fibres.size(); ++i) {
    EXPECT_EQ(a.fibres[i].name, b.fibres[i].name);
    EXPECT_EQ(a.fibres[i].centre, b.fibres[i].centre);
    EXPECT_EQ(a.fibres[i].filaments, b.fibres[i].filaments);
    EXPECT_EQ(a.fibres[i].filament_diameter_um, b.fibres[i].filament_diameter_um);
  }
  ASSERT_EQ(a.bond.has_value(), b.bond.has_value());
  if (a.bond) {
    EXPECT_EQ(a.bond->adhesive, b.bond->adhesive);
    EXPECT_EQ(a.bond->sleeve, b.bond->sleeve);
    EXPECT_EQ(a.bond->gap_um, b.bond->gap_um);
  }
  ASSERT_EQ(a.characteristics.size(), b.characteristics.size());
  for (std::size_t i = 0; i < a.characteristics.size(); ++i) {
    ExpectSameRow(a.characteristics[i], b.characteristics[i]);
  }
}

void ExpectSame(const Design& a, const Design& b) {
  EXPECT_EQ(a.units, b.units);
  EXPECT_EQ(a.part_number, b.part_number);
  EXPECT_EQ(a.revision, b.revision);
  EXPECT_EQ(a.title, b.title);
  EXPECT_EQ(a.decision_rule.kind, b.decision_rule.kind);
  EXPECT_EQ(a.decision_rule.conformance, b.decision_rule.conformance);
  EXPECT_EQ(a.edge_cutoff_um, b.edge_cutoff_um);
  ASSERT_EQ(a.preparation_u.size(), b.preparation_u.size());
  for (const auto& [word, preparation] : a.preparation_u) {
    EXPECT_EQ(preparation.um, b.preparation_u.at(word).um);
    EXPECT_EQ(preparation.study, b.preparation_u.at(word).study);
  }
  ASSERT_EQ(a.materials.size(), b.materials.size());
  for (const auto& [name, material] : a.materials) {
    EXPECT_EQ(material.modulus_mpa, b.materials.at(name).modulus_mpa);
    EXPECT_EQ(material.poisson, b.materials.at(name).poisson);
  }
  EXPECT_EQ(a.method_locked, b.method_locked);
  EXPECT_EQ(a.image_kind, b.image_kind);
  EXPECT_EQ(a.limits.flow_ratio_least, b.limits.flow_ratio_least);
  EXPECT_EQ(a.limits.inscribed_ratio_least, b.limits.inscribed_ratio_least);
  EXPECT_EQ(a.limits.area_ratio_least, b.limits.area_ratio_least);
  EXPECT_EQ(a.limits.thin_share, b.limits.thin_share);
  EXPECT_EQ(a.limits.off_centre_share, b.limits.off_centre_share);
  EXPECT_EQ(a.pins.step_um, b.pins.step_um);
  EXPECT_EQ(a.pins.clearance_um, b.pins.clearance_um);
  ASSERT_EQ(a.sections.size(), b.sections.size());
  for (std::size_t i = 0; i < a.sections.size(); ++i)
    ExpectSameSection(a.sections[i], b.sections[i]);
}

TEST(DesignToJson, AWrittenDrawingReadsBackTheSameInEveryUnit) {
  for (const char* units : {"mm", "um", "in"}) {
    SCOPED_TRACE(units);
    DrawingJson drawn = FullDrawing();
    drawn["units"] = units;
    if (std::string_view(units) == "um") {
      // Lengths of a millimetre drawing are too small for micrometres' checks of the clock arm.
      drawn["sections"].erase("bond-distal");
      drawn["sections"]["shaft-mid"]["datum"].erase("clock");
    }
    const auto first = ParseDesign(drawn.dump(), "first");
    ASSERT_THAT(first, IsOk());
    const std::string text = DesignToJson(*first);
    const auto second = ParseDesign(text, "second");
    ASSERT_THAT(second, IsOk());
    ExpectSame(*first, *second);
    EXPECT_EQ(DesignToJson(*second), text);
  }
}

// A survey's draft holds fitted numbers with all their digits.
TEST(DesignToJson, FittedNumbersSurviveToTheLastBit) {
  Design design;
  design.units = LengthUnit::kInch;
  SectionDesign section;
  section.name = "draft";
  section.outline.diameter_um = 2500.123456789;
  ASSERT_THAT(FlattenShape(section.outline, 25400), IsOk());
  LumenDesign lumen;
  lumen.name = "l1";
  lumen.shape.kind = Shape::Kind::kEllipse;
  lumen.shape.size_x_um = 711.0 / 7;
  lumen.shape.size_y_um = 333.0 / 7;
  lumen.shape.angle_rad = 1.0 / 3;
  lumen.shape.centre = {100.0 / 3, -1e-3 / 7};
  ASSERT_THAT(FlattenShape(lumen.shape, 25400), IsOk());
  section.lumens.push_back(lumen);
  design.sections.push_back(section);
  const auto read = ParseDesign(DesignToJson(design), "draft");
  ASSERT_THAT(read, IsOk());
  EXPECT_NEAR(read->sections[0].outline.diameter_um, 2500.123456789, 1e-12);
  const Shape& shape = read->sections[0].lumens[0].shape;
  EXPECT_NEAR(shape.size_x_um, 711.0 / 7, 1e-13);
  EXPECT_NEAR(shape.centre.x, 100.0 / 3, 1e-14);
  EXPECT_NEAR(shape.angle_rad, 1.0 / 3, 1e-15);
}

TEST(DesignToJson, RoundNumbersStayRoundAndRowsStayOnALine) {
  const auto design = ReadDesign(CUTFACE_SOURCE_DIR "/sample-images/LV-7504.design.json");
  ASSERT_THAT(design, IsOk());
  const std::string text = DesignToJson(*design);
  EXPECT_THAT(text, testing::HasSubstr("\"scope\": {\"circle\": {\"diameter\": 0.95, \"center\": "
                                       "[0, 0.58]}}"));
  EXPECT_THAT(text,
              testing::HasSubstr("{\"no\": \"8\", \"of\": [\"scope\", \"wash\"], \"quantity\": "
                                 "\"septum\", \"min\": 0.09, \"class\": \"critical\"}"));
}

constexpr char kSchema[] = CUTFACE_SOURCE_DIR "/src/data/design.schema.json";

TEST(DesignSchema, AcceptsDrawingsAsPeopleAndAsTheProgramWritesThem) {
  const auto full = ParseDesign(kFullDrawing, "full");
  const auto demo = ReadDesign(CUTFACE_SOURCE_DIR "/sample-images/LV-7504.design.json");
  ASSERT_THAT(full, IsOk());
  ASSERT_THAT(demo, IsOk());
  const std::vector<std::string> texts = {kFullDrawing, DesignToJson(*full), DesignToJson(*demo)};
  EXPECT_THAT(Violations(kSchema, texts), testing::Each(""));
}

TEST(DesignSchema, RejectsWhatTheProgramRejects) {
  struct Edit {
    const char* pointer;
    DrawingJson value;
  };
  const Edit edits[] = {
      {"/unit", "mm"},
      {"/version", 2},
      {"/units", "cm"},
      {"/sections", DrawingJson::object()},
      {"/sections/shaft-mid/kind", "tube"},
      {"/sections/shaft-mid/lumens/scope/circle/diameter", 0},
      {"/sections/shaft-mid/lumens/scope/path", "M0,0 1,0 1,1Z"},
      {"/sections/shaft-mid/outline", DrawingJson::object()},
      {"/sections/shaft-mid/lumens/a+b", DrawingJson{{"circle", {{"diameter", 0.1}}}}},
      {"/sections/shaft-mid/wires/braid/count", 3},
      {"/sections/shaft-mid/wires/braid/carriers", 15},
      {"/sections/shaft-mid/characteristics/10/finding", "leak"},
      {"/sections/shaft-mid/characteristics/11/elsewhere", false},
      {"/sections/shaft-mid/characteristics/8",
       DrawingJson{{"no", "9"}, {"of", "voids"}, {"quantity", "longest"}}},
      {"/sections/shaft-mid/characteristics/0/class", "mayor"},
      {"/pins/step", 0},
  };
  std::vector<std::string> texts;
  for (const Edit& edit : edits) texts.push_back(Edited(edit.pointer, edit.value));
  const std::vector<std::string> violations = Violations(kSchema, texts);
  for (std::size_t i = 0; i < texts.size(); ++i) {
    SCOPED_TRACE(edits[i].pointer);
    EXPECT_FALSE(ParseDesign(texts[i], "d").has_value());
    EXPECT_NE(violations[i], "");
  }
}

}  // namespace
}  // namespace cutface
