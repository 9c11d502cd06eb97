#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/bench.h"
#include "cutface/roster.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

class CompareTest : public CliTest {
 protected:
  // Twelve parts; septum scope and wash about 0.15 mm, at least 0.1 mm asked.
  void SetUp() override {
    CliTest::SetUp();
    fs::create_directories(At("run"));
    for (int i = 0; i < 12; ++i) {
      SectionResult r = sample::FourLumens();
      r.sample.serial = "S" + std::to_string(10 + i);
      r.image_file = r.sample.serial + ".png";
      r.image_sha256 = Sha256Hex(r.image_file);
      r.calibration_sha256 = r.design_sha256 = Sha256Hex(std::string_view("x"));
      r.characteristics.resize(1);
      r.characteristics[0].actual = 0.15 + 0.001 * (i * 5 % 7);
      r.characteristics[0].lo = *r.characteristics[0].actual - 0.002;
      r.characteristics[0].hi = *r.characteristics[0].actual + 0.002;
      r.characteristics[0].min = 0.1;
      r.characteristics[0].max.reset();
      r.characteristics[0].verdict = Verdict::kConforms;
      ASSERT_THAT(WriteResult(At("run/" + r.sample.serial + ".result.json"), r), IsOk());
    }
  }
  int Compare(const std::vector<std::string>& more = {}) {
    std::vector<std::string> words = {"compare", At("run"), "--out", At("out")};
    words.insert(words.end(), more.begin(), more.end());
    return Run(words);
  }
  bool IsOneLine() const { return std::count(err_.begin(), err_.end(), '\n') == 1; }
};

TEST_F(CompareTest, ARunOfResultsIsToldRowByRowAndWritten) {
  EXPECT_EQ(Compare(), kExitFine) << err_;
  EXPECT_THAT(out_, AllOf(HasSubstr("n = 12 parts"), HasSubstr("shown"),
                          HasSubstr("With 95 % confidence 99 % of such parts have"),
                          HasSubstr("What it cannot show:"), HasSubstr("comparison.html"),
                          Not(HasSubstr("Cp "))));
  const auto json = nlohmann::json::parse(Read("out/comparison.json"));
  EXPECT_EQ(json["n"], 12);
  EXPECT_EQ(json["rows"][0]["answer"], "shown");
  EXPECT_EQ(json["rows"][0]["values"].size(), 12u);
  EXPECT_EQ(Compare({"--json"}), kExitFine);
  EXPECT_EQ(out_, Read("out/comparison.json"));
}

TEST_F(CompareTest, ARowThatIsNotShownGivesStatusOne) {
  SectionResult r = *ReadResult(At("run/S10.result.json"));
  r.characteristics[0].actual.reset();
  r.characteristics[0].lo.reset(), r.characteristics[0].hi.reset();
  r.characteristics[0].verdict = Verdict::kNotMeasured;
  r.characteristics[0].reason = "the lumens are one";
  ASSERT_THAT(WriteResult(At("run/S10.result.json"), r), IsOk());
  EXPECT_EQ(Compare(), kExitNotAllConform);
  EXPECT_THAT(out_, AllOf(HasSubstr("not shown"), HasSubstr("the lumens are one")));
}

TEST_F(CompareTest, WrongWordsAreOneLineAndStatusTwo) {
  for (const std::vector<std::string>& words : {std::vector<std::string>{"--bound", "critical=95"},
                                                {"--bound", "vital=95/95"},
                                                {"--bound", "major=95/100"},
                                                {"--bound", "major=95/9x"},
                                                {"--subgroup", "oven"}}) {
    EXPECT_EQ(Compare(words), kExitWrongCall) << words[1];
    EXPECT_TRUE(IsOneLine()) << err_;
  }
  fs::create_directories(At("empty"));
  EXPECT_EQ(Run({"compare", At("empty"), "--out", At("out")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("holds neither run.json nor a *.result.json"));
  EXPECT_EQ(Run({"compare", At("nowhere.result.json"), "--out", At("out")}), kExitWrongCall);
  EXPECT_EQ(
      Run({"compare", At("run/S10.result.json"), At("run/S10.result.json"), "--out", At("out")}),
      kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("name each result once"));
}

TEST_F(CompareTest, AgainstAnotherRunWithAMargin) {
  EXPECT_EQ(Compare({"--against", At("run"), "--margin", "5um"}), kExitFine) << err_;
  EXPECT_THAT(out_, AllOf(HasSubstr("Against the other run"),
                          HasSubstr("equivalent within 0.0050 mm either way")));
  EXPECT_TRUE(nlohmann::json::parse(Read("out/comparison.json")).contains("against"));
  EXPECT_THAT(Read("out/comparison.html"), HasSubstr("id=\"against\""));
  EXPECT_TRUE(Read("out/comparison.pdf").starts_with("%PDF"));
  for (const std::vector<std::string>& words : {std::vector<std::string>{"--margin", "5um"},
                                                {"--against", At("run"), "--margin", "5"},
                                                {"--against", At("run"), "--margin", "-5um"},
                                                {"--against", At("run"), "--margin", "=5um"},
                                                {"--against", At("nowhere")},
                                                {"--factor", "oven"}}) {
    EXPECT_EQ(Compare(words), kExitWrongCall) << words.back();
    EXPECT_TRUE(IsOneLine()) << err_;
  }
}

TEST_F(CompareTest, AFileOfSomebodyElseIsKept) {
  Write("out/comparison.html", "mine");
  EXPECT_EQ(Compare(), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("was not written by this program"));
  EXPECT_EQ(Read("out/comparison.html"), "mine");
  EXPECT_FALSE(fs::exists(At("out/comparison.json")));
}

TEST_F(CompareTest, AResultThatTheRunDidNotWriteIsRefused) {
  Roster roster;
  FaceEntry entry;
  entry.image = "S10.png", entry.part = "LV-7504", entry.state = FaceState::kMeasured;
  entry.result_file = "S10.result.json", entry.result_sha256 = Sha256Hex(std::string_view("x"));
  roster.faces.push_back(entry);
  ASSERT_THAT(WriteRoster(At("run/run.json"), roster), IsOk());
  EXPECT_EQ(Compare(), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("is not the file that the run wrote"));
}

}  // namespace
}  // namespace cutface
