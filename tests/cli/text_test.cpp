#include "cli/text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cli/options.h"
#include "cutface/job.h"
#include "cutface/micrograph.h"
#include "picture/sample.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

TEST(Escaped, KeepsTextAndShowsWhatWouldSteerATerminal) {
  EXPECT_EQ(Escaped("plain \xc3\xa4 \xe2\x82\xac \xf0\x9f\x94\xa5"),
            "plain \xc3\xa4 \xe2\x82\xac \xf0\x9f\x94\xa5");
  EXPECT_EQ(Escaped("a\tb\r\n\x7f"), "a\\x09b\\x0d\\x0a\\x7f");
  EXPECT_EQ(Escaped("\xc2\x9b"), "\\xc2\\x9b");           // C1: CSI
  EXPECT_EQ(Escaped("\xe2\x80\xae"), "\\xe2\\x80\\xae");  // right-to-left override
  EXPECT_EQ(Escaped("\xc0\xaf"), "\\xc0\\xaf");           // overlong
  EXPECT_EQ(Escaped("\xed\xa0\x80"), "\\xed\\xa0\\x80");  // surrogate
  EXPECT_EQ(Escaped("x\xe2\x82"), "x\\xe2\\x82");         // cut
  EXPECT_EQ(Escaped(std::string_view("\0", 1)), "\\x00");
}

// The page has every command and option of --help, and roff is not given a stray request.
TEST(Manual, HoldsEveryCommandAndEscapesHyphens) {
  const auto call = ParseCall({"--man"});
  ASSERT_THAT(call, IsOk());
  for (const char* command : {"measure", "survey", "calibrate", "batch", "report", "records"}) {
    EXPECT_THAT(call->answer, HasSubstr(std::string("\n.SS ") + command + "\n"));
  }
  EXPECT_THAT(call->answer, HasSubstr("\\fB\\-\\-correct\\-oblique\\fR"));
  EXPECT_THAT(call->answer, HasSubstr("2 the call or a file it names is wrong"));
}

TEST(Columns, LineUpAndEndWithoutBlanks) {
  EXPECT_EQ(Columns({{"a", "bb"}, {"ccc", ""}, {"\xc3\xa4", "d"}}),
            "a    bb\nccc\n\xc3\xa4    d\n");
}

TEST(ResultTable, ShowsFrenchSizeBesideTheOutsideDiameter) {
  SectionResult result = sample::FourLumens();
  result.measurements.push_back(sample::Length({"outline"}, "diameter", 2500, {}, {}));
  EXPECT_THAT(ResultTable(result),
              AllOf(HasSubstr("2.5012 mm (7.5 Fr)"), HasSubstr("2.5000 mm (7.5 Fr)")));
}

TEST(ResultTable, NotMeasuredIsAStateWithItsReasonAndNotApplicableIsLeftOut) {
  SectionResult result = sample::FourLumens();
  Measurement m = sample::Length({"cuff"}, "wall", 0, {}, {});
  m.state = Measurement::State::kNotMeasured;
  m.reason = "edge too soft";
  result.measurements = {m};
  EXPECT_THAT(ResultTable(result),
              testing::ContainsRegex("cuff  wall +not measured +edge too soft"));
  result.measurements[0].state = Measurement::State::kNotApplicable;
  EXPECT_THAT(ResultTable(result), Not(HasSubstr("edge too soft")));
}

TEST(ResultTable, SaysUncertifiedMergedAndInterchangeable) {
  SectionResult result = sample::FourLumens();
  result.section.lumens[1].state = LumenState::kMerged;
  result.section.placement.interchangeable = {{"wash", "return"}};
  result.section.placement.names_proven = false;
  EXPECT_THAT(ResultTable(result),
              AllOf(HasSubstr("uncertified"), HasSubstr("lumen wash: merged"),
                    HasSubstr("wash, return are interchangeable"), HasSubstr("names: not proven")));
}

TEST(MarkedPicture, IsStillAValidPngAndIsRecognised) {
  auto png = EncodePng(cv::Mat(20, 30, CV_8UC3, cv::Scalar(1, 2, 3)));
  ASSERT_THAT(png, IsOk());
  EXPECT_FALSE(IsMarkedPicture(*png));
  const auto marked = MarkedPicture(*png, "0.1.0");
  EXPECT_TRUE(IsMarkedPicture(marked));
  // The reader checks every chunk's CRC-32.
  auto read = DecodeMicrograph(marked, "marked.png");
  ASSERT_THAT(read, IsOk());
  EXPECT_EQ(read->width(), 30);
}

TEST(PathsFor, TakesTheStemAndTheFolder) {
  EXPECT_EQ(PathsFor("in/B-07.shaft.tif", "out").result, "out/B-07.shaft.result.json");
  EXPECT_EQ(PathsFor("B-07.png", ".").picture, "./B-07.png");
}

}  // namespace
}  // namespace cutface
