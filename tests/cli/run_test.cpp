#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/bench.h"
#include "cli/calibrated.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::AllOf;
using testing::ElementsAre;
using testing::EndsWith;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;

bool IsOneLine(const std::string& text) {
  return !text.empty() && text.back() == '\n' && std::count(text.begin(), text.end(), '\n') == 1;
}

TEST_F(CliTest, MeasuringWritesResultAndPictureAndPrintsTheTable) {
  EXPECT_EQ(Measure({"face.png"}), kExitFine);
  EXPECT_EQ(err_, "");
  ASSERT_THAT(ReadResult(At("out/face.result.json")), IsOk());
  EXPECT_EQ(ReadResult(At("out/face.result.json"))->section_name, "extrusion");
  EXPECT_THAT(ReadMicrograph(At("out/face.png")), IsOk());
  EXPECT_THAT(out_, AllOf(HasSubstr("face.png: LV-7504"), HasSubstr("at least 0.1 mm"),
                          HasSubstr("conforms"), HasSubstr("out/face.result.json")));
  EXPECT_LT(out_.find("Rows of the drawing"), out_.find("Findings"));
  EXPECT_LT(out_.find("Findings"), out_.find("Values"));
}

TEST_F(CliTest, ExitStatusFollowsTheVerdict) {
  const std::vector<std::pair<Verdict, int>> wanted = {{Verdict::kConforms, 0},
                                                       {Verdict::kNotJudged, 0},
                                                       {Verdict::kDoesNotConform, 1},
                                                       {Verdict::kNotProven, 1},
                                                       {Verdict::kNotMeasured, 1}};
  for (const auto& [verdict, status] : wanted) {
    verdict_ = verdict;
    EXPECT_EQ(Measure({"face.png"}), status) << VerdictName(verdict);
  }
}

TEST_F(CliTest, OnlyStitchedAndCroppedPicturesMayDifferInSizeFromTheCalibration) {
  std::string record = kCalibration;
  record.replace(record.find("[800, 600]"), 10, "[900, 700]");
  Write("scope.calibration.json", record);
  for (const char* kind : {"single", "stacked"}) {
    EXPECT_EQ(Measure({"face.png"}, {"--image-kind", kind}), kExitWrongCall);
    EXPECT_THAT(err_, HasSubstr("made for images of 900 x 700 px"));
  }
  ASSERT_EQ(calls_, 0);
  EXPECT_EQ(Measure({"face.png"}, {"--image-kind", "crop"}), kExitFine);
  EXPECT_THAT(options_.warnings, ElementsAre(HasSubstr("its pitch holds only if")));
  EXPECT_EQ(options_.measure.seam_u_um, 0);
  EXPECT_EQ(Measure({"face.png"}, {"--image-kind", "stitched"}), kExitFine);
  EXPECT_THAT(options_.warnings,
              ElementsAre(HasSubstr("its pitch holds only if"), HasSubstr("seam")));
  // Five pixels of 5 um as the half-width of a rectangle (JCGM 100, 4.3.7): 25 / sqrt(3) um.
  EXPECT_NEAR(options_.measure.seam_u_um, 14.4338, 1e-4);
}

TEST_F(CliTest, ALockedMethodRefusesAnotherKindOfPicture) {
  std::string drawing = kDesign;
  drawing.replace(drawing.find("\"sections\""), 0,
                  R"("method": {"locked": true, "image_kind": "single"}, )");
  Write("part.design.json", drawing);
  EXPECT_EQ(Measure({"face.png"}, {"--image-kind", "crop"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("locks its method to single pictures"));
  EXPECT_EQ(Measure({"face.png"}, {"--image-kind", "single"}), kExitFine);
  EXPECT_EQ(Measure({"face.png"}, {"--image-kind", "cropped"}), kExitWrongCall);
}

TEST(KeepPitchOnly, DistortionOfACropGoesIntoTheScalesUncertainty) {
  Bench bench;
  bench.record = *ParseCalibration(kCalibration, "record");
  bench.record.k1_per_px2 = 2e-9;
  ASSERT_THAT(KeepPitchOnly("crop", 400, 300, bench), IsOk());
  EXPECT_FALSE(bench.scale.distorted());
  // Corner 399.5, 299.5 px from the centre: 3 k1 r^2 = 1.495803e-3, over sqrt(3), with 0.002 / 5.
  EXPECT_NEAR(bench.scale.u_relative_x(), std::hypot(4e-4, 1.495803e-3 / std::sqrt(3.0)), 1e-9);
  EXPECT_EQ(bench.warnings.size(), 2u);
  EXPECT_EQ(bench.scale.pitch_x_um(), 5.0);
}

TEST_F(CliTest, AnImageWithoutAFaceIsNotMeasurableAndLeavesNoFiles) {
  for (const Code code : {Code::kNoSection, Code::kTwoParts, Code::kOutOfFocus}) {
    failure_ = Error{code, "no cut face in the picture; check the light"};
    EXPECT_EQ(Measure({"face.png"}), kExitNotMeasurable);
    EXPECT_TRUE(IsOneLine(err_)) << err_;
    EXPECT_THAT(err_,
                AllOf(StartsWith("cutface: "), HasSubstr("face.png"), HasSubstr("no cut face")));
    EXPECT_TRUE(fs::is_empty(At("out")));
  }
}

TEST_F(CliTest, DamagedImagesAreNotMeasurableAndMissingOnesAreAWrongCall) {
  Write("empty.png", "");
  Write("text.png", "hello");
  Write("cut.png", Read("face.png").substr(0, 4000));
  for (const char* image : {"empty.png", "text.png", "cut.png"}) {
    EXPECT_EQ(Measure({image}), kExitNotMeasurable) << image;
    EXPECT_TRUE(IsOneLine(err_)) << err_;
    EXPECT_THAT(err_, HasSubstr(image));
  }
  EXPECT_EQ(Measure({"missing.png"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("missing.png"));
  EXPECT_TRUE(fs::is_empty(At("out")));
  EXPECT_EQ(calls_, 0);
}

TEST_F(CliTest, OneBadImageDoesNotStopTheRestAndTheWorstDecides) {
  Write("empty.png", "");
  WritePhoto("second.png");
  verdict_ = Verdict::kDoesNotConform;
  EXPECT_EQ(Measure({"face.png", "empty.png", "second.png"}), kExitNotMeasurable);
  EXPECT_TRUE(fs::exists(At("out/face.result.json")));
  EXPECT_TRUE(fs::exists(At("out/second.result.json")));
  EXPECT_FALSE(fs::exists(At("out/empty.result.json")));
  EXPECT_TRUE(IsOneLine(err_)) << err_;
}

TEST(ExitStatus, AWrongCallIsWorstThenNotMeasurableThenNotConform) {
  EXPECT_EQ(WorseExit(kExitWrongCall, kExitNotMeasurable), kExitWrongCall);
  EXPECT_EQ(WorseExit(kExitNotMeasurable, kExitNotAllConform), kExitNotMeasurable);
  EXPECT_EQ(WorseExit(kExitFine, kExitNotAllConform), kExitNotAllConform);
  EXPECT_EQ(WorseExit(kExitFine, kExitFine), kExitFine);
}

TEST_F(CliTest, AnUnknownSectionListsThoseThatExist) {
  std::vector<std::string> words = {"measure",       At("face.png"),
                                    "--design",      At("part.design.json"),
                                    "--calibration", At("scope.calibration.json"),
                                    "--out",         At("out")};
  EXPECT_EQ(Run(words), kExitWrongCall);  // two sections, none chosen
  EXPECT_THAT(err_, HasSubstr("extrusion, tip"));
  words.insert(words.end(), {"--section", "extrusoin"});
  EXPECT_EQ(Run(words), kExitWrongCall);
  EXPECT_THAT(err_, AllOf(HasSubstr("perhaps \"extrusion\""), HasSubstr("extrusion, tip")));
  EXPECT_TRUE(IsOneLine(err_));
  EXPECT_FALSE(fs::exists(At("out")));
}

TEST_F(CliTest, TheOnlySectionNeedsNotBeNamed) {
  Write("part.design.json", R"({"format": "cutface/design", "version": 1, "units": "mm",
    "part": {"number": "LV-7504", "revision": "C", "title": "test"},
    "sections": {"tip": {"kind": "shaft", "outline": {"circle": {"diameter": 2.0}}}}})");
  EXPECT_EQ(Run({"measure", At("face.png"), "--design", At("part.design.json"), "--calibration",
                 At("scope.calibration.json"), "--out", At("out"), "--taken", "2026-04-01"}),
            kExitFine)
      << err_;
}

TEST_F(CliTest, WrongWordsAreOneLineAndStatusTwo) {
  const std::vector<std::vector<std::string>> calls = {
      {},
      {"mesure", "a.png"},
      {"measure"},
      {"measure", "a.png", "--design", "d"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--odd"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--channel", "violet"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--u-floor", "-1"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--station", "far"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--taken", "yesterday"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--taken", "2026-13-01"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--accept-overdue"},
      {"measure", "a.png", "--design", "d", "--calibration", "c", "--accept-scale-mismatch"},
      {"survey", "a.png", "b.png", "--calibration", "c"},
      {"survey", "a.png"}};
  for (const auto& words : calls) {
    SCOPED_TRACE(words.empty() ? "(none)" : words.back());
    EXPECT_EQ(Run(words), kExitWrongCall);
    EXPECT_TRUE(IsOneLine(err_)) << err_;
    EXPECT_THAT(err_, StartsWith("cutface: "));
    EXPECT_EQ(out_, "");
  }
}

TEST_F(CliTest, WrongFilesThatTheCallNamesAreStatusTwo) {
  Write("part.design.json", "{\"format\": \"cutface/design\", \"sectoins\": {}}");
  EXPECT_EQ(Measure({"face.png"}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine(err_)) << err_;
  Write("part.design.json", kDesign);
  Write("scope.calibration.json", "not json");
  EXPECT_EQ(Measure({"face.png"}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine(err_)) << err_;
  EXPECT_EQ(calls_, 0);
}

TEST_F(CliTest, HelpShowsTheCautionsAndVersionTheNumber) {
  EXPECT_EQ(Run({"--help"}), 0);
  EXPECT_THAT(out_, AllOf(HasSubstr("measure"), HasSubstr("survey"),
                          HasSubstr("one plane of one destroyed")));
  EXPECT_EQ(Run({"measure", "--help"}), 0);
  EXPECT_THAT(out_, AllOf(HasSubstr("--calibration"), HasSubstr("--accept-overdue"),
                          HasSubstr("screening")));
  EXPECT_EQ(Run({"--version"}), 0);
  EXPECT_THAT(out_, StartsWith("cutface "));
  EXPECT_TRUE(IsOneLine(out_));
}

TEST_F(CliTest, ItsOwnFilesAreOverwrittenAndNoOthers) {
  EXPECT_EQ(Measure({"face.png"}), kExitFine);
  EXPECT_EQ(Measure({"face.png"}), kExitFine) << err_;
  const std::string ours = Read("out/face.result.json");

  Write("out/face.result.json", "{\"format\": \"other\"}");
  EXPECT_EQ(Measure({"face.png"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("face.result.json"));
  EXPECT_EQ(Read("out/face.result.json"), "{\"format\": \"other\"}");

  Write("out/face.result.json", ours);
  const std::string foreign = Read("face.png");
  Write("out/face.png", foreign);
  EXPECT_EQ(Measure({"face.png"}), kExitWrongCall);
  EXPECT_EQ(Read("out/face.png"), foreign);
  EXPECT_EQ(Read("out/face.result.json"), ours);
}

TEST_F(CliTest, TheMeasuredPictureItselfIsNeverOverwritten) {
  const std::string before = Read("face.png");
  EXPECT_EQ(Measure({"face.png"}, {"--out", At(".")}), kExitWrongCall);
  EXPECT_EQ(Read("face.png"), before);
  EXPECT_TRUE(IsOneLine(err_)) << err_;
  EXPECT_THAT(err_, HasSubstr("was not drawn by this program"));
}

TEST_F(CliTest, TwoImagesOfOneStemAreRefusedBeforeAnythingIsMeasured) {
  WritePhoto("other/face.png");
  EXPECT_EQ(Measure({"face.png", "other/face.png"}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("other/face.png"));
  EXPECT_EQ(calls_, 0);
}

TEST_F(CliTest, AFileWhereTheFolderShouldBeIsAWrongCall) {
  Write("taken", "x");
  EXPECT_EQ(Measure({"face.png"}, {"--out", At("taken")}), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("--out"));
  EXPECT_EQ(Measure({"face.png"}, {"--out", At("taken/deeper")}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine(err_)) << err_;
}

TEST_F(CliTest, AnUnwritableFolderIsAWrongCall) {
  // Not even root makes files there.
  EXPECT_EQ(Measure({"face.png"}, {"--out", "/proc/self"}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine(err_)) << err_;
  EXPECT_THAT(err_, HasSubstr("/proc/self/face.png"));
}

TEST_F(CliTest, AFailureOfTheSecondFileTakesTheFirstAwayAgain) {
  stages_.inspect = [&](const Micrograph& m, const CalibrationRecord& c, const Scale&,
                        const Design& d, const SectionDesign& p, const InspectOptions& o) {
    fs::create_directories(At("out/face.result.json"));  // appears while measuring
    return Answer(m, c, d.part_number, p.name, o);
  };
  EXPECT_EQ(Measure({"face.png"}), kExitWrongCall);
  EXPECT_FALSE(fs::exists(At("out/face.png")));
  EXPECT_TRUE(IsOneLine(err_)) << err_;
}

TEST_F(CliTest, AnOverdueCalibrationIsRefusedUnlessOverruledByName) {
  EXPECT_EQ(Measure({"face.png"}, {"--taken", "2026-10-01"}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine(err_)) << err_;
  EXPECT_THAT(err_, HasSubstr("2026-09-02"));
  EXPECT_EQ(Measure({"face.png"},
                    {"--taken", "2026-10-01", "--accept-overdue", "--inspector", "inspector 2"}),
            kExitFine);
  auto result = ReadResult(At("out/face.result.json"));
  ASSERT_THAT(result, IsOk());
  ASSERT_EQ(result->overrules.size(), 1u);
  EXPECT_THAT(result->overrules[0],
              AllOf(HasSubstr("2026-09-02"), EndsWith("accepted by inspector 2")));
}

TEST_F(CliTest, AnOverruleThatWasNotNeededIsNotRecorded) {
  EXPECT_EQ(Measure({"face.png"},
                    {"--accept-overdue", "--accept-scale-mismatch", "--inspector", "inspector 2"}),
            kExitFine);
  EXPECT_THAT(ReadResult(At("out/face.result.json"))->overrules, ElementsAre());
}

TEST_F(CliTest, AnotherImageSizeThanTheRecordsCannotBeOverruled) {
  std::string other = kCalibration;
  other.replace(other.find("[800, 600]"), 10, "[801, 600]");
  Write("scope.calibration.json", other);
  EXPECT_EQ(Measure({"face.png"}, {"--accept-scale-mismatch", "--inspector", "inspector 2"}),
            kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("801"));
}

TEST_F(CliTest, OptionsReachTheMeasurementAndTheRecord) {
  EXPECT_EQ(Measure({"face.png"},
                    {"--u-floor", "0", "--serial", "B-07", "--lot", "L", "--block", "K", "--face",
                     "distal", "--station", "410.5", "--inspector", "inspector 2"}),
            kExitFine);
  EXPECT_EQ(options_.measure.u_floor_um, 0);
  EXPECT_EQ(options_.sample.serial, "B-07");
  EXPECT_EQ(options_.sample.lot, "L");
  EXPECT_EQ(options_.sample.block, "K");
  EXPECT_EQ(options_.sample.face, "distal");
  EXPECT_EQ(options_.sample.station_mm, 410.5);
  EXPECT_EQ(options_.sample.taken, "2026-04-01");
  EXPECT_EQ(options_.inspector, "inspector 2");
}

TEST_F(CliTest, AnUnknownTimeOfTakingIsSaidAndRecorded) {
  EXPECT_EQ(Run({"measure", At("face.png"), "--design", At("part.design.json"), "--section", "tip",
                 "--calibration", At("scope.calibration.json"), "--out", At("out")}),
            kExitFine);
  EXPECT_THAT(err_, StartsWith("cutface: note: "));
  EXPECT_EQ(ReadResult(At("out/face.result.json"))->warnings.size(), 1u);
}

TEST_F(CliTest, JsonIsOneLineAnImageAndTheSameAsTheFile) {
  Write("empty.png", "");
  EXPECT_EQ(Measure({"face.png", "empty.png"}, {"--json"}), kExitNotMeasurable);
  std::istringstream lines(out_);
  std::string first, second, more;
  ASSERT_TRUE(std::getline(lines, first));
  ASSERT_TRUE(std::getline(lines, second));
  EXPECT_FALSE(std::getline(lines, more));
  EXPECT_EQ(nlohmann::json::parse(first), nlohmann::json::parse(Read("out/face.result.json")));
  EXPECT_EQ(nlohmann::json::parse(second)["error"]["code"], "image-empty");
}

TEST_F(CliTest, SurveyDraftsADrawingAndNeverOverwritesOne) {
  const std::vector<std::string> words = {
      "survey",         At("face.png"),         "--calibration", At("scope.calibration.json"),
      "--taken",        "2026-04-01",           "--out",         At("out"),
      "--draft-design", At("draft.design.json")};
  verdict_ = Verdict::kNotJudged;
  EXPECT_EQ(Run(words), kExitFine) << err_;
  EXPECT_THAT(ReadDesign(At("draft.design.json")), IsOk());
  EXPECT_THAT(ReadResult(At("out/face.result.json")), IsOk());
  EXPECT_EQ(Run(words), kExitWrongCall);
  EXPECT_THAT(err_, HasSubstr("draft.design.json"));
}

TEST_F(CliTest, HostileFileNamesCannotSteerTheTerminal) {
  EXPECT_EQ(Measure({"a\x1b[31m\n\xc2\x9b\xff.png"}), kExitWrongCall);
  EXPECT_TRUE(IsOneLine(err_));
  EXPECT_THAT(err_, AllOf(HasSubstr("\\x1b[31m\\x0a\\xc2\\x9b\\xff"), Not(HasSubstr("\x1b")),
                          Not(HasSubstr("\xff"))));
}

TEST_F(CliTest, ProgressIsShownOnATerminalOnlyAndTakenAway) {
  const std::vector<std::string> words = {
      "measure",   At("face.png"), "--design",      At("part.design.json"),
      "--section", "tip",          "--calibration", At("scope.calibration.json"),
      "--out",     At("out"),      "--taken",       "2026-04-01"};
  EXPECT_EQ(Run(words, /*terminal=*/false), kExitFine);
  EXPECT_EQ(err_, "");
  EXPECT_EQ(Run(words, /*terminal=*/true), kExitFine);
  EXPECT_THAT(err_, AllOf(HasSubstr("measuring"), EndsWith("\r"), Not(HasSubstr("\x1b"))));
  EXPECT_THAT(out_, Not(HasSubstr("\x1b")));
}

}  // namespace
}  // namespace cutface
