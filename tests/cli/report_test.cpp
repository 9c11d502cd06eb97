#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/bench.h"
#include "cli/records.h"
#include "cutface/archive.h"
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

// A store with the result of the fixture, an engineer and an inspector; cheap keys.
class RecordedReportTest : public ReportTest {
 protected:
  void SetUp() override {
    ReportTest::SetUp();
    ArchiveOptions quick;
    quick.key_cost = {1, 8192};
    auto store = Archive::Start(At("lab.records"), "E. Method", Passphrase(kPhrase), quick);
    ASSERT_THAT(store, IsOk());
    store_.emplace(std::move(*store));
    auto engineer = store_->Unlock("E. Method", Passphrase(kPhrase));
    ASSERT_THAT(engineer, IsOk());
    ASSERT_THAT(
        store_->SetPerson("I. Measure", PersonRole::kInspector, Passphrase(kPhrase), *engineer),
        IsOk());
    auto inspector = store_->Unlock("I. Measure", Passphrase(kPhrase));
    ASSERT_THAT(inspector, IsOk());
    inspector_.emplace(std::move(*inspector));
  }
  int Recorded() { return Report({"--csv", "--records", At("lab.records")}); }
  std::int64_t Keep() {
    auto kept = KeepResultFile(*store_, ResultPath(), {At("."), {}, false, "I. Measure", {}});
    EXPECT_THAT(kept, IsOk());
    return kept->entry.seq;
  }
  void Settle(std::int64_t entry, const OpenItem& item) {
    Disposition d;
    d.what = DispositionKind::kConcession;
    d.reference = "C-12";
    d.row = item.row;
    d.finding = item.finding;
    d.reason = "agreed with design";
    ASSERT_THAT(store_->Dispose(entry, d, *inspector_), IsOk());
  }

  static constexpr const char* kPhrase = "sections are cut square";
  std::optional<Archive> store_;
  std::optional<Signer> inspector_;
};

TEST_F(RecordedReportTest, DispositionsAndSignaturesComeFromTheRecords) {
  EXPECT_EQ(Recorded(), kExitNotAllConform);
  EXPECT_THAT(out_, HasSubstr("is not in the store of records"));
  const std::int64_t entry = Keep();
  EXPECT_EQ(Recorded(), kExitNotAllConform);
  EXPECT_THAT(out_, AllOf(HasSubstr("not ready to sign"), Not(HasSubstr("is not in the store"))));
  const std::vector<std::int64_t> entries = {entry};
  EXPECT_THAT(store_->Sign(entries, SignatureMeaning::kMeasured, *inspector_),
              FailsWith(Code::kUnsettled));
  const auto state = store_->State(entry);
  ASSERT_THAT(state, IsOk());
  for (const OpenItem& item : state->open) Settle(entry, item);
  EXPECT_EQ(Recorded(), kExitNotAllConform);  // the part still does not conform
  EXPECT_THAT(out_, AllOf(HasSubstr("\nready to sign"), HasSubstr("concession C-12, I. Measure")));
  ASSERT_THAT(store_->Sign(entries, SignatureMeaning::kMeasured, *inspector_), IsOk());
  EXPECT_EQ(Recorded(), kExitNotAllConform);
  EXPECT_THAT(out_, AllOf(HasSubstr("\nsigned as measured"), HasSubstr("I. Measure, 20")));
  EXPECT_THAT(Read("report/report.csv"), HasSubstr(",entry " + std::to_string(entry) + ","));
}

TEST_F(RecordedReportTest, AStoreThatWasChangedGivesNoReport) {
  Keep();
  store_.reset();
  std::string bytes = Read("lab.records");
  const std::string verdict = "\"verdict\":\"does not conform\"";
  const std::size_t at = bytes.find(verdict);
  ASSERT_NE(at, std::string::npos);
  bytes[at + verdict.size() - 2] = 'n';  // the same length: the database itself stays whole
  Write("lab.records", bytes);
  EXPECT_EQ(Recorded(), kExitWrongCall);
  EXPECT_THAT(err_, AllOf(HasSubstr("is not as it was written"), HasSubstr("was changed")));
  EXPECT_TRUE(IsOneLine()) << err_;
  EXPECT_FALSE(fs::exists(folder_ / "report"));
}

TEST_F(RecordedReportTest, AStoreThatIsNotThereOrBesideAFileOfDispositionsIsAWrongCall) {
  EXPECT_EQ(Report({"--csv", "--records", At("none.records")}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine()) << err_;
  EXPECT_EQ(Report({"--records", At("lab.records"), "--dispositions", At("d.json")}),
            kExitWrongCall);
  EXPECT_FALSE(fs::exists(folder_ / "report"));
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
