// The quick reader holds the same identities and rows as the full one, whatever stands in strings.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/record.h"
#include "record/results.h"
#include "support/matchers.h"

namespace cutface {
namespace {

// What SkimResult leaves out, taken out.
std::string WithoutContours(SectionResult r) {
  Section bare;
  bare.placement = r.section.placement;
  bare.picture = r.section.picture;
  r.section = bare;
  r.measurements.clear();
  r.findings.clear();
  return ResultToJson(r);
}

TEST(Skim, ReadsTheSameAsTheFullReaderButForContours) {
  const std::string text = ResultToJson(FullResult());
  const auto full = ParseResult(text, "a.result.json");
  const auto skimmed = SkimResult(text, "a.result.json");
  ASSERT_THAT(full, IsOk());
  ASSERT_THAT(skimmed, IsOk());
  EXPECT_FALSE(skimmed->characteristics.empty());
  EXPECT_EQ(ResultToJson(*skimmed), WithoutContours(*full));
}

TEST(Skim, BracketsAndQuotesInTextsDoNotMislead) {
  SectionResult r = FullResult();
  r.findings.resize(1);
  r.findings[0].text = R"(}]{["\" }, "verdict": "conforms" \\)";
  r.image_file = R"(a"}],"features":{}\)";
  const std::string text = ResultToJson(r);
  const auto skimmed = SkimResult(text, "a.result.json");
  ASSERT_THAT(skimmed, IsOk());
  EXPECT_EQ(skimmed->image_file, r.image_file);
  EXPECT_EQ(skimmed->verdict, r.verdict);
}

TEST(Skim, WhatIsNoResultIsRefusedAsByTheFullReader) {
  const std::string text = ResultToJson(FullResult());
  for (const std::string& wrong :
       {std::string(), std::string("{"), std::string("[1, 2]"), std::string(R"({"features": {)"),
        std::string(R"({"features)"), text.substr(0, text.size() / 2), text.substr(0, 40)}) {
    const auto skimmed = SkimResult(wrong, "a.result.json");
    const auto full = ParseResult(wrong, "a.result.json");
    ASSERT_FALSE(skimmed);
    EXPECT_EQ(skimmed.error().code, full.error().code) << wrong.substr(0, 60);
  }
}

}  // namespace
}  // namespace cutface
