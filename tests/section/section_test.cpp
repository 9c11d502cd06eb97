#include "cutface/section.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

namespace cutface {
namespace {

using testing::IsNull;
using testing::NotNull;

// The words stand in the file format, so they are spelled out here once more by hand.
TEST(SectionWords, LumenStatesAreSpelledAsInTheResultFile) {
  EXPECT_EQ(LumenStateName(LumenState::kOpen), "open");
  EXPECT_EQ(LumenStateName(LumenState::kFilled), "filled");
  EXPECT_EQ(LumenStateName(LumenState::kMerged), "merged");
  EXPECT_EQ(LumenStateName(LumenState::kCutOff), "cut off");
  EXPECT_EQ(LumenStateName(LumenState::kNotFound), "not found");
}

TEST(SectionWords, VoidClassesAreSpelledAsInTheResultFileAndAllDiffer) {
  const std::vector<std::string_view> expected = {
      "void",           "bond gap", "liner gap",   "debris",       "pulled-out wire", "chip",
      "outside bubble", "smear",    "potting gap", "delamination", "doubtful"};
  std::set<std::string_view> seen;
  for (std::size_t i = 0; i < expected.size(); ++i) {
    const std::string_view name = VoidClassName(static_cast<VoidClass>(i));
    EXPECT_EQ(name, expected[i]);
    seen.insert(name);
  }
  EXPECT_EQ(seen.size(), expected.size());
}

TEST(SectionWords, VerdictsAndSeveritiesAreSpelledAsInTheResultFile) {
  EXPECT_EQ(VerdictName(Verdict::kConforms), "conforms");
  EXPECT_EQ(VerdictName(Verdict::kDoesNotConform), "does not conform");
  EXPECT_EQ(VerdictName(Verdict::kNotProven), "not proven");
  EXPECT_EQ(VerdictName(Verdict::kNotMeasured), "not measured");
  EXPECT_EQ(VerdictName(Verdict::kElsewhere), "elsewhere");
  EXPECT_EQ(VerdictName(Verdict::kNotJudged), "not judged");
  EXPECT_EQ(SeverityName(Severity::kHigh), "high");
  EXPECT_EQ(SeverityName(Severity::kMedium), "medium");
  EXPECT_EQ(SeverityName(Severity::kLow), "low");
}

TEST(SectionWords, WireStatesAndStretchesAreSpelledAsInTheResultFile) {
  EXPECT_EQ(WireStateName(WireState::kWire), "wire");
  EXPECT_EQ(WireStateName(WireState::kPulledOut), "pulled out");
  EXPECT_EQ(WireStateName(WireState::kMissing), "missing");
  EXPECT_EQ(WireStateName(WireState::kExtra), "extra");
  EXPECT_EQ(StretchKindName(StretchKind::kNone), "none");
  EXPECT_EQ(StretchKindName(StretchKind::kOblique), "oblique");
  EXPECT_EQ(StretchKindName(StretchKind::kSquashed), "squashed");
  EXPECT_EQ(StretchKindName(StretchKind::kEither), "oblique or squashed");
}

TEST(Section, AMergedLumenIsFoundUnderEachOfItsNames) {
  Section section;
  LumenTrace cuff;
  cuff.names = {"cuff"};
  LumenTrace merged;
  merged.names = {"scope", "wash"};
  merged.state = LumenState::kMerged;
  section.lumens = {cuff, merged};

  ASSERT_THAT(section.FindLumen("scope"), NotNull());
  EXPECT_EQ(section.FindLumen("scope"), section.FindLumen("wash"));
  EXPECT_EQ(section.FindLumen("scope")->Key(), "scope+wash");
  EXPECT_EQ(section.FindLumen("cuff")->state, LumenState::kOpen);
  EXPECT_THAT(section.FindLumen("scope+wash"), IsNull());
  EXPECT_THAT(section.FindLumen(""), IsNull());
}

}  // namespace
}  // namespace cutface
