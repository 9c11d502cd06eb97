#include "gui/state/panels.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gui/state/wall_panel.h"

namespace cutface::window {
namespace {

using testing::HasSubstr;

CharacteristicResult Row(std::optional<double> min, std::optional<double> max, double actual) {
  CharacteristicResult row;
  row.no = "7";
  row.of = {"scope", "wash"};
  row.quantity = "septum";
  row.unit = "mm";
  row.min = min;
  row.max = max;
  row.actual = actual;
  row.lo = actual - 0.002;
  row.hi = actual + 0.002;
  row.verdict = Verdict::kConforms;
  return row;
}

TEST(NumberLine, KeepsTheOrderOfLimitsAndValue) {
  const NumberLine line = NumberLineOf(Row(0.1, 0.2, 0.15));
  ASSERT_TRUE(line.shown);
  EXPECT_LT(*line.min, *line.lo);
  EXPECT_LT(*line.lo, *line.actual);
  EXPECT_LT(*line.actual, *line.hi);
  EXPECT_LT(*line.hi, *line.max);
  EXPECT_FLOAT_EQ(*line.actual, 0.5f * (*line.min + *line.max));
  EXPECT_FALSE(line.cut_left || line.cut_right);
}

TEST(NumberLine, AValueFarOutsideIsHeldAtTheEndAndSaysSo) {
  const NumberLine line = NumberLineOf(Row(0.1, 0.2, 9));
  EXPECT_TRUE(line.cut_right);
  EXPECT_FLOAT_EQ(*line.actual, 1);
  EXPECT_GT(*line.actual, *line.max);
}

TEST(NumberLine, OneLimitLeavesTheOtherSideOpen) {
  const NumberLine line = NumberLineOf(Row(0.1, std::nullopt, 0.13));
  ASSERT_TRUE(line.shown);
  EXPECT_FALSE(line.max);
  EXPECT_GT(*line.actual, *line.min);
}

TEST(NumberLine, NothingMeasuredDrawsNothing) {
  CharacteristicResult row = Row(0.1, 0.2, 0.15);
  row.actual.reset();
  EXPECT_FALSE(NumberLineOf(row).shown);
}

TEST(Rows, SayWhatTheDrawingAsksAndWhatIsThere) {
  SectionResult result;
  result.characteristics = {Row(0.1, std::nullopt, 0.1124)};
  const RowsPanel panel = BuildRows(result, "7");
  ASSERT_EQ(panel.rows.size(), 1u);
  EXPECT_EQ(panel.rows[0].subject, "septum, scope and wash");
  EXPECT_EQ(panel.rows[0].requirement, "at least 0.1 mm");
  EXPECT_EQ(panel.rows[0].actual, "0.1124 mm");
  EXPECT_EQ(panel.rows[0].interval, "0.1104 to 0.1144");
  EXPECT_EQ(panel.rows[0].verdict, "conforms");
  EXPECT_TRUE(panel.rows[0].chosen);
}

TEST(Rows, WithoutRowsThereIsASentence) { EXPECT_NE(BuildRows(SectionResult(), "").empty, ""); }

TEST(Values, OfAFeatureComeWithDefinitionAndFormulaFromTheTable) {
  SectionResult result;
  Measurement m;
  m.of = {"scope"};
  m.quantity = "inscribed_diameter";
  m.value = 934.5;
  m.lo = 930;
  m.hi = 938;
  m.u = 2;
  m.unit = "um";
  m.budget = {{"scale", 0.4}};
  Measurement other = m;
  other.of = {"wash"};
  result.measurements = {m, other};
  const ValuesPanel panel = BuildValues(result, "scope", 0, LengthUnit::kMillimetre);
  ASSERT_EQ(panel.lines.size(), 1u);
  EXPECT_EQ(panel.lines[0].value, "0.9345 mm");
  EXPECT_THAT(panel.lines[0].definition, HasSubstr("largest circle that lies inside the bore"));
  EXPECT_NE(panel.lines[0].formula, "");
  EXPECT_THAT(panel.lines[0].budget,
              testing::ElementsAre("standard uncertainty 0.0020 mm", "scale 0.0004 mm"));
  EXPECT_THAT(panel.features, testing::ElementsAre("scope", "wash"));
}

TEST(Values, NotMeasuredIsAWordWithAReasonAndNoNumber) {
  SectionResult result;
  Measurement m;
  m.of = {"scope"};
  m.quantity = "diameter";
  m.state = Measurement::State::kNotMeasured;
  m.reason = "lumen not found";
  result.measurements = {m};
  const ValuesPanel panel = BuildValues(result, "scope", -1, LengthUnit::kMillimetre);
  EXPECT_EQ(panel.lines[0].value, "not measured");
  EXPECT_EQ(panel.lines[0].grade, "lumen not found");
}

TEST(Findings, EvidenceReadsAsNumbersWithUnits) {
  constexpr LengthUnit kMm = LengthUnit::kMillimetre;
  EXPECT_EQ(EvidenceText("breach_um", 10.75, LengthUnit::kMicrometre), "breach  10.8 um");
  EXPECT_EQ(EvidenceText("septum_lo_um", 59.58, kMm),
            "septum, lower end of the interval  0.0596 mm");
  EXPECT_EQ(EvidenceText("open_share", 0.2, kMm), "open share 0.2");
  EXPECT_EQ(EvidenceText("no", 3, kMm), "no 3");
}

TEST(Head, OverrulesAndDoubtsStandInTheCautions) {
  SectionResult result;
  result.overrules = {"calibration overdue: accepted by N"};
  result.section.placement.names_proven = false;
  result.edits = {"something"};
  result.verdict = Verdict::kNotProven;
  const HeadPanel head = BuildHead(result);
  EXPECT_THAT(head.cautions, testing::Contains("calibration overdue: accepted by N"));
  EXPECT_THAT(head.cautions, testing::Contains("the calibration has no certificate"));
  EXPECT_THAT(head.cautions, testing::Contains("names are not proven"));
  EXPECT_THAT(head.cautions, testing::Contains("1 correction by hand"));
  EXPECT_EQ(head.verdict, "not proven");
}

TEST(Wall, ClockPositionsReadAsHours) {
  EXPECT_EQ(ClockText(0), "12:00");
  EXPECT_EQ(ClockText(90), "3:00");
  EXPECT_EQ(ClockText(105), "3:30");
  EXPECT_EQ(ClockText(359.9), "12:00");
}

WallProfile Even() {
  WallProfile wall;
  wall.name = "jacket";
  for (int i = 0; i < 360; ++i) {
    WallPlace place;
    place.clock_deg = i;
    place.thickness_um = 100 + (i == 90 ? -20 : 0) + (i == 200 ? 30 : 0);
    wall.places.push_back(place);
  }
  wall.least = 90;
  wall.greatest = 200;
  wall.mean_um = 100;
  return wall;
}

TEST(Wall, ExtremesStandWhereTheyAre) {
  const WallPanel panel = BuildWall(SectionResult(), {Even()}, "jacket", LengthUnit::kMillimetre);
  EXPECT_FLOAT_EQ(panel.least.x, 0.25f);
  EXPECT_EQ(panel.least_text, "0.0800 mm at 3:00");
  EXPECT_LT(panel.least.y, panel.greatest.y);
  EXPECT_LT(panel.greatest.y, 1);
}

TEST(Wall, ARowsLimitIsALineAcrossTheStrip) {
  SectionResult result;
  CharacteristicResult row = Row(0.09, std::nullopt, 0.08);
  row.of = {"jacket"};
  row.quantity = "thickness_min";
  result.characteristics = {row};
  const WallPanel panel = BuildWall(result, {Even()}, "jacket", LengthUnit::kMillimetre);
  ASSERT_TRUE(panel.levels.front().is_limit);
  EXPECT_EQ(panel.levels.front().text, "at least 0.0900 mm, row 7");
  EXPECT_GT(panel.levels.front().y, panel.least.y);
}

TEST(Wall, TheHandIsNearestInAngleAlsoAcrossTwelve) {
  const WallProfile wall = Even();
  EXPECT_EQ(PlaceAt(wall, 0.9999)->clock_deg, 0);
  EXPECT_EQ(PlaceAt(wall, 0.2501)->clock_deg, 90);
  const WallPanel panel = BuildWall(SectionResult(), {wall}, "jacket", LengthUnit::kMillimetre);
  EXPECT_THAT(HandAt(wall, panel, 0.25, LengthUnit::kMillimetre).text, HasSubstr("0.0800 mm"));
}

}  // namespace
}  // namespace cutface::window
