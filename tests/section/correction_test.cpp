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

TEST(CorrectionText, OfAResultOnlyCorrectionsAreTaken) {
  Correction edge;
  edge.of = "scope";
  edge.who = "I. Inspector";
  edge.when = "2026-03-02";
  edge.why = "the edge lies in a reflex";
  edge.points = {{1.5, -2}, {30, 4}};
  SectionResult result;
  result.edits = {"a word of an older program", CorrectionText(edge)};
  const auto taken = CorrectionsOf(result);
  ASSERT_EQ(taken.size(), 1u);
  EXPECT_EQ(taken[0].of, "scope");
  EXPECT_EQ(taken[0].points, edge.points);
}

TEST(CorrectionText, PlacesThatAreNoNumbersMakeItNoCorrection) {
  Correction edge;
  edge.of = "scope";
  edge.points = {{1.5, -2}};
  const std::string good = CorrectionText(edge);
  const std::string along = "; along 1.5 -2;";
  ASSERT_NE(good.find(along), std::string::npos) << good;
  EXPECT_TRUE(ParseCorrection(good));
  for (const char* wrong :
       {"; along 1.5;", "; along 1.5 x;", "; along nan 2;", "; along 1.5 inf;"}) {
    std::string text = good;
    text.replace(text.find(along), along.size(), wrong);
    EXPECT_FALSE(ParseCorrection(text)) << text;
  }
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
