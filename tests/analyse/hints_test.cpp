// Hints: the built-in book covers every finding, a site's file is read strictly, patterns rank.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "cutface/analyse.h"

namespace cutface {
namespace {

using testing::HasSubstr;

Finding Of(const std::string& kind, std::map<std::string, double> evidence = {}) {
  Finding finding;
  finding.kind = kind;
  finding.evidence = std::move(evidence);
  return finding;
}

HintBook Parsed(const std::string& patterns) {
  auto book = ParseHints(
      R"({"format":"cutface/hints","version":1,"basis":"our line","hints":[)" + patterns + "]}",
      "site.json");
  EXPECT_TRUE(book.has_value()) << (book ? "" : book.error().message);
  return book ? *book : HintBook{};
}

Error ErrorOf(const std::string& text) {
  auto book = ParseHints(text, "site.json");
  EXPECT_FALSE(book.has_value());
  return book ? Error{} : book.error();
}

TEST(Hints, BuiltInBookKnowsEveryKindOfFindingAndIsMarked) {
  const HintBook book = BuiltInHints();
  EXPECT_EQ(book.basis, "common practice");
  for (const std::string_view kind : FindingKinds()) {
    std::vector<Finding> findings = {Of(std::string(kind))};
    AttachHints(book, findings);
    ASSERT_FALSE(findings[0].hints.empty()) << kind;
    for (const Hint& hint : findings[0].hints) {
      EXPECT_EQ(hint.basis, "common practice");
      EXPECT_FALSE(hint.check.empty());
    }
  }
}

TEST(Hints, PatternWithMoreConditionsSpeaksFirstAndNoCauseTwice) {
  const HintBook book =
      Parsed(R"({"finding":"void","causes":[{"cause":"a","check":"x"},{"cause":"b","check":"y"}]},)"
             R"({"finding":"void","when":[{"evidence":"area_um2","at_least":10,"below":20}],)"
             R"("causes":[{"cause":"c","check":"z"},{"cause":"a","check":"x"}]})");
  std::vector<Finding> findings = {Of("void", {{"area_um2", 10}}), Of("void", {{"area_um2", 20}}),
                                   Of("void")};
  AttachHints(book, findings);
  ASSERT_EQ(findings[0].hints.size(), 3u);
  EXPECT_EQ(findings[0].hints[0].cause, "c");
  EXPECT_EQ(findings[0].hints[1].cause, "a");
  EXPECT_EQ(findings[0].hints[2].cause, "b");
  EXPECT_EQ(findings[0].hints[0].basis, "our line");
  // At the upper end and without the evidence the condition does not hold.
  EXPECT_EQ(findings[1].hints.front().cause, "a");
  EXPECT_EQ(findings[2].hints.front().cause, "a");
}

TEST(Hints, CollapseWithItsPerimeterKeptPointsToTheMandrel) {
  std::vector<Finding> findings = {Of("collapsed lumen", {{"perimeter_ratio", 0.99}}),
                                   Of("collapsed lumen", {{"perimeter_ratio", 0.90}})};
  AttachHints(BuiltInHints(), findings);
  EXPECT_THAT(findings[0].hints.front().cause, HasSubstr("pressed flat"));
  EXPECT_THAT(findings[1].hints.front().cause, HasSubstr("shrank"));
}

TEST(Hints, MistakesInASitesFileAreNamedWithTheirPlace) {
  const std::string head = R"({"format":"cutface/hints","version":1,"basis":"b","hints":[)";
  EXPECT_EQ(ErrorOf("{").code, Code::kJsonSyntax);
  EXPECT_EQ(ErrorOf("{}").code, Code::kJsonMissingKey);
  Error error = ErrorOf(head + R"({"finding":"thin septa","causes":[]}]})");
  EXPECT_EQ(error.code, Code::kJsonValue);
  EXPECT_THAT(error.message, HasSubstr("hints[0].finding"));
  EXPECT_THAT(error.message, HasSubstr("thin septum"));
  error = ErrorOf(head + R"({"finding":"void","causes":[{"cause":"a","chek":"b"}]}]})");
  EXPECT_EQ(error.code, Code::kJsonUnknownKey);
  EXPECT_THAT(error.message, HasSubstr("hints[0].causes[0].chek"));
  EXPECT_THAT(error.message, HasSubstr("check"));
  EXPECT_EQ(
      ErrorOf(head + R"({"finding":"void","when":[{"evidence":"no","below":"x"}],"causes":[]}]})")
          .code,
      Code::kJsonValue);
}

// Found by a fuzz target.
TEST(Hints, KeysAndWordsWithLineEndsStandInOneLine) {
  const std::string head = R"({"format":"cutface/hints","version":1,"basis":"b","hints":[)";
  const Error key =
      ErrorOf(head + R"({"finding":"void","causes":[{"ca\nuse":"a","check":"b"}]}]})");
  EXPECT_EQ(key.code, Code::kJsonUnknownKey);
  EXPECT_THAT(key.message, HasSubstr(R"(hints[0].causes[0].ca\x0ause)"));
  const Error word = ErrorOf(head + R"({"finding":"vo\nid","causes":[]}]})");
  EXPECT_EQ(word.code, Code::kJsonValue);
  EXPECT_THAT(word.message, HasSubstr(R"("vo\x0aid" is no kind of finding)"));
}

}  // namespace
}  // namespace cutface
