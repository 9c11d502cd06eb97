#include "cutface/correction.h"

#include <gtest/gtest.h>

namespace cutface {
namespace {

TEST(CorrectionText, IsReadBackPartByPart) {
  Correction c;
  c.kind = Correction::Kind::kRedraw;
  c.of = "scope+wash";
  c.points = {{2650, 1500}, {-2600.125, 1550.5}};
  c.who = "A. Measurer";
  c.when = "2026-03-02T09:20:00Z";
  c.why = "dust; by the edge; because of the wipe";
  c.before = "area 0.0707 mm2";
  c.after = "area 0.0709 mm2";
  const auto back = ParseCorrection(CorrectionText(c));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->kind, c.kind);
  EXPECT_EQ(back->of, c.of);
  EXPECT_EQ(back->points, c.points);
  EXPECT_EQ(back->who, c.who);
  EXPECT_EQ(back->when, c.when);
  EXPECT_EQ(back->why, c.why);
  EXPECT_EQ(back->before, c.before);
  EXPECT_EQ(back->after, c.after);
}

TEST(CorrectionText, NamesThatLookLikeItsMarksDoNoHarm) {
  Correction c;
  c.kind = Correction::Kind::kRename;
  c.of = "a; to b";
  c.to = "x\ny; by z";
  c.who = "N; on today; because nothing";
  c.when = "2026";
  c.why = "line one\nline two";
  const std::string text = CorrectionText(c);
  EXPECT_EQ(text.find('\n'), std::string::npos);
  const auto back = ParseCorrection(text);
  ASSERT_TRUE(back);
  EXPECT_EQ(back->of, "a, to b");
  EXPECT_EQ(back->who, "N, on today, because nothing");
  EXPECT_EQ(back->why, "line one line two");
  EXPECT_EQ(CorrectionText(*back), text);  // stable
}

TEST(CorrectionText, OtherEditsAreNoCorrections) {
  for (const char* text : {"", "cuff: 3 vertices moved", "redraw of x", "redraw of x; to ; was",
                           "values corrected for an oblique cut of 3.00 degrees"})
    EXPECT_FALSE(ParseCorrection(text)) << text;
}

TEST(CorrectionName, EveryKindHasOneOfItsOwn) {
  for (int k = 0; k <= static_cast<int>(Correction::Kind::kDispose); ++k) {
    const auto kind = static_cast<Correction::Kind>(k);
    EXPECT_EQ(ParseCorrectionName(CorrectionName(kind)), kind);
  }
  EXPECT_FALSE(ParseCorrectionName("polish"));
}

}  // namespace
}  // namespace cutface
