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

class ReportTest : public CliTest {
 protected:
  void SetUp() override {
    CliTest::SetUp();
    verdict_ = Verdict::kDoesNotConform;
    ASSERT_EQ(Measure({"face.png"}, {"--serial", "B-07", "--lot", "25-118"}), kExitNotAllConform);
  }
  std::string ResultPath() const { return At("out/face.result.json"); }
  int Report(const std::vector<std::string>& more = {}) {
    std::vector<std::string> words = {
        "report",   ResultPath(), "--calibration", At("scope.calibration.json"),
        "--images", At("."),      "--out",         At("report")};
    words.insert(words.end(), more.begin(), more.end());
    return Run(words);
  }
  bool IsOneLine() const { return std::count(err_.begin(), err_.end(), '\n') == 1; }

  // A folder as a batch leaves it.
  Roster RunFolder() {
    Roster roster;
    FaceEntry entry;
    entry.image = "face.png";
    entry.part = "LV-7504";
    entry.revision = "C";
    entry.plane = "extrusion";
    entry.sample.serial = "B-07";
    entry.sample.lot = "25-118";
    entry.state = FaceState::kMeasured;
    entry.result_file = "face.result.json";
    entry.result_sha256 = Sha256Hex(Read("out/face.result.json"));
    roster.folder = folder_.string();
    roster.faces = {entry};
    return roster;
  }
};

TEST_F(ReportTest, WritesAllButQifAndTellsWhatIsOpen) {
  EXPECT_EQ(Report(), kExitNotAllConform);
  for (const char* name : {"report.pdf", "report.xlsx", "report.html", "report.csv"})
    EXPECT_TRUE(fs::exists(folder_ / "report" / name)) << name;
  EXPECT_FALSE(fs::exists(folder_ / "report" / "report.qif"));
  EXPECT_THAT(out_,
              AllOf(HasSubstr("LV-7504 revision C: does not conform"), HasSubstr("n = 1 part"),
                    HasSubstr("not ready to sign: 2 open"), HasSubstr("report.pdf")));
  EXPECT_THAT(err_, HasSubstr("the drawing is not at hand"));
}

TEST_F(ReportTest, FormatsThatAreNamedAreTheOnlyOnesAndJsonIsForScripts) {
  EXPECT_EQ(Report({"--csv", "--qif", "--json"}), kExitNotAllConform);
  EXPECT_FALSE(fs::exists(folder_ / "report" / "report.pdf"));
  EXPECT_TRUE(fs::exists(folder_ / "report" / "report.qif"));
  const auto json = nlohmann::json::parse(out_);
  EXPECT_EQ(json["format"], "cutface/report");
  EXPECT_FALSE(json["ready_to_sign"]);
  EXPECT_EQ(json["n"], 1);
  EXPECT_EQ(json["open"].size(), 2u);
  EXPECT_EQ(json["rows"].size(), 5u);
}

TEST_F(ReportTest, ADraftOfDispositionsIsRefusedUntilItIsFilledInAndThenSettles) {
  EXPECT_EQ(Report({"--csv", "--draft-dispositions", At("decided.json")}), kExitNotAllConform);
  EXPECT_EQ(Report({"--csv", "--dispositions", At("decided.json")}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine()) << err_;
  auto list = nlohmann::json::parse(Read("decided.json"));
  ASSERT_EQ(list["dispositions"].size(), 2u);
  for (auto& d : list["dispositions"]) {
    d["what"] = "concession";
    d["reference"] = "C-12";
    d["reason"] = "agreed with design";
    d["by"] = "Q. Engineer";
    d["when"] = "2026-03-19";
  }
  Write("decided.json", list.dump());
  // The part still does not conform; only nothing is open any more.
  EXPECT_EQ(Report({"--csv", "--dispositions", At("decided.json")}), kExitNotAllConform);
  EXPECT_THAT(out_, HasSubstr("\nready to sign"));
  EXPECT_EQ(Report({"--csv", "--draft-dispositions", At("decided.json")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("never overwritten"));
}

TEST_F(ReportTest, AReportThatSomebodyChangedIsNotOverwrittenAndItsOwnIs) {
  EXPECT_EQ(Report({"--csv"}), kExitNotAllConform);
  EXPECT_EQ(Report({"--csv"}), kExitNotAllConform);
  Write("report/report.csv", "my own notes");
  EXPECT_EQ(Report({"--csv"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("is not as this program wrote it"));
  EXPECT_TRUE(IsOneLine()) << err_;
  EXPECT_EQ(Read("report/report.csv"), "my own notes");
}

TEST_F(ReportTest, ARunsFolderIsReportedIntoItself) {
  Write("out/run.json", RosterToJson(RunFolder()));
  EXPECT_EQ(Run({"report", At("out"), "--calibration", At("scope.calibration.json"), "--csv"}),
            kExitNotAllConform);
  EXPECT_THAT(Read("out/report.csv"), AllOf(HasSubstr("B-07"), HasSubstr("does not conform")));
}

TEST_F(ReportTest, AResultThatChangedSinceTheRunIsRefused) {
  Write("out/run.json", RosterToJson(RunFolder()));
  Write("out/face.result.json", Read("out/face.result.json") + " ");
  EXPECT_EQ(Run({"report", At("out"), "--csv"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("is not the file that the run wrote"));
  EXPECT_TRUE(IsOneLine()) << err_;
  EXPECT_FALSE(fs::exists(folder_ / "out" / "report.csv"));
}

TEST_F(ReportTest, ANameInTheRunThatLeavesItsFolderIsNotFollowed) {
  Roster roster = RunFolder();
  roster.faces[0].result_file = "../out/face.result.json";
  Write("out/run.json", RosterToJson(roster));
  EXPECT_EQ(Run({"report", At("out"), "--csv"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("leaves the folder of the run"));
}

TEST_F(ReportTest, ARunOfSeveralPartsAsksWhichAndALotCanBeChosen) {
  Roster roster = RunFolder();
  FaceEntry other = roster.faces[0];
  other.part = "LV-7505";
  other.sample.lot = "26-001";
  roster.faces.push_back(other);
  Write("out/run.json", RosterToJson(roster));
  EXPECT_EQ(Run({"report", At("out"), "--csv"}), kExitWrongCall);
  EXPECT_THAT(err_, AllOf(HasSubstr("LV-7504, LV-7505"), HasSubstr("--part")));
  EXPECT_EQ(Run({"report", At("out"), "--csv", "--part", "LV-7504"}), kExitNotAllConform);
  EXPECT_EQ(Run({"report", At("out"), "--csv", "--lot", "25-118"}), kExitNotAllConform);
  EXPECT_EQ(Run({"report", At("out"), "--csv", "--lot", "none"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("no measured face"));
}

TEST_F(ReportTest, AnotherDrawingAFolderWithoutARunAndAMissingResultAreWrongCalls) {
  EXPECT_EQ(Report({"--design", At("part.design.json")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("one report holds one drawing"));
  EXPECT_EQ(Run({"report", At("out")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("no run.json"));
  EXPECT_EQ(Run({"report", At("none.result.json")}), kExitWrongCall);
  EXPECT_EQ(Run({"report", At("face.png")}), kExitWrongCall);
  EXPECT_EQ(Report({"--dispositions", At("none.json")}), kExitWrongCall);
  EXPECT_FALSE(fs::exists(folder_ / "report"));
}

TEST_F(ReportTest, AFolderThatCannotBeMadeIsReportedAndNothingIsWritten) {
  Write("file", "x");
  EXPECT_EQ(Run({"report", ResultPath(), "--out", At("file")}), kExitWrongCall);
  EXPECT_EQ(Read("file"), "x");
  EXPECT_EQ(Run({"report", ResultPath(), "--csv", "--out", "/proc/none"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("/proc/none"));
}

}  // namespace
}  // namespace cutface
