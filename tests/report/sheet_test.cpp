#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "report/runs.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using sample::Decided;
using sample::FaceOf;
using sample::GoodFace;
using sample::RunOf;
using testing::AllOf;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

std::vector<std::string> Numbers(const Sheet& sheet) {
  std::vector<std::string> numbers;
  for (const SheetRow& row : sheet.rows) numbers.push_back(row.no);
  return numbers;
}

bool IsOneLine(const std::string& text) { return text.find('\n') == std::string::npos; }

TEST(BuildSheet, NumbersOfSeveralPlanesGetSubNumbersInTheirOrder) {
  const auto sheet = BuildSheet(RunOf({GoodFace("1"), GoodFace("1", "bond-distal")}));
  ASSERT_THAT(sheet, IsOk());
  EXPECT_THAT(Numbers(*sheet),
              ElementsAre("1.1", "4.1", "7.1", "8.1", "9.1", "1.2", "4.2", "7.2", "8.2", "9.2"));
  EXPECT_EQ(sheet->rows[5].plane, "bond-distal");
  EXPECT_THAT(sheet->planes, ElementsAre("shaft-mid", "bond-distal"));
}

TEST(BuildSheet, OnePlaneKeepsTheDrawingsNumbers) {
  const auto sheet = BuildSheet(RunOf({GoodFace("1"), GoodFace("2")}));
  ASSERT_THAT(sheet, IsOk());
  EXPECT_THAT(Numbers(*sheet), ElementsAre("1", "4", "7", "8", "9"));
  EXPECT_THAT(sheet->rows[0].cells, SizeIs(2));
}

TEST(BuildSheet, SubNumbersThatCollideWithADrawnNumberAreRefused) {
  SectionResult a = GoodFace("1"), b = GoodFace("1", "bond-distal");
  a.characteristics[1].no = "1.2";  // 1 of the second plane would print the same
  const auto sheet = BuildSheet(RunOf({a, b}));
  ASSERT_THAT(sheet, FailsWith(Code::kDesignInvalid));
  EXPECT_THAT(sheet.error().message, HasSubstr("would both print as 1.2"));
}

TEST(BuildSheet, AnotherRevisionPartUnitOrDrawingIsRefusedInOneLine) {
  struct Case {
    const char* what;
    void (*spoil)(SectionResult&);
    const char* says;
  };
  const std::vector<Case> cases = {
      {"revision", [](SectionResult& r) { r.revision = "B"; }, "revision \"B\""},
      {"part", [](SectionResult& r) { r.part = "LV-7505"; }, "part \"LV-7505\""},
      {"units", [](SectionResult& r) { r.units = LengthUnit::kInch; }, "units are not mixed"},
      {"drawing", [](SectionResult& r) { r.design_sha256 = Sha256Hex(std::string_view("x")); },
       "hash"},
      {"limit", [](SectionResult& r) { r.characteristics[1].min = 0.2; }, "limits and units"},
      {"row unit", [](SectionResult& r) { r.characteristics[1].unit = "in"; }, "limits and units"},
      {"missing", [](SectionResult& r) { r.characteristics.pop_back(); }, "number 9 of"},
      {"surplus",
       [](SectionResult& r) {
         r.characteristics.push_back(r.characteristics.back());
         r.characteristics.back().no = "33";
       },
       "number 33 is not in"}};
  for (const Case& c : cases) {
    SectionResult spoilt = GoodFace("2");
    c.spoil(spoilt);
    const auto sheet = BuildSheet(RunOf({GoodFace("1"), spoilt}));
    ASSERT_THAT(sheet, FailsWith(Code::kDesignMismatch)) << c.what;
    EXPECT_THAT(sheet.error().message, AllOf(HasSubstr(c.says), HasSubstr("2-shaft-mid.png")))
        << c.what;
    EXPECT_TRUE(IsOneLine(sheet.error().message)) << sheet.error().message;
  }
}

TEST(BuildSheet, ANumberThatStandsTwiceOrIsEmptyIsRefused) {
  SectionResult twice = GoodFace("1"), without = GoodFace("1");
  twice.characteristics[2].no = "1";
  without.characteristics[2].no = "";
  EXPECT_THAT(BuildSheet(RunOf({twice})), FailsWith(Code::kDesignInvalid));
  EXPECT_THAT(BuildSheet(RunOf({without})), FailsWith(Code::kDesignInvalid));
}

TEST(BuildSheet, TheSameResultTwiceAndNoResultAreWrongCalls) {
  EXPECT_THAT(BuildSheet(RunOf({GoodFace("1"), GoodFace("1")})), FailsWith(Code::kUsage));
  EXPECT_THAT(BuildSheet(RunOf({})), FailsWith(Code::kUsage));
}

TEST(BuildSheet, StatisticsTakeOneValueAPartAndRepeatsAreNested) {
  SectionResult one = GoodFace("1"), again = GoodFace("1"), two = GoodFace("2");
  again.image_file = "again.png";
  again.image_sha256 = Sha256Hex(std::string_view("again"));
  one.characteristics[1].actual = 0.30;
  again.characteristics[1].actual = 0.34;
  two.characteristics[1].actual = 0.40;
  ReportInput input = RunOf({one, again, two});
  input.roster.faces[1].repeat = RepeatKind::kReimage;
  input.roster.faces[1].repeat_of = one.image_file;
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  const SheetRow& row = sheet->rows[1];
  EXPECT_EQ(row.n, 2);
  EXPECT_EQ(row.measured, 3);
  EXPECT_DOUBLE_EQ(*row.least, 0.30);
  EXPECT_DOUBLE_EQ(*row.greatest, 0.40);
  // Mean of the parts' means, (0.32 + 0.40) / 2; three pooled faces would give 0.3467.
  EXPECT_DOUBLE_EQ(*row.mean, 0.36);
  EXPECT_EQ(sheet->faces[1].repeat, "re-image of 1-shaft-mid.png");
}

TEST(BuildSheet, PartsWithoutASerialNumberAreNotCounted) {
  const auto sheet = BuildSheet(RunOf({GoodFace("1"), GoodFace("")}));
  ASSERT_THAT(sheet, IsOk());
  EXPECT_FALSE(sheet->rows[0].n.has_value());
  EXPECT_THAT(sheet->notes, Contains(HasSubstr("parts cannot be counted")));
  EXPECT_THAT(sheet->cannot_show.front(), HasSubstr("nothing can be said about a lot"));
}

// No failure in n parts: up to 1 - 0.05^(1/n) may fail (closed form of the exact binomial bound).
TEST(BuildSheet, WhatPartsSayOfALotIsTheExactBinomialBound) {
  std::vector<SectionResult> faces;
  for (int i = 1; i <= 6; ++i) faces.push_back(GoodFace(std::to_string(i)));
  const auto sheet = BuildSheet(RunOf(faces));
  ASSERT_THAT(sheet, IsOk());
  const double most = 100 * (1 - std::pow(0.05, 1.0 / 6));  // 39.30
  ASSERT_NEAR(most, 39.30, 0.005);
  EXPECT_THAT(sheet->cannot_show.front(),
              AllOf(HasSubstr("0 of the 6 parts measured"), HasSubstr("up to 39.3 %")));
}

TEST(BuildSheet, AllThatConformsIsReadyToSign) {
  const auto sheet = BuildSheet(RunOf({GoodFace("1"), GoodFace("2")}));
  ASSERT_THAT(sheet, IsOk());
  EXPECT_TRUE(sheet->ready());
  EXPECT_EQ(sheet->verdict, Verdict::kConforms);
}

TEST(BuildSheet, AnUnmeasuredRowIsOpenUntilSomebodyDecides) {
  SectionResult r = GoodFace("1");
  CharacteristicResult& row = r.characteristics[1];
  row.actual = row.lo = row.hi = std::nullopt;
  row.verdict = Verdict::kNotMeasured;
  row.reason = "scope was not found";
  r.verdict = Verdict::kNotMeasured;
  ReportInput input = RunOf({r});
  auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  ASSERT_THAT(sheet->open, SizeIs(1));
  EXPECT_THAT(sheet->open[0].label, HasSubstr("row 4"));
  EXPECT_THAT(sheet->open[0].text,
              AllOf(HasSubstr("scope was not found"), HasSubstr("needs a disposition")));
  for (const DispositionKind kind :
       {DispositionKind::kAccept, DispositionKind::kRecut, DispositionKind::kRework,
        DispositionKind::kScrap, DispositionKind::kConcession}) {
    input.decisions.dispositions = {
        Decided(input, 0, "4", kind, kind == DispositionKind::kConcession ? "C-12" : "")};
    sheet = BuildSheet(input);
    ASSERT_THAT(sheet, IsOk());
    EXPECT_TRUE(sheet->ready()) << DispositionKindName(kind);
    EXPECT_THAT(sheet->rows[1].cells[0].disposition,
                AllOf(HasSubstr(DispositionKindName(kind)), HasSubstr("Q. Engineer")));
  }
}

TEST(BuildSheet, AFailingRowIsNotAcceptedWithoutAConcessionWithItsReference) {
  SectionResult r = FaceOf("1");  // rows 7 and 8; a high finding on the septum of row 7
  ReportInput input = RunOf({r});
  const auto open = [&] {
    const auto sheet = BuildSheet(input);
    EXPECT_THAT(sheet, IsOk());
    return sheet ? sheet->open : std::vector<SheetLine>{};
  };
  EXPECT_THAT(open(), SizeIs(2));
  input.decisions.dispositions = {Decided(input, 0, "7", DispositionKind::kAccept),
                                  Decided(input, 0, "8", DispositionKind::kAccept)};
  ASSERT_THAT(open(), SizeIs(1));
  EXPECT_THAT(open()[0].text, HasSubstr("not accepted without a concession"));
  input.decisions.dispositions[0] = Decided(input, 0, "7", DispositionKind::kConcession);
  ASSERT_THAT(open(), SizeIs(1));  // no reference
  input.decisions.dispositions[0] = Decided(input, 0, "7", DispositionKind::kConcession, "C-12");
  EXPECT_THAT(open(), IsEmpty());
}

TEST(BuildSheet, AHighFindingWithoutARowNeedsADecisionOfItsOwn) {
  SectionResult r = GoodFace("1");
  r.findings = FaceOf("1").findings;
  r.findings[0].where = {"return"};  // high; no row speaks of it
  r.verdict = Verdict::kNotProven;
  ReportInput input = RunOf({r});
  auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  ASSERT_THAT(sheet->open, SizeIs(1));
  EXPECT_THAT(sheet->open[0].label, HasSubstr("finding 1"));
  Disposition d = Decided(input, 0, "", DispositionKind::kAccept);
  d.finding = 0;
  input.decisions.dispositions = {d};
  sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_TRUE(sheet->ready());
}

TEST(BuildSheet, ADecisionOnAnotherResultDoesNotCountAndIsTold) {
  ReportInput input = RunOf({FaceOf("1")});
  Disposition stale = Decided(input, 0, "7", DispositionKind::kConcession, "C-12");
  stale.result_sha256 = Sha256Hex(std::string_view("older"));
  Disposition nowhere = Decided(input, 0, "77", DispositionKind::kAccept);
  input.decisions.dispositions = {stale, nowhere};
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_THAT(sheet->open, SizeIs(2));
  EXPECT_THAT(sheet->notes, AllOf(Contains(HasSubstr("not in this report")),
                                  Contains(HasSubstr("row 77, which F1 does not have"))));
}

TEST(BuildSheet, ARejectedPictureIsOpenUntilAnotherOfThatFaceIsMeasured) {
  ReportInput input = RunOf({GoodFace("1")});
  FaceEntry rejected = input.roster.faces[0];
  rejected.image = "blurred.png";
  rejected.state = FaceState::kRejected;
  rejected.reason = "edges too soft to measure";
  rejected.result_file = rejected.result_sha256 = "";
  input.roster.faces.push_back(rejected);
  auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  ASSERT_THAT(sheet->open, SizeIs(1));
  EXPECT_THAT(sheet->open[0].text, HasSubstr("edges too soft"));
  input.roster.faces[0].repeat = RepeatKind::kReimage;
  input.roster.faces[0].repeat_of = "blurred.png";
  sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_TRUE(sheet->ready());
  EXPECT_THAT(sheet->unmeasured, SizeIs(1));  // told all the same
}

TEST(BuildSheet, OnlySignaturesOfThisRunOrItsResultsCount) {
  ReportInput input = RunOf({GoodFace("1")});
  input.run_sha256 = Sha256Hex(std::string_view("run"));
  Signature good{SignatureMeaning::kReviewed, "R. Viewer", "2026-03-20", input.run_sha256};
  Signature other{SignatureMeaning::kApproved, "A. Prover", "2026-03-20",
                  Sha256Hex(std::string_view("another"))};
  input.decisions.signatures = {good, other};
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  ASSERT_THAT(sheet->signatures, SizeIs(1));
  EXPECT_EQ(sheet->signatures[0].label, "reviewed");
  EXPECT_THAT(sheet->notes, Contains(HasSubstr("does not count here")));
}

ReportRecords InTheStore(const ReportInput& input) {
  ReportRecords records;
  records.store = "lab.records";
  records.entries = 41;
  records.head = Sha256Hex(std::string_view("head"));
  records.faces.resize(input.faces.size());
  std::int64_t entry = 8;
  for (ReportRecords::Face& face : records.faces) face.entry = entry++;
  return records;
}

TEST(BuildSheet, WhatTheRecordsWantDecidedIsOpenBesidesWhatTheSheetWants) {
  ReportInput input = RunOf({GoodFace("1"), GoodFace("2"), GoodFace("3"), FaceOf("4")});
  input.records = InTheStore(input);
  input.records->faces[0].entry = 0;
  input.records->faces[1].replaced_by = 40;
  input.records->faces[2].open = {{"", std::nullopt, "the drawing was not released", false}};
  input.records->faces[3].open = {{"7", std::nullopt, "row 7", true},
                                  {"", 0, "finding 1 (thin septum)", false}};
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  std::vector<std::string> open;
  for (const SheetLine& line : sheet->open) open.push_back(line.label + ": " + line.text);
  EXPECT_THAT(open, AllOf(Contains(HasSubstr("F1 serial 1: the result is not in the store")),
                          Contains(HasSubstr("F2 serial 2: entry 9 of the records was replaced")),
                          Contains(HasSubstr("F3 serial 3: the drawing was not released")),
                          Contains(HasSubstr("F4 serial 4: finding 1 (thin septum); needs"))));
  EXPECT_THAT(open, SizeIs(6));  // rows 7 and 8 of F4 once each
  EXPECT_THAT(sheet->records, HasSubstr("lab.records: 41 entries, head "));
  EXPECT_EQ(sheet->Standing(), "not ready to sign: 6 open");
}

TEST(BuildSheet, WhatHindersApprovalOnlyIsToldBesideTheSignature) {
  ReportInput input = RunOf({FaceOf("1")});
  input.faces[0].result.characteristics[4].verdict = Verdict::kConforms;
  input.faces[0].result.characteristics[3].verdict = Verdict::kConforms;
  input.records = InTheStore(input);
  input.records->faces[0].open = {{"7", std::nullopt, "row 7", true}};
  input.decisions.signatures = {
      {SignatureMeaning::kMeasured, "I. Measure", "2026-03-20", input.faces[0].result_sha256}};
  auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_EQ(sheet->Standing(), "not ready to be approved: 1 open; signed as measured");
  EXPECT_EQ(sheet->faces[0].record, 8);
  ASSERT_THAT(sheet->faces[0].signatures, SizeIs(1));
  EXPECT_EQ(sheet->faces[0].signatures[0].second, "I. Measure, 2026-03-20");
  input.decisions.dispositions = {Decided(input, 0, "7", DispositionKind::kConcession, "C-12")};
  input.records->faces[0].open.clear();
  sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_EQ(sheet->Standing(), "signed as measured");
  ASSERT_THAT(sheet->settled, SizeIs(1));
  EXPECT_THAT(sheet->settled[0].text, HasSubstr("concession C-12, Q. Engineer"));
}

TEST(BuildSheet, ATypedSignatureDoesNotCountWhileSomethingIsOpenInWhatItSigns) {
  ReportInput input = RunOf({FaceOf("1"), GoodFace("2")});
  input.run_sha256 = Sha256Hex(std::string_view("run"));
  for (const std::string& of :
       {input.faces[0].result_sha256, input.faces[1].result_sha256, input.run_sha256})
    input.decisions.signatures.push_back(
        {SignatureMeaning::kMeasured, "I. Measure", "2026-03-20", of});
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_THAT(sheet->faces[0].signatures, IsEmpty());
  EXPECT_THAT(sheet->faces[1].signatures, SizeIs(1));
  EXPECT_THAT(sheet->signed_as, IsEmpty());
  const auto refused = [](const std::string& note) {
    return note.find("does not count while something is open") != std::string::npos;
  };
  EXPECT_EQ(std::count_if(sheet->notes.begin(), sheet->notes.end(), refused), 2);
}

TEST(BuildSheet, AMeaningStandsOnlyWhenEveryFaceIsSignedWithIt) {
  ReportInput input = RunOf({GoodFace("1"), GoodFace("2")});
  const auto sign = [&](SignatureMeaning meaning, std::size_t face, const char* when) {
    input.decisions.signatures.push_back(
        {meaning, "I. Measure", when, input.faces[face].result_sha256});
  };
  sign(SignatureMeaning::kMeasured, 0, "2026-03-20");
  sign(SignatureMeaning::kMeasured, 1, "2026-03-21");
  sign(SignatureMeaning::kReviewed, 1, "2026-03-22");
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_EQ(sheet->Standing(), "signed as measured");
  ASSERT_THAT(sheet->signatures, SizeIs(2));
  EXPECT_EQ(sheet->signatures[0].text, "I. Measure, 2026-03-20 to 2026-03-21 (all faces)");
  EXPECT_EQ(sheet->signatures[1].text, "I. Measure, 2026-03-22 (F2 of 2 faces)");
  EXPECT_THAT(sheet->notes, Contains(HasSubstr("no passphrase stands behind them")));
}

TEST(BuildSheet, AnUncertifiedCalibrationIsToldAtTheFront) {
  SectionResult r = GoodFace("1");
  r.calibration_certified = false;
  const auto sheet = BuildSheet(RunOf({r}));
  ASSERT_THAT(sheet, IsOk());
  EXPECT_EQ(sheet->benches.at(0).certificate, "UNCERTIFIED");
  EXPECT_THAT(sheet->notes, Contains(HasSubstr("uncertified")));
}

TEST(PlainText, ShowsWhatWouldSteerAPageOrBreakALine) {
  EXPECT_EQ(PlainText("a\nb\tc"), "a\\x0ab\\x09c");
  EXPECT_EQ(PlainText("\xe2\x80\xae"
                      "cba"),
            "\\u202ecba");  // right-to-left override
  EXPECT_EQ(PlainText("\xff\xfe"), "\\xff\\xfe");
  EXPECT_EQ(PlainText("\xef\xbb\xbf"), "\\ufeff");
  EXPECT_EQ(PlainText("Stra\xc3\x9f"
                      "e 7 \xc2\xb5m"),
            "Stra\xc3\x9f"
            "e 7 \xc2\xb5m");
  EXPECT_EQ(PlainText(std::string(400, 'x')), std::string(300, 'x') + "...");
}

// OWASP's list of first characters that spreadsheets take for a formula: = + - @ tab return.
TEST(CsvText, NoFieldStartsAFormulaOrBreaksALine) {
  EXPECT_EQ(CsvText("plain"), "plain");
  EXPECT_EQ(CsvText("a,b"), "\"a,b\"");
  EXPECT_EQ(CsvText("say \"so\""), "\"say \"\"so\"\"\"");
  for (const char* bad :
       {"=1+1", "+1", "-1", "@x", "\tx", "\rx", " =1", "=HYPERLINK(\"http://x\")"}) {
    std::string field = CsvText(bad);
    if (field.front() == '"') field = field.substr(1);
    EXPECT_EQ(field.front(), '\'') << bad;
  }
}

TEST(RenderReport, AFolderThatCannotBeWrittenIsReportedAndNothingIsMade) {
  const ReportInput input = RunOf({GoodFace("1")});
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  EXPECT_THAT(RenderReport(input, *sheet, ReportFormats{}, "/proc/none"),
              FailsWith(Code::kFileUnwritable));
}

TEST(RenderReport, CanBeCancelled) {
  const ReportInput input = RunOf({GoodFace("1")});
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  ReportFormats formats;
  formats.xlsx = false;
  EXPECT_THAT(
      RenderReport(input, *sheet, formats, ".", [](double, std::string_view) { return false; }),
      FailsWith(Code::kCancelled));
}

TEST(RenderReport, TheSameInputGivesTheSameTablesAndPages) {
  const ReportInput input = RunOf({GoodFace("1")});
  const auto sheet = BuildSheet(input);
  ASSERT_THAT(sheet, IsOk());
  ReportFormats formats{true, false, true, true, true};
  const auto first = RenderReport(input, *sheet, formats, ".");
  const auto second = RenderReport(input, *sheet, formats, ".");
  ASSERT_THAT(first, IsOk());
  ASSERT_THAT(second, IsOk());
  ASSERT_THAT(*first, SizeIs(4));
  for (std::size_t i = 0; i < first->size(); ++i)
    EXPECT_EQ((*first)[i].bytes, (*second)[i].bytes) << (*first)[i].name;
}

}  // namespace
}  // namespace cutface
