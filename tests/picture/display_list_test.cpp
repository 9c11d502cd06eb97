#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "cutface/picture.h"
#include "picture/build.h"
#include "picture/sample.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;

std::vector<DisplayItem> Of(const DisplayList& list, Kind kind, const std::string& feature) {
  std::vector<DisplayItem> found;
  for (const DisplayItem& item : list.items) {
    if (item.kind == kind && item.feature == feature) found.push_back(item);
  }
  return found;
}

std::string NameOf(const DisplayList& list, const std::string& feature) {
  for (const DisplayItem& item : Of(list, Kind::kText, feature)) {
    if (item.seat == DisplayItem::Seat::kOn) return item.text;
  }
  return "";
}

std::string LabelOf(const DisplayList& list, const std::string& feature) {
  const auto texts = Of(list, Kind::kText, feature);
  return texts.empty() ? "" : texts.front().text;
}

TEST(DisplayList, AContourSeenAllRoundIsOneClosedLine) {
  const DisplayList list = BuildDisplayList(sample::FourLumens());
  const auto outline = Of(list, Kind::kContour, "outline");
  ASSERT_EQ(outline.size(), 1u);
  EXPECT_EQ(outline[0].style, LineStyle::kSolid);
  EXPECT_EQ(outline[0].ink, Ink::kOutline);
  EXPECT_EQ(outline[0].points.size(), 360u);
}

TEST(DisplayList, WhatTheFrameCutOffIsNotDrawnAndBridgedStretchesAreDotted) {
  SectionResult result = sample::FourLumens();
  auto& v = result.section.outline->vertices;
  for (std::size_t i = 0; i < 100; ++i) v[i].state = VertexState::kCutOff;
  for (std::size_t i = 200; i < 230; ++i) v[i].state = VertexState::kBridged;
  const DisplayList list = BuildDisplayList(result);
  EXPECT_TRUE(Of(list, Kind::kContour, "outline").empty());
  const auto paths = Of(list, Kind::kPath, "outline");
  ASSERT_EQ(paths.size(), 3u);
  std::size_t dotted = 0;
  for (const DisplayItem& path : paths) {
    for (const PointUm& p : path.points) {
      for (std::size_t i = 0; i < 100; ++i) EXPECT_FALSE(p == v[i].at) << "vertex " << i;
    }
    if (path.style != LineStyle::kDotted) continue;
    ++dotted;
    EXPECT_EQ(path.points.size(), 31u);  // 30 bridged and the vertex that closes the seam
  }
  EXPECT_EQ(dotted, 1u);
}

TEST(DisplayList, EveryLumenFoundHasItsNameAndAMissingOneIsAFinding) {
  SectionResult result = sample::FourLumens();
  LumenTrace lost;
  lost.names = {"wire"};
  lost.state = LumenState::kNotFound;
  result.section.lumens.push_back(lost);
  LumenTrace& merged = result.section.lumens[1];
  merged.names = {"wash", "drain"};
  merged.state = LumenState::kMerged;
  const DisplayList list = BuildDisplayList(result);
  EXPECT_EQ(NameOf(list, "scope"), "scope");
  EXPECT_EQ(NameOf(list, "wash+drain"), "wash + drain\nmerged");
  EXPECT_EQ(NameOf(list, "wire"), "");
  EXPECT_THAT(list.caption, Contains("not found\twire"));
}

TEST(DisplayList, ASeptumWithARowIsDrawnWithNumberIntervalAndVerdict) {
  const DisplayList list = BuildDisplayList(sample::FourLumens());
  ASSERT_EQ(Of(list, Kind::kSegment, "scope|wash").size(), 1u);
  EXPECT_THAT(LabelOf(list, "scope|return"), AllOf(StartsWith("no. 8  0."), HasSubstr(" mm\n"),
                                                   HasSubstr(" to "), HasSubstr("not proven")));
}

TEST(DisplayList, ValuesFollowTheDrawingsUnit) {
  SectionResult result = sample::FourLumens();
  result.units = LengthUnit::kInch;
  result.characteristics.clear();  // rows have a unit of their own
  EXPECT_THAT(LabelOf(BuildDisplayList(result), "scope|return"), HasSubstr(" in\n"));
}

TEST(DisplayList, TheLeastSeptumOfEveryLumenIsDrawnThoughNoRowAsks) {
  SectionResult result = sample::FourLumens();
  result.characteristics.clear();
  const DisplayList list = BuildDisplayList(result);
  // cuff's nearest neighbour is wash or return, by symmetry.
  EXPECT_EQ(
      Of(list, Kind::kSegment, "wash|cuff").size() + Of(list, Kind::kSegment, "return|cuff").size(),
      1u);
  EXPECT_TRUE(Of(list, Kind::kSegment, "scope|cuff").empty());
}

TEST(DisplayList, NoArrowLeadsThroughAThirdLumen) {
  SectionResult result = sample::FourLumens();
  result.characteristics.clear();
  // From scope down to the cuff's far side: through the cuff.
  result.measurements = {sample::Length({"scope"}, "wall", 1245, sample::kCentre + PointUm{0, 5},
                                        sample::kCentre + PointUm{0, 1250})};
  EXPECT_TRUE(Of(BuildDisplayList(result), Kind::kSegment, "scope").empty());
  result.section.lumens.pop_back();
  EXPECT_EQ(Of(BuildDisplayList(result), Kind::kSegment, "scope").size(), 1u);
}

TEST(DisplayList, WhatIsNotMeasuredHasNoArrow) {
  SectionResult result = sample::FourLumens();
  for (Measurement& m : result.measurements) m.state = Measurement::State::kNotMeasured;
  for (const DisplayItem& item : BuildDisplayList(result).items)
    EXPECT_NE(item.kind, Kind::kSegment);
}

TEST(DisplayList, ALumenWithAFindingOfItsOwnIsDrawnAsOne) {
  const DisplayList list = BuildDisplayList(sample::FourLumens());
  const auto cuff = Of(list, Kind::kContour, "cuff");
  ASSERT_EQ(cuff.size(), 1u);
  EXPECT_EQ(cuff[0].ink, Ink::kFinding);
  EXPECT_EQ(cuff[0].style, LineStyle::kDashDot);
}

TEST(DisplayList, TwelveOClockTurnsWithTheFaceAndMirrorsWithIt) {
  SectionResult result = sample::FourLumens();
  const auto hour = [&](const std::string& figure) {
    for (const DisplayItem& item : BuildDisplayList(result).items) {
      if (item.kind == Kind::kText && item.feature == "clock" && item.text == figure) {
        return item.points.front() - sample::kCentre;
      }
    }
    return PointUm{};
  };
  result.section.placement.rotation_rad = 0;
  EXPECT_LT(hour("12").y, -1250);
  EXPECT_NEAR(hour("12").x, 0, 1);
  EXPECT_GT(hour("3").x, 1250);  // clockwise as the design is seen
  result.section.placement.mirrored = true;
  EXPECT_LT(hour("3").x, -1250);
  result.section.placement.mirrored = false;
  result.section.placement.rotation_rad = std::numbers::pi / 2;  // +x towards +y
  EXPECT_GT(hour("12").x, 1250);
}

TEST(DisplayList, MeasuredClockAnglesFixTheClockBetterThanThePose) {
  SectionResult result = sample::FourLumens();
  result.section.placement.rotation_rad = 0.3;
  // scope stands straight up in the picture; measured at 10 degrees, 12 o'clock lies 10 degrees
  // before.
  Measurement clock = sample::Length({"scope"}, "clock", 10, {}, {});
  clock.unit = "deg";
  result.measurements.push_back(clock);
  for (const DisplayItem& item : BuildDisplayList(result).items) {
    if (item.kind != Kind::kText || item.text != "12") continue;
    const PointUm d = item.points.front() - sample::kCentre;
    EXPECT_NEAR(std::atan2(d.x, -d.y) * 180 / std::numbers::pi, -10, 0.1);
    return;
  }
  FAIL() << "no 12";
}

TEST(Caption, BeginsWithTheVerdictAndNamesPartSectionScaleAndScope) {
  const DisplayList list = BuildDisplayList(sample::FourLumens());
  EXPECT_EQ(list.caption.front(), "does not conform");
  EXPECT_THAT(list.caption, Contains("Part\tLV-7504, rev. C"));
  EXPECT_THAT(list.caption, Contains("Section\tshaft-mid"));
  EXPECT_THAT(list.caption,
              Contains(AllOf(StartsWith("Scale\tbench2-5x-2026-03"), HasSubstr("UNCERTIFIED"))));
  EXPECT_THAT(list.caption, Contains("Uncertainty\t95 % intervals, image only"));
  EXPECT_THAT(list.caption, Contains(HasSubstr("One plane of one destroyed sample")));
}

TEST(Caption, ACertifiedScaleIsNotCalledUncertified) {
  SectionResult result = sample::FourLumens();
  result.calibration_certified = true;
  EXPECT_THAT(BuildDisplayList(result).caption, Not(Contains(HasSubstr("UNCERTIFIED"))));
}

TEST(Caption, RowsThatFailComeFirst) {
  std::vector<std::string> rows;
  for (const CaptionBlock& block : CaptionBlocks(BuildDisplayList(sample::FourLumens()).caption)) {
    if (block.heading != "Rows of the drawing") continue;
    for (const auto& line : block.lines) rows.push_back(line.first.substr(0, 1));
  }
  EXPECT_THAT(rows, testing::ElementsAre("7", "8", "1", "4", "9"));
}

TEST(Caption, LineBreaksInNamesStayInTheirLine) {
  SectionResult result = sample::FourLumens();
  result.image_file = "a\nVerdict:\nconforms\t\x01.png";
  const std::size_t before = BuildDisplayList(sample::FourLumens()).caption.size();
  const DisplayList list = BuildDisplayList(result);
  EXPECT_EQ(list.caption.size(), before);
  EXPECT_THAT(list.caption, Contains(StartsWith("Image\ta Verdict: conforms  .png")));
}

TEST(Caption, AnOverruleStandsBeforeTheRowsThatMayBeCutShort) {
  SectionResult result = sample::FourLumens();
  result.overrules = {"accepted by inspector 2"};
  const std::vector<std::string> caption = BuildDisplayList(result).caption;
  const auto overrule =
      std::find(caption.begin(), caption.end(), "Overruled\taccepted by inspector 2");
  EXPECT_LT(overrule, std::find(caption.begin(), caption.end(), "Rows of the drawing:"));
  EXPECT_NE(overrule, caption.end());
}

TEST(Caption, OverrulesAndWarningsAreOnThePicture) {
  SectionResult result = sample::FourLumens();
  result.overrules = {"calibration overdue, accepted by inspector 2"};
  EXPECT_THAT(BuildDisplayList(result).caption,
              AllOf(Contains("Overruled\tcalibration overdue, accepted by inspector 2"),
                    Contains(StartsWith("Note\tthe time of taking is unknown"))));
}

TEST(Rows, ValuesKeepTheDigitsOfResults) {
  EXPECT_EQ(FormatRowValue(0.1124, "mm"), "0.1124 mm");
  EXPECT_EQ(FormatRowValue(0.00443, "in"), "0.00443 in");
  EXPECT_EQ(FormatRowValue(112.44, "um"), "112.4 um");
  EXPECT_EQ(FormatRowValue(0.70882, "mm2"), "0.70882 mm2");
  EXPECT_EQ(FormatRowValue(12.34, "deg"), "12.3 deg");
  EXPECT_EQ(FormatRowValue(0.8234, "1"), "0.823");
  EXPECT_EQ(FormatRowValue(0.1124, "mm", false), "0.1124");
}

TEST(Rows, CountsHaveNoDecimalsAndNoInterval) {
  CharacteristicResult row;
  row.finding = "crosstalk";
  row.unit = "1";
  row.actual = row.lo = row.hi = 0;
  EXPECT_EQ(ActualText(row), "0");
  EXPECT_EQ(IntervalText(row), "");
  row.finding = "";
  row.quantity = "void_count";
  row.actual = 12;
  EXPECT_EQ(ActualText(row), "12");
  Measurement m = sample::Length({"voids"}, "void_count", 3, {}, {});
  m.unit = "1";
  EXPECT_EQ(FormatValue(m, LengthUnit::kMillimetre), "3");
  m.quantity = "septum";
  m.unit = "um";
  EXPECT_EQ(FormatValue(m, LengthUnit::kMicrometre), "3.0 um");
  EXPECT_EQ(IntervalText(m, LengthUnit::kMicrometre), "1.2 to 4.8");
}

TEST(DisplayList, TheIntervalThatWasJudgedIsTheOneShown) {
  SectionResult result = sample::FourLumens();
  CharacteristicResult& row = result.characteristics[3];  // scope to return
  row.lo = *row.actual - 0.004;
  row.hi = *row.actual + 0.004;
  EXPECT_THAT(LabelOf(BuildDisplayList(result), "scope|return"), HasSubstr(IntervalText(row)));
}

TEST(Rows, RequirementsReadAsTheDrawingSays) {
  CharacteristicResult row =
      sample::Row("7", {"scope", "wash"}, "septum", 0.11, 0.1, Verdict::kConforms);
  EXPECT_EQ(RequirementText(row), "at least 0.1 mm");
  EXPECT_EQ(SubjectText(row), "septum, scope and wash");
  row.max = 0.25;
  EXPECT_EQ(RequirementText(row), "0.1 to 0.25 mm");
  row.min.reset();
  EXPECT_EQ(RequirementText(row), "at most 0.25 mm");
  row.max.reset();
  EXPECT_EQ(RequirementText(row), "");
  row.finding = "crosstalk";
  EXPECT_EQ(RequirementText(row), "0 allowed");
  EXPECT_EQ(SubjectText(row), "crosstalk");
}

TEST(ScaleBar, LengthsAreRoundAndNeverLongerThanAsked) {
  for (const LengthUnit unit :
       {LengthUnit::kMicrometre, LengthUnit::kMillimetre, LengthUnit::kInch}) {
    for (double longest = 3; longest < 2e5; longest *= 1.07) {
      const RoundLength bar = RoundLengthBelow(longest, unit);
      EXPECT_LE(bar.um, longest * (1 + 1e-12));
      EXPECT_GT(bar.um, 0.39 * longest) << "the steps 1 2 5 leave at most a factor 2.5";
    }
  }
  EXPECT_EQ(RoundLengthBelow(620, LengthUnit::kMillimetre).text, "0.5 mm");
  EXPECT_EQ(RoundLengthBelow(62, LengthUnit::kMillimetre).text, "50 um");
  EXPECT_EQ(RoundLengthBelow(620, LengthUnit::kInch).text, "0.02 in");
}

}  // namespace
}  // namespace cutface
