#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "batch/folder.h"
#include "cutface/batch.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::Pair;

Result<Manifest> Parse(std::string_view text) {
  return ParseManifest(std::as_bytes(std::span(text.data(), text.size())), "m.csv");
}

TEST(Manifest, EveryColumnGoesToItsPlace) {
  const auto manifest = Parse(
      "Image,part,Revision,serial,lot,block,plane,station,face,taken,operator,trial,objective,"
      "calibration,Prepared by,Re-image of,recut_of,factor:Oven,remark\n"
      "a.png,LV,C,001,L-1,B2,tip,400.5,distal,2026-03-02 09:15,O,2,5x,bench,P,b.png,,=1+1,ignored\n"
      "b.png,LV,C,001,L-1,,tip,,,,,,,,,,,,\n");
  ASSERT_THAT(manifest, IsOk());
  ASSERT_EQ(manifest->rows.size(), 2u);
  const ManifestRow& row = manifest->rows[0];
  EXPECT_EQ(row.line, 2);
  EXPECT_EQ(row.image, "a.png");
  EXPECT_EQ(row.part, "LV");
  EXPECT_EQ(row.revision, "C");
  EXPECT_EQ(row.sample.serial, "001");
  EXPECT_EQ(row.sample.lot, "L-1");
  EXPECT_EQ(row.sample.block, "B2");
  EXPECT_EQ(row.plane, "tip");
  EXPECT_EQ(row.sample.station_mm, 400.5);
  EXPECT_EQ(row.sample.face, "distal");
  EXPECT_EQ(row.sample.taken, "2026-03-02T09:15");
  EXPECT_EQ(row.operator_name, "O");
  EXPECT_EQ(row.trial, "2");
  EXPECT_EQ(row.objective, "5x");
  EXPECT_EQ(row.calibration, "bench");
  EXPECT_EQ(row.sample.prepared_by, "P");
  EXPECT_EQ(row.reimage_of, "b.png");
  EXPECT_EQ(row.recut_of, "");
  EXPECT_THAT(row.factors, ElementsAre(Pair("Oven", "=1+1")));
  EXPECT_FALSE(manifest->rows[1].sample.station_mm);
}

TEST(Manifest, MistakesAreToldWithRowAndColumn) {
  struct Mistake {
    const char* text;
    Code code;
    const char* said;
  };
  const std::vector<Mistake> mistakes = {
      {"", Code::kJsonMissingKey, "m.csv: is empty"},
      {"serial,plane\n1,tip", Code::kJsonMissingKey, "no column \"image\""},
      {"image,sreial\na,1", Code::kJsonUnknownKey, "\"sreial\", perhaps \"serial\""},
      {"image,serial,Serial\na,1,2", Code::kJsonUnknownKey, "\"serial\" stands twice"},
      {"image,factor:\na,1", Code::kJsonUnknownKey, "unknown column \"factor:\""},
      {"image,serial\n,1", Code::kJsonMissingKey, "row 2: names no image"},
      {"image,serial\na,1,2", Code::kJsonValue, "row 2: \"2\" stands in a column without a head"},
      {"image,face\na,left", Code::kJsonValue, "row 2: face \"left\" must be proximal or distal"},
      {"image;station\na;400,5", Code::kJsonValue, "row 2: station \"400,5\" must be a number"},
      {"image,station\na,nan", Code::kJsonValue, "station"},
      {"image,taken\na,2.3.2026", Code::kJsonValue, "taken \"2.3.2026\" must be a time"},
      {"image,taken\na,2026-13-02", Code::kJsonValue, "taken"},
      {"image\na\na", Code::kJsonValue, "row 3: image \"a\" stands in row 2 already"},
      {"image,recut of,reimage of\na,b,b\nb,,", Code::kJsonValue, "a re-image or a recut?"},
      {"image,recut of\na,c\nb,", Code::kJsonValue, "repeats \"c\", which no other row names"},
      {"image,recut of\na,a", Code::kJsonValue, "which is itself"},
      {"image,serial,recut of\na,1,b\nb,2,", Code::kJsonValue, "of another part, lot, serial"}};
  for (const Mistake& mistake : mistakes) {
    const auto manifest = Parse(mistake.text);
    ASSERT_THAT(manifest, FailsWith(mistake.code)) << mistake.text;
    EXPECT_THAT(manifest.error().message, HasSubstr(mistake.said));
    EXPECT_EQ(manifest.error().message.find('\n'), std::string::npos);
  }
}

TEST(Manifest, HostileTextIsTextAndNothingElse) {
  const auto manifest =
      Parse("image,serial\n\"=HYPERLINK(\"\"x\"\").png\",<script>\n../../x,\"1\n2\"\n");
  ASSERT_THAT(manifest, IsOk());
  EXPECT_EQ(manifest->rows[0].image, "=HYPERLINK(\"x\").png");
  EXPECT_EQ(manifest->rows[0].sample.serial, "<script>");
  EXPECT_EQ(manifest->rows[1].image, "../../x");
  EXPECT_EQ(manifest->rows[1].sample.serial, "1\n2");
}

TEST(Manifest, WhatIsProposedReadsBackAsItWas) {
  Roster roster;
  FaceEntry face;
  face.image = "=a,\"b\"\n.png";
  face.part = "LV";
  face.sample.serial = "'-7";
  face.sample.lot = "@x";
  face.sample.station_mm = -0.5;
  face.factors = {{"oven", "+1"}};
  face.proposed_planes = {"tip"};
  roster.faces = {face, face};
  roster.faces[1].image = "two.png";
  roster.faces[1].factors.clear();
  roster.faces[1].proposed_planes = {"tip", "shaft"};
  const auto manifest = Parse(ManifestToCsv(roster));
  ASSERT_THAT(manifest, IsOk());
  const ManifestRow& row = manifest->rows[0];
  EXPECT_EQ(row.image, face.image);
  EXPECT_EQ(row.sample.serial, "'-7");
  EXPECT_EQ(row.sample.lot, "@x");
  EXPECT_EQ(row.sample.station_mm, -0.5);
  EXPECT_EQ(row.factors.at("oven"), "+1");
  EXPECT_EQ(row.plane, "tip");
  EXPECT_EQ(manifest->rows[1].plane, "") << "two fit: a person must choose";
  // No cell may be taken for a formula.
  for (const char* begin : {"=", "+", "-", "@"})
    EXPECT_EQ(ManifestToCsv(roster).find(std::string(",") + begin), std::string::npos);
}

std::string Matched(const std::string& pattern, const std::string& image) {
  const auto parsed = NamePattern::Parse(pattern);
  if (!parsed) return std::string(CodeName(parsed.error().code)) + " " + parsed.error().message;
  const std::vector<Design> designs = {TwoSections()};
  const auto row = parsed->Match(image, designs);
  if (!row) return row.error().message;
  return row->sample.serial + "|" + row->plane + "|" + row->sample.face;
}

TEST(NamePattern, FieldsAreCutOutOfTheName) {
  EXPECT_EQ(Matched("{serial}_{plane}_{face}.png", "12_tip_distal.png"), "12|tip|distal");
  EXPECT_EQ(Matched("{serial}_{plane}_{face}.png", "sub/12_tip_distal.png"), "12|tip|distal");
  EXPECT_EQ(Matched("{lot}/{serial}_{plane}.png", "L-1/12_tip.png"), "12|tip|");
  EXPECT_EQ(Matched("{plane}-{any}-{serial}.png", "tip-2026-12.png"), "12|tip|");
  const auto factor = NamePattern::Parse("{serial}_{factor:oven}.png");
  ASSERT_THAT(factor, IsOk());
  EXPECT_EQ(factor->Match("1_hot.png", {})->factors.at("oven"), "hot");
}

TEST(NamePattern, AKnownPlaneTellsWhereAFieldEnds) {
  EXPECT_EQ(Matched("{serial}_{plane}_{face}.png", "12_shaft_mid_distal.png"),
            "12|shaft_mid|distal");
  EXPECT_EQ(Matched("{serial}_{plane}_{face}.png", "a_b_shaft_mid_distal.png"),
            "a_b|shaft_mid|distal");
}

TEST(NamePattern, ANameThatFitsInTwoWaysOrNotAtAllIsRefused) {
  EXPECT_THAT(Matched("{serial}_{lot}.png", "a_b_c.png"), HasSubstr("fits --pattern"));
  EXPECT_THAT(Matched("{serial}_{lot}.png", "a_b_c.png"), HasSubstr("in two ways"));
  EXPECT_THAT(Matched("{serial}_{plane}.png", "12_hub.png"), HasSubstr("does not fit"));
  EXPECT_THAT(Matched("{serial}_{face}.png", "12_left.png"), HasSubstr("does not fit"));
  EXPECT_THAT(Matched("{serial}.png", ".png"), HasSubstr("does not fit"));
  EXPECT_THAT(Matched("{serial}.png", "12.tif"), HasSubstr("does not fit"));
}

TEST(NamePattern, ALongNameDoesNotTakeLong) {
  const std::string name(250, '_');
  EXPECT_THAT(
      Matched("{serial}_{lot}_{block}_{operator}_{trial}_{objective}_{face}.png", name + ".png"),
      HasSubstr("does not fit"));
}

TEST(NamePattern, MistakesOfThePatternAreToldWithTheirPlace) {
  EXPECT_THAT(Matched("plain.png", "x"), HasSubstr("has no field"));
  EXPECT_THAT(Matched("{sreial}.png", "x"), HasSubstr("perhaps \"serial\""));
  EXPECT_THAT(Matched("{serial}{lot}", "x"), HasSubstr("character 9: two fields side by side"));
  EXPECT_THAT(Matched("{serial}_{serial}", "x"), HasSubstr("stands twice"));
  EXPECT_THAT(Matched("{serial", "x"), HasSubstr("a { without its }"));
  EXPECT_THAT(Matched("serial}", "x"), HasSubstr("a } without its {"));
  EXPECT_THAT(Matched("{image}", "x"), HasSubstr("no field is called \"image\""));
  EXPECT_THAT(Matched("{recut of}", "x"), HasSubstr("no field"));
}

}  // namespace
}  // namespace cutface
