// `cutface batch` as a call, with stages that answer at once.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "cli/bench.h"
#include "cutface/roster.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

class BatchTest : public CliTest {
 protected:
  void SetUp() override {
    CliTest::SetUp();
    fs::remove(folder_ / "face.png");
    for (const char* name : {"in/a.png", "in/b.png", "in/sub/a.png"}) WritePhoto(name);
  }
  // One face at a time: the stages count without a lock.
  int Batch(const std::vector<std::string>& more = {}, bool terminal = false) {
    std::vector<std::string> words = {"batch", At("in"), "--jobs", "1"};
    const std::vector<std::pair<std::string, std::string>> usual = {
        {"--design", At("part.design.json")},
        {"--calibration", At("scope.calibration.json")},
        {"--out", At("out")}};
    for (const auto& option : usual) {
      if (std::find(more.begin(), more.end(), option.first) != more.end()) continue;
      words.insert(words.end(), {option.first, option.second});
    }
    words.insert(words.end(), more.begin(), more.end());
    calls_ = 0;
    return Run(words, terminal);
  }
  Roster ReadRun() const {
    auto roster = ReadRoster(At("out/run.json"));
    CF_CHECK(roster);
    return *roster;
  }
};

TEST_F(BatchTest, AFolderGivesResultsPicturesAndARun) {
  EXPECT_EQ(Batch({"--section", "extrusion", "--recursive"}), kExitFine);
  EXPECT_EQ(calls_, 3);
  for (const char* name : {"out/a.result.json", "out/b.png", "out/sub/a.result.json"})
    EXPECT_TRUE(fs::exists(At(name))) << name;
  const Roster run = ReadRun();
  ASSERT_EQ(run.faces.size(), 3u);
  EXPECT_EQ(run.faces[2].image, "sub/a.png");
  EXPECT_EQ(run.faces[2].result_file, "sub/a.result.json");
  EXPECT_EQ(run.faces[2].result_sha256, Sha256Hex(Read("out/sub/a.result.json")));
  EXPECT_EQ(run.faces[2].image_sha256, Sha256Hex(Read("in/sub/a.png")));
  EXPECT_EQ(run.designs[0].sha256, Sha256Hex(Read("part.design.json")));
  EXPECT_NE(run.finished, "");
  EXPECT_THAT(out_, AllOf(HasSubstr("conforms          sub/a.png, extrusion"),
                          HasSubstr("3 faces cut, 3 imaged, 3 measured; n unknown: 3 of 3 faces "
                                    "have no serial number"),
                          HasSubstr("3 anew, 0 as before")));
}

TEST_F(BatchTest, ASecondRunMeasuresNothingAndLeavesTheRunAsItIs) {
  Batch({"--section", "extrusion"});
  const std::string run = Read("out/run.json"), result = Read("out/a.result.json");
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitFine);
  EXPECT_EQ(calls_, 0);
  EXPECT_EQ(Read("out/run.json"), run);
  EXPECT_EQ(Read("out/a.result.json"), result);
  EXPECT_THAT(out_, HasSubstr("0 anew, 2 as before"));
}

TEST_F(BatchTest, EveryResultIsKeptInTheStoreOnce) {
  Write("pass", "a passphrase of some length\n");
  const std::string store = At("lab.records");
  ASSERT_EQ(Run({"records", "start", "--store", store, "--by", "E. Method", "--new-passphrase-file",
                 At("pass")}),
            kExitFine)
      << err_;
  for (int run = 0; run < 2; ++run) {
    ASSERT_EQ(Batch({"--section", "extrusion", "--inspector", "I. Measure", "--records", store}),
              kExitFine)
        << err_;
    ASSERT_EQ(Run({"records", "list", "--store", store}), kExitFine) << err_;
    int results = 0;
    for (std::size_t at = out_.find("extrusion, "); at != std::string::npos;
         at = out_.find("extrusion, ", at + 1))
      ++results;
    EXPECT_EQ(results, 2) << out_;
    EXPECT_THAT(out_, HasSubstr("I. Measure"));
  }
  EXPECT_EQ(Batch({"--section", "extrusion", "--inspector", "I", "--records", At("none.records")}),
            kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("there is no store"));
}

TEST_F(BatchTest, AnotherDrawingCalibrationOrOptionMeasuresAgain) {
  Batch({"--section", "extrusion"});
  Batch({"--section", "extrusion", "--u-floor", "1"});
  EXPECT_EQ(calls_, 2);
  std::string record = kCalibration;
  record.replace(record.find("0.002"), 5, "0.003");
  Write("scope.calibration.json", record);
  Batch({"--section", "extrusion", "--u-floor", "1"});
  EXPECT_EQ(calls_, 2);
  std::string drawing = kDesign;
  drawing.replace(drawing.find("\"test\""), 6, "\"other\"");
  Write("part.design.json", drawing);
  Batch({"--section", "extrusion", "--u-floor", "1"});
  EXPECT_EQ(calls_, 2);
  Batch({"--section", "tip", "--u-floor", "1"});
  EXPECT_EQ(calls_, 2);
  Batch({"--section", "tip", "--u-floor", "1"});
  EXPECT_EQ(calls_, 0);
}

TEST_F(BatchTest, TheManifestTellsPlaneSampleAndFactors) {
  Write("m.csv",
        "image,serial,lot,plane,station,face,taken,operator,trial,factor:oven\n"
        "b.png,7,L-1,tip,12.5,distal,2026-04-01,O,2,hot\n");
  EXPECT_EQ(Batch({"--manifest", At("m.csv")}), kExitFine);
  EXPECT_EQ(options_.sample.serial, "7");
  EXPECT_EQ(options_.sample.station_mm, 12.5);
  EXPECT_EQ(options_.sample.face, "distal");
  EXPECT_EQ(options_.sample.taken, "2026-04-01");
  const Roster run = ReadRun();
  ASSERT_EQ(run.faces.size(), 1u);
  EXPECT_EQ(run.faces[0].factors.at("oven"), "hot");
  EXPECT_EQ(run.faces[0].operator_name, "O");
  EXPECT_THAT(out_, HasSubstr("n = 1 part"));
  EXPECT_THAT(err_, HasSubstr("1 picture of the folder is not in the manifest and is left out: "
                              "a.png"));
}

TEST_F(BatchTest, TheWorstFaceMakesTheExitStatus) {
  verdict_ = Verdict::kDoesNotConform;
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitNotAllConform);
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitNotAllConform) << "from the ledger too";
  Write("in/b.png", "no picture");
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitNotMeasurable);
  EXPECT_EQ(calls_, 0);
  EXPECT_THAT(err_, HasSubstr("b.png: is no picture that is read here"));
  Write("m.csv", "image,plane\na.png,tip\nc.png,tip\n");
  EXPECT_EQ(Batch({"--manifest", At("m.csv")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("c.png: there is no such picture"));
  EXPECT_EQ(ReadRun().faces[0].state, FaceState::kMeasured);
}

TEST_F(BatchTest, WithoutAPlaneTheFacesAreProposedAndNotJudged) {
  EXPECT_EQ(Batch(), kExitWrongCall);
  EXPECT_FALSE(fs::exists(At("out/a.result.json")));
  EXPECT_EQ(ReadRun().faces[0].state, FaceState::kWaiting);
  EXPECT_EQ(ReadRun().faces[0].verdict, Verdict::kNotJudged);
  EXPECT_THAT(out_, HasSubstr("proposed-manifest.csv"));
  EXPECT_THAT(Read("out/proposed-manifest.csv"), HasSubstr("a.png,LV-7504,C,"));
  EXPECT_THAT(err_, HasSubstr("no plane is named"));
}

TEST_F(BatchTest, TwoCalibrationsThatFitAreRefusedUntilOneIsNamed) {
  std::string record = kCalibration;
  record.replace(record.find("bench2-5x"), 9, "bench3-5x");
  Write("other.calibration.json", record);
  const std::vector<std::string> both = {"--section", "extrusion", "--calibration",
                                         At("scope.calibration.json"),
                                         At("other.calibration.json")};
  EXPECT_EQ(Batch(both), kExitWrongCall);
  EXPECT_EQ(calls_, 0);
  EXPECT_THAT(err_, HasSubstr("2 records fit"));
  Write("m.csv", "image,plane,calibration\na.png,tip,bench3-5x\nb.png,tip,bench2-5x\n");
  std::vector<std::string> named = both;
  named.insert(named.end(), {"--manifest", At("m.csv"), "--section", "tip"});
  named.erase(named.begin(), named.begin() + 2);
  EXPECT_EQ(Batch(named), kExitFine);
  EXPECT_EQ(ReadResult(At("out/a.result.json"))->calibration_id, "bench3-5x");
  EXPECT_EQ(ReadResult(At("out/b.result.json"))->calibration_id, "bench2-5x");
}

TEST_F(BatchTest, AnObjectiveThatNoRecordHasIsRefused) {
  Write("m.csv", "image,plane,objective\na.png,tip,10x\nb.png,tip,5x\n");
  EXPECT_EQ(Batch({"--manifest", At("m.csv")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("is said to need objective \"10x\""));
  EXPECT_EQ(ReadRun().faces[1].state, FaceState::kMeasured);
}

TEST_F(BatchTest, HostileNamesHarmNeitherPathsNorTheTerminal) {
  fs::remove_all(folder_ / "in");
  const std::string from_right_to_left = "\xe2\x80\xae";
  const std::vector<std::string> names = {
      "=HYPERLINK(\"x\").png", "<script>1<|script>.png",       "a\nb.png",
      "\x1b[2J.png",           from_right_to_left + "gnp.png", std::string(251, 'n') + ".png"};
  for (const std::string& name : names) WritePhoto("in/" + name);
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitFine);
  EXPECT_EQ(calls_, 6);
  const Roster run = ReadRun();
  ASSERT_EQ(run.faces.size(), 6u);
  for (const FaceEntry& face : run.faces) {
    EXPECT_EQ(face.state, FaceState::kMeasured) << face.reason;
    EXPECT_TRUE(fs::exists(At("out/" + face.result_file)));
  }
  for (const std::string& text : {out_, err_}) {
    EXPECT_THAT(text, Not(HasSubstr("\x1b")));
    EXPECT_THAT(text, Not(HasSubstr("\xe2\x80\xae")));
    EXPECT_THAT(text, Not(HasSubstr("a\nb")));
  }
}

TEST_F(BatchTest, NothingIsReadOrWrittenOutsideTheTwoFolders) {
  Write("secret.png", Read("in/a.png"));
  Write("m.csv", "image,serial,plane\n../secret.png,../../x,tip\na.png,../../../x,tip\n");
  EXPECT_EQ(Batch({"--manifest", At("m.csv")}), kExitWrongCall);
  EXPECT_EQ(calls_, 1);
  EXPECT_THAT(err_, HasSubstr("lies outside the folder"));
  for (const auto& item : fs::recursive_directory_iterator(folder_)) {
    const std::string path = item.path().string();
    if (path.ends_with(".result.json")) {
      EXPECT_EQ(path, At("out/a.result.json"));
    }
  }
}

TEST_F(BatchTest, ResultsDoNotGoIntoTheFolderOfThePictures) {
  EXPECT_EQ(Batch({"--section", "extrusion", "--out", At("in")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("is the folder of the pictures"));
  EXPECT_EQ(Batch({"--section", "extrusion", "--recursive", "--out", At("in/results")}), kExitFine);
  EXPECT_EQ(calls_, 3);
  EXPECT_EQ(Batch({"--section", "extrusion", "--recursive", "--out", At("in/results")}), kExitFine);
  EXPECT_EQ(calls_, 0) << "its own pictures are not measured";
}

TEST_F(BatchTest, FilesOfOthersInTheFolderOfResultsAreKept) {
  Write("out/run.json", "{}");
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitWrongCall);
  EXPECT_EQ(Read("out/run.json"), "{}");
  fs::remove(At("out/run.json"));
  Write("out/a.png", "a photo");
  EXPECT_EQ(Batch({"--section", "extrusion"}), kExitWrongCall);
  EXPECT_EQ(Read("out/a.png"), "a photo");
  EXPECT_THAT(err_, HasSubstr("was not drawn by this program"));
  EXPECT_EQ(ReadRun().faces[1].state, FaceState::kMeasured);
}

TEST_F(BatchTest, AFolderWithoutPicturesIsToldAndNoneIsGuessed) {
  fs::create_directories(At("empty/sub"));
  EXPECT_EQ(Run({"batch", At("empty"), "--design", At("part.design.json"), "--calibration",
                 At("scope.calibration.json"), "--out", At("out")}),
            kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("holds no picture"));
  EXPECT_EQ(Run({"batch", At("none"), "--design", At("part.design.json"), "--calibration",
                 At("scope.calibration.json"), "--out", At("out")}),
            kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("none: is no folder"));
}

TEST_F(BatchTest, JsonIsALineForEachFaceAndOneForAll) {
  EXPECT_EQ(Batch({"--section", "extrusion", "--json"}), kExitFine);
  std::istringstream lines(out_);
  std::vector<nlohmann::json> all;
  for (std::string line; std::getline(lines, line);) all.push_back(nlohmann::json::parse(line));
  ASSERT_EQ(all.size(), 3u);
  EXPECT_EQ(all[0]["image"], "a.png");
  EXPECT_EQ(all[0]["verdict"], "conforms");
  EXPECT_EQ(all[2]["counts"]["measured"], 2);
  EXPECT_TRUE(all[2]["counts"]["n"].is_null());
  EXPECT_EQ(all[2]["anew"], 2);
}

TEST_F(BatchTest, ProgressIsShownOnATerminalOnly) {
  Batch({"--section", "extrusion"});
  EXPECT_THAT(err_, Not(HasSubstr("\r")));
  fs::remove_all(At("out"));
  Batch({"--section", "extrusion"}, /*terminal=*/true);
  EXPECT_THAT(err_, HasSubstr("/2]"));
}

TEST_F(BatchTest, LessMemoryThanOnePictureNeedsIsRefused) {
  std::string record = kCalibration;
  record.replace(record.find("[800, 600]"), 10, "[8000, 6000]");
  Write("scope.calibration.json", record);
  EXPECT_EQ(Batch({"--section", "extrusion", "--memory", "16"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("needs about"));
  EXPECT_EQ(calls_, 0);
  Write("scope.calibration.json", kCalibration);
  EXPECT_EQ(Batch({"--section", "extrusion", "--memory", "64", "--pressure", "scope=2bar"}),
            kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("under pressure"));
  EXPECT_EQ(Batch({"--section", "extrusion", "--memory", "64"}), kExitFine);
}

TEST_F(BatchTest, WithoutPicturesOnlyResultsAreWritten) {
  EXPECT_EQ(Batch({"--section", "extrusion", "--no-pictures"}), kExitFine);
  EXPECT_TRUE(fs::exists(At("out/a.result.json")));
  EXPECT_FALSE(fs::exists(At("out/a.png")));
}

TEST_F(BatchTest, TheSameNoteOfManyFacesIsToldOnce) {
  Batch({"--section", "extrusion"});
  EXPECT_THAT(err_, HasSubstr("2 faces (a.png ...): "));
}

}  // namespace
}  // namespace cutface
