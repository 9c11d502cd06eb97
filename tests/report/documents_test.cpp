// A study and a qualification as HTML and PDF: the same texts in both, typed-in text harmless, and
// a page of what they can and cannot show in every report.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <fstream>

#include "compare/runs.h"
#include "cutface/report.h"
#include "cutface/stats.h"
#include "report/runs.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;
using testing::Not;

const ComparisonHead kHead{"0.1", "2026-04-01T00:00Z"};

// Text of a PDF by poppler, words separated by single blanks.
std::string TextOf(const std::vector<std::byte>& pdf, const std::string& name) {
  const std::string file = std::string(CUTFACE_BINARY_DIR) + "/documents_" + name;
  {
    std::ofstream out(file + ".pdf", std::ios::binary);
    out.write(reinterpret_cast<const char*>(pdf.data()), static_cast<std::streamsize>(pdf.size()));
  }
  const std::string call = "pdftotext -layout '" + file + ".pdf' '" + file + ".txt'";
  EXPECT_EQ(std::system(call.c_str()), 0);
  std::ifstream in(file + ".txt");
  std::string text, word;
  while (in >> word) text += (text.empty() ? "" : " ") + word;
  return text;
}

// Numbers of the cells of an HTML page's tables.
std::vector<std::string> CellNumbers(const std::string& html) {
  std::vector<std::string> numbers;
  for (std::size_t at = html.find("<td"); at != std::string::npos; at = html.find("<td", at + 1)) {
    const std::size_t begin = html.find('>', at) + 1;
    std::istringstream cell(html.substr(begin, html.find("</td>", begin) - begin));
    for (std::string word; cell >> word;)
      if (word.find_first_of("0123456789") != std::string::npos &&
          word.find_first_not_of("0123456789.+-e%") == std::string::npos)
        numbers.push_back(word);
  }
  return numbers;
}

Study SomeStudy(const std::string& piece_prefix = "") {
  StudyInput input;
  input.part = "T-1<script>";
  StudySubject subject;
  subject.no = "7", subject.title = "septum & <b>", subject.unit = "mm";
  subject.min = 9.0, subject.max = 13.0;
  Random random(4);
  for (int piece = 0; piece < 6; ++piece)
    for (const char* person : {"A", "B"})
      for (int trial = 0; trial < 2; ++trial) {
        StudyReading reading;
        reading.piece = piece_prefix + std::to_string(piece);
        reading.person = person;
        reading.value = 10 + 0.3 * piece + 0.05 * random.Normal();
        reading.verdict = piece == 3 && trial == 1 ? "not proven" : "conforms";
        subject.readings.push_back(reading);
      }
  input.subjects = {subject};
  return *RunStudy(input);
}

Qualification SomeQualification() {
  Qualification q;
  q.part = "T-1\x1b[1m", q.section = "face", q.answer = "It does.",
  q.evidence = "INCOMPLETE: pot a pin";
  WordErrors word;
  word.word = "septum", word.verdict = "pass";
  word.n = 60, word.faces = 60, word.mean_um = 0.437, word.sd_um = 0.731, word.rms_um = 0.8;
  word.limit_um = 3;
  q.words = {word};
  q.voids.classes = {{6, 12, 20, 15, 0.6}, {12, 24, 20, 20, 0.86}};
  q.voids.reason = "found reliably from 12 um on";
  q.septa = q.voids;
  q.can_show = {"errors of lengths"};
  q.not_covered = {"persons"};
  q.not_tried = {"face-7: not tried: 6 voids: no room"};
  FactorFigure factor;
  factor.name = "tilt", factor.unit = "deg", factor.greatest = 2;
  factor.rms_um = {1.07, 1.23, 1.51};
  factor.faces = {20, 20, 20};
  factor.sentence = "no change of errors shown over this range";
  q.factors = {factor};
  return q;
}

TEST(Documents, OfAStudyTellTheSameInHtmlAndPdf) {
  const Study study = SomeStudy();
  const auto html = RenderStudyHtml(study, kHead);
  const auto pdf = RenderStudyPdf(study, kHead);
  ASSERT_TRUE(html && pdf);
  EXPECT_THAT(*html, Not(HasSubstr("<script>")));
  EXPECT_THAT(*html, Not(HasSubstr("<b>")));
  EXPECT_THAT(*html, HasSubstr("data-plot=\"spread\""));
  EXPECT_THAT(*html, HasSubstr("data-plot=\"readings\""));
  const std::string text = TextOf(*pdf, "study");
  const auto numbers = CellNumbers(*html);
  EXPECT_GE(numbers.size(), 60u);
  for (const std::string& number : numbers) EXPECT_THAT(text, HasSubstr(number));
  for (const std::string& line : study.cannot_show)
    EXPECT_THAT(*html, HasSubstr(line.substr(0, 20)));
}

TEST(Documents, OfAQualificationTellTheSameInHtmlAndPdf) {
  const Qualification q = SomeQualification();
  const InstalledProgram program{"0.1", "hash", "machine", "2026-04-01T00:00Z"};
  const auto html = RenderQualificationHtml(q, program);
  const auto pdf = RenderQualificationPdf(q, program);
  ASSERT_TRUE(html && pdf);
  EXPECT_THAT(*html, Not(HasSubstr("\x1b")));
  const std::string text = TextOf(*pdf, "qualification");
  const auto numbers = CellNumbers(*html);
  EXPECT_GE(numbers.size(), 12u);
  for (const std::string& number : numbers) EXPECT_THAT(text, HasSubstr(number));
  for (const std::string& shown : {*html, text}) {
    EXPECT_THAT(shown, HasSubstr("INCOMPLETE"));
    EXPECT_THAT(shown, HasSubstr("not tried: 6 voids"));
    EXPECT_THAT(shown, HasSubstr("4.1.6"));
  }
}

// The first-article report, a comparison, a study, a qualification: each as HTML and as PDF.
TEST(Documents, EveryReportHasAPageOfWhatItCanAndCannotShow) {
  std::vector<std::pair<std::string, std::string>> shown;
  const auto keep = [&](const std::string& name, const Result<std::string>& html,
                        const Result<std::vector<std::byte>>& pdf) {
    ASSERT_TRUE(html && pdf) << name;
    shown.emplace_back(name + ".html", *html);
    shown.emplace_back(name + ".pdf", TextOf(*pdf, name));
  };
  RunGatherer gatherer;
  for (std::size_t i = 0; i < 4; ++i) {
    const SectionResult r =
        sample::Face(sample::Serial(i), {sample::LimitRow("8", "septum", 0.12, 0.09, {}, "major")});
    ASSERT_TRUE(gatherer.Add(sample::EntryOf(r), r));
  }
  const RunComparison comparison = *CompareRun(gatherer.Finish());
  keep("comparison", RenderComparisonHtml(comparison, kHead),
       RenderComparisonPdf(comparison, kHead));
  keep("a-study", RenderStudyHtml(SomeStudy(), kHead), RenderStudyPdf(SomeStudy(), kHead));
  const InstalledProgram program{"0.1", "hash", "machine", "2026-04-01T00:00Z"};
  keep("a-qualification", RenderQualificationHtml(SomeQualification(), program),
       RenderQualificationPdf(SomeQualification(), program));
  const ReportInput input = sample::RunOf({sample::GoodFace("1"), sample::GoodFace("2")});
  const auto sheet = BuildSheet(input);
  ASSERT_TRUE(sheet);
  ReportFormats formats;
  formats.xlsx = formats.csv = false;
  const auto files = RenderReport(input, *sheet, formats, testing::TempDir());
  ASSERT_TRUE(files);
  for (const ReportFile& file : *files) {
    if (file.name.ends_with(".html"))
      shown.emplace_back(file.name, std::string(reinterpret_cast<const char*>(file.bytes.data()),
                                                file.bytes.size()));
    if (file.name.ends_with(".pdf")) shown.emplace_back(file.name, TextOf(file.bytes, "report"));
  }
  ASSERT_EQ(shown.size(), 8u);
  for (const auto& [name, text] : shown) {
    EXPECT_THAT(text,
                testing::AnyOf(HasSubstr("can and cannot show"), HasSubstr("What this can show")))
        << name;
    EXPECT_THAT(text, testing::ContainsRegex("[Tt]hey cannot|[Ii]t cannot|cannot show")) << name;
  }
}

}  // namespace
}  // namespace cutface
