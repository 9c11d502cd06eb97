#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/roster.h"
#include "roster/runs.h"
#include "support/matchers.h"
#include "support/validate.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

constexpr char kRunSchema[] = CUTFACE_SOURCE_DIR "/src/data/run.schema.json";
constexpr char kDecisionSchema[] = CUTFACE_SOURCE_DIR "/src/data/dispositions.schema.json";

Roster FullRun() {
  Roster run;
  run.software = "0.1.0";
  run.started = "2026-04-01T08:00:00Z";
  run.finished = "2026-04-01T08:05:00Z";
  run.folder = "first-article";
  run.inspector = "A. Measurer";
  run.designs = {{"LV-7504.design.json", Sha256Hex("d"), "LV-7504"}};
  run.calibrations = {{"bench.calibration.json", Sha256Hex("c"), "bench2-5x"}};
  FaceEntry face = Measured("A/\"1\"\n.png", "1", "shaft");
  face.sample.block = "B-3";
  face.sample.station_mm = 400.5;
  face.sample.face = "distal";
  face.sample.prepared_by = "P";
  face.sample.cut_direction_deg = -12;
  face.sample.dyed = true;
  face.sample.taken = "2026-03-30T10:00:00";
  face.factors = {{"mandrel", "yes"}, {"oven", "=1+1"}};
  face.operator_name = "O";
  face.trial = "2";
  face.design_sha256 = Sha256Hex("d");
  face.calibration_sha256 = Sha256Hex("c");
  face.verdict = Verdict::kNotProven;
  face.repeat = RepeatKind::kRecut;
  face.repeat_of = "A/0.png";
  run.faces.push_back(face);
  run.faces.push_back(Rejected(Measured("b.png", "2", "shaft"), "out-of-focus"));
  run.faces.push_back(Measured("c.png", "3", ""));
  run.faces[2].state = FaceState::kWaiting;
  run.faces[2].code = "usage";
  run.faces[2].reason = "no plane is named";
  run.faces[2].proposed_planes = {"shaft", "tip"};
  run.faces[2].result_file = run.faces[2].result_sha256 = "";
  run.warnings = {"a warning"};
  return run;
}

TEST(RosterFiles, ARunComesBackAsItWasWritten) {
  const Roster run = FullRun();
  const std::string text = RosterToJson(run);
  const auto back = ParseRoster(text, "run.json");
  ASSERT_THAT(back, IsOk());
  EXPECT_EQ(RosterToJson(*back), text);
  ASSERT_EQ(back->faces.size(), 3u);
  const FaceEntry& face = back->faces[0];
  EXPECT_EQ(face.image, "A/\"1\"\n.png");
  EXPECT_EQ(face.sample.station_mm, 400.5);
  EXPECT_EQ(face.sample.cut_direction_deg, -12);
  EXPECT_TRUE(face.sample.dyed);
  EXPECT_EQ(face.factors.at("oven"), "=1+1");
  EXPECT_EQ(face.repeat, RepeatKind::kRecut);
  EXPECT_EQ(face.verdict, Verdict::kNotProven);
  EXPECT_EQ(back->faces[1].state, FaceState::kRejected);
  EXPECT_EQ(back->faces[1].code, "out-of-focus");
  EXPECT_THAT(back->faces[2].proposed_planes, ElementsAre("shaft", "tip"));
  EXPECT_EQ(back->designs[0].id, "LV-7504");
  EXPECT_EQ(back->finished, run.finished);
}

TEST(RosterFiles, EveryKeyOfARunStandsInTheSchema) {
  Roster stopped = FullRun();
  stopped.finished = "";
  for (const std::string& complaint :
       Violations(kRunSchema, {RosterToJson(FullRun()), RosterToJson(stopped)}, /*strict=*/true))
    EXPECT_EQ(complaint, "");
}

TEST(RosterFiles, BytesThatAreNoTextDoNotBreakTheFile) {
  Roster run = FullRun();
  run.faces[0].sample.serial = "\xff\xfe";
  const auto back = ParseRoster(RosterToJson(run), "run.json");
  ASSERT_THAT(back, IsOk());
  EXPECT_EQ(back->faces[0].sample.serial, "\xef\xbf\xbd\xef\xbf\xbd");
}

TEST(RosterFiles, AKeyOfANewerProgramIsAWarning) {
  const auto back = ParseRoster(
      R"({"format": "cutface/run", "version": 1, "faces": [], "fases": 1})", "run.json");
  ASSERT_THAT(back, IsOk());
  EXPECT_THAT(back->warnings, ElementsAre(HasSubstr("\"fases\", perhaps \"faces\"")));
}

TEST(RosterFiles, WhatIsNoRunIsRefusedWithItsPlace) {
  const std::string text = RosterToJson(FullRun());
  EXPECT_THAT(ParseRoster(text.substr(0, text.size() / 2), "r"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseRoster("[]", "r"), FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseRoster(R"({"format": "cutface/run", "version": 2, "faces": []})", "r"),
              FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseRoster(R"({"format": "cutface/run", "version": 1})", "r"),
              FailsWith(Code::kJsonMissingKey));
  std::string other = text;
  other.replace(other.find("\"measured\""), 10, "\"mesured\"");
  const auto wrong = ParseRoster(other, "r");
  ASSERT_THAT(wrong, FailsWith(Code::kJsonValue));
  EXPECT_THAT(wrong.error().message, HasSubstr("r: faces[0].state: "));
}

TEST(RosterFiles, AMeasuredFaceWithoutAResultIsRefused) {
  Roster run = FullRun();
  run.faces[0].result_sha256 = "";
  EXPECT_THAT(ParseRoster(RosterToJson(run), "r"), FailsWith(Code::kJsonValue));
}

Decisions FullDecisions() {
  Decisions d;
  d.dispositions.push_back({DispositionKind::kConcession, "CON-12", Sha256Hex("r"), "7",
                            std::nullopt, "customer agreed", "E. Engineer", "2026-04-02"});
  d.dispositions.push_back({DispositionKind::kRecut, "", Sha256Hex("r"), "", 0,
                            "chip from the blade", "I. Inspector", "2026-04-02T10:00:00Z"});
  d.signatures.push_back(
      {SignatureMeaning::kReviewed, "E. Engineer", "2026-04-02T10:05Z", Sha256Hex("r")});
  return d;
}

TEST(DecisionFiles, DecisionsComeBackAsTheyWereWritten) {
  const std::string text = DecisionsToJson(FullDecisions());
  const auto back = ParseDecisions(text, "d");
  ASSERT_THAT(back, IsOk());
  EXPECT_EQ(DecisionsToJson(*back), text);
  EXPECT_EQ(back->dispositions[0].reference, "CON-12");
  EXPECT_EQ(back->dispositions[1].finding, 0);
  EXPECT_EQ(back->signatures[0].meaning, SignatureMeaning::kReviewed);
  EXPECT_EQ(Violations(kDecisionSchema, text, /*strict=*/true), "");
}

// Each mistake is refused by the program and by the schema alike, where the schema can tell it.
TEST(DecisionFiles, MistakesAreRefused) {
  struct Mistake {
    const char* from;
    const char* to;
    Code code;
    bool in_schema = true;
  };
  const std::vector<Mistake> mistakes = {
      {R"("CON-12")", R"(" ")", Code::kJsonValue},
      {R"("reference")", R"("referense")", Code::kJsonUnknownKey},
      {R"("row": "7",)", "", Code::kJsonValue},
      {R"("row": "7",)", R"("row": "7", "finding": 1,)", Code::kJsonValue},
      {R"("finding": 0)", R"("finding": -1)", Code::kJsonValue},
      {R"("finding": 0)", R"("finding": 0.5)", Code::kJsonValue},
      {R"("customer agreed")", R"("")", Code::kJsonValue},
      {R"("by": "E. Engineer",)", "", Code::kJsonMissingKey},
      {R"("concession")", R"("waiver")", Code::kJsonValue},
      {R"("reviewed")", R"("seen")", Code::kJsonValue},
      {R"("2026-04-02")", R"("2.4.2026")", Code::kJsonValue},
      {R"("2026-04-02")", R"("2026-02-29")", Code::kJsonValue, false},
      {R"("2026-04-02T10:05Z")", R"("2026-04-02T24:05Z")", Code::kJsonValue, false}};
  const std::string good = DecisionsToJson(FullDecisions());
  std::vector<std::string> texts;
  for (const Mistake& mistake : mistakes) {
    SCOPED_TRACE(mistake.to);
    std::string text = good;
    ASSERT_NE(text.find(mistake.from), std::string::npos);
    text.replace(text.find(mistake.from), std::string(mistake.from).size(), mistake.to);
    EXPECT_THAT(ParseDecisions(text, "d"), FailsWith(mistake.code));
    if (mistake.in_schema) texts.push_back(text);
  }
  for (const std::string& complaint : Violations(kDecisionSchema, texts)) EXPECT_NE(complaint, "");
}

TEST(Objection, WhatDoesNotConformIsNotSimplyAcceptedAndAFaultSettlesNothing) {
  Disposition d = FullDecisions().dispositions[0];
  d.reference = "C-12";
  for (const DispositionKind what :
       {DispositionKind::kAccept, DispositionKind::kRecut, DispositionKind::kRework,
        DispositionKind::kScrap, DispositionKind::kConcession}) {
    d.what = what;
    EXPECT_EQ(Objection(d, Verdict::kNotMeasured), "");
    EXPECT_EQ(Objection(d, Verdict::kNotProven), "");
    EXPECT_EQ(Objection(d, Verdict::kDoesNotConform).empty(), what != DispositionKind::kAccept);
  }
  d.by = "";
  EXPECT_NE(Objection(d, Verdict::kNotMeasured), "");
  EXPECT_TRUE(NeedsDisposition(Verdict::kNotMeasured));
  EXPECT_FALSE(NeedsDisposition(Verdict::kElsewhere));
}

TEST(DecisionFiles, LeapDaysAreDays) {
  Disposition d = FullDecisions().dispositions[0];
  for (const char* day : {"2028-02-29", "2000-02-29", "2026-08-31", "2026-07-31", "2026-06-30"}) {
    d.when = day;
    EXPECT_EQ(Fault(d), "") << day;
  }
  for (const char* day : {"2100-02-29", "2026-06-31", "2026-09-31", "2026-13-01", "2026-00-10"}) {
    d.when = day;
    EXPECT_NE(Fault(d), "") << day;
  }
}

}  // namespace
}  // namespace cutface
