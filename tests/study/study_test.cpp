#include "cutface/study.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>

#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;

using Rows = std::vector<std::vector<std::string>>;

Study StudyOf(const Rows& rows, StudyLevel level) {
  auto input = StudyOfTable(rows, level, "table");
  EXPECT_TRUE(input) << (input ? "" : input.error().message);
  if (!input) return {};
  input->name = "study-1";
  auto study = RunStudy(*input);
  EXPECT_TRUE(study);
  return *study;
}

StudyFace Face(const std::string& person, const std::string& picture, const std::string& result,
               double septum) {
  StudyFace face;
  face.result.part = "LV-7504";
  face.result.section_name = "shaft-mid";
  face.result.sample.serial = "S-1";
  face.result.sample.block = "B-1";
  face.result.image_file = picture + ".png";
  face.result.image_sha256 = picture;
  CharacteristicResult row;
  row.no = "7";
  row.of = {"scope", "wash"};
  row.quantity = "septum";
  row.unit = "mm";
  row.min = 0.1;
  row.actual = septum;
  row.verdict = Verdict::kConforms;
  face.result.characteristics.push_back(row);
  face.entry.image = picture + ".png";
  face.entry.operator_name = person;
  face.entry.result_sha256 = result;
  face.entry.result_file = result + ".result.json";
  face.entry.state = FaceState::kMeasured;
  return face;
}

TEST(Study, OfOneImageWithoutEditsIsZeroAndSaysWhy) {
  const std::vector<StudyFace> faces = {Face("A", "p", "r1", 0.1234), Face("B", "p", "r2", 0.1234)};
  const auto input = StudyOfResults(faces, StudyLevel::kSameImage);
  ASSERT_TRUE(input) << input.error().message;
  const auto study = RunStudy(*input);
  ASSERT_TRUE(study);
  const SubjectStudy& s = study->subjects.front();
  EXPECT_TRUE(s.identical);
  EXPECT_THAT(s.answer, HasSubstr("0: the same picture gave the same digits"));
  EXPECT_THAT(s.answer, HasSubstr("deterministic"));
}

TEST(Study, RefusesCopiesInPlaceOfRepeats) {
  const std::vector<StudyFace> twice = {Face("A", "p", "r1", 0.12), Face("B", "q", "r1", 0.12)};
  EXPECT_THAT(StudyOfResults(twice, StudyLevel::kSameBlock), FailsWith(Code::kUsage));
  const std::vector<StudyFace> picture = {Face("A", "p", "r1", 0.12), Face("B", "p", "r2", 0.12)};
  EXPECT_THAT(StudyOfResults(picture, StudyLevel::kSameBlock), FailsWith(Code::kUsage));
  std::vector<StudyFace> nameless = {Face("A", "p", "r1", 0.12), Face("B", "q", "r2", 0.12)};
  for (StudyFace& face : nameless) face.result.sample = {};
  EXPECT_THAT(StudyOfResults(nameless, StudyLevel::kSameBlock), FailsWith(Code::kUsage));
  std::vector<StudyFace> others = {Face("A", "p", "r1", 0.12), Face("B", "q", "r2", 0.12)};
  others[1].result.design_sha256 = "another";
  EXPECT_THAT(StudyOfResults(others, StudyLevel::kSameBlock), FailsWith(Code::kDesignMismatch));
}

TEST(Study, OfIdenticalRepeatsOfABlockIsNotBelieved) {
  const Study study = StudyOf({{"piece", "operator", "value"},
                               {"1", "A", "5"},
                               {"1", "A", "5"},
                               {"2", "A", "6"},
                               {"2", "A", "6"}},
                              StudyLevel::kSameBlock);
  EXPECT_EQ(study.subjects[0].grade, "not told");
  EXPECT_THAT(study.subjects[0].answer, HasSubstr("copies"));
}

// One limit: 3 standard deviations against |mean - limit|, in the words of the answer.
TEST(Study, WithOneLimitUsesTheDistanceToIt) {
  const Study study = StudyOf({{"piece", "operator", "value", "min"},
                               {"1", "A", "100", "90"},
                               {"1", "A", "102", "90"},
                               {"2", "A", "110", "90"},
                               {"2", "A", "112", "90"}},
                              StudyLevel::kSameBlock);
  const SubjectStudy& s = study.subjects[0];
  ASSERT_TRUE(s.tolerance);
  EXPECT_NEAR(*s.tolerance, 16, 1e-12);  // mean 106
  const SpreadPart& gauge = *s.by_anova.Find("gauge");
  EXPECT_NEAR(gauge.sd, std::sqrt(2), 1e-12);
  EXPECT_NEAR(*gauge.percent_tolerance, 100 * 3 * std::sqrt(2) / 16, 1e-9);
  EXPECT_THAT(s.answer, HasSubstr("3 standard deviations"));
  EXPECT_THAT(s.answer, HasSubstr("distance of the mean from the only limit"));
}

TEST(Study, LeavesAPieceOutThatLacksAReadingAndSaysSo) {
  const Study study = StudyOf({{"piece", "operator", "trial", "value"},
                               {"1", "A", "1", "5"},
                               {"1", "A", "2", "5.1"},
                               {"2", "A", "1", "6"},
                               {"2", "A", "2", "6.1"},
                               {"3", "A", "1", "7"},
                               {"3", "A", "2", ""}},
                              StudyLevel::kSameBlock);
  EXPECT_EQ(study.subjects[0].pieces, 2U);
  EXPECT_THAT(study.subjects[0].left_out,
              testing::ElementsAre("3: 1 of 2 readings by A (no value)"));
}

// Plants as pieces, leaves as cuts (Snedecor & Cochran, Statistical Methods, 7th ed., section 13.5,
// from memory): variance of leaves 0.1611, of determinations 0.0067.
TEST(Study, OfRecutsGivesPreparationU) {
  const char* values[4][3][2] = {{{"3.28", "3.09"}, {"3.52", "3.48"}, {"2.88", "2.80"}},
                                 {{"2.46", "2.44"}, {"1.87", "1.92"}, {"2.19", "2.19"}},
                                 {{"2.77", "2.66"}, {"3.74", "3.44"}, {"2.55", "2.55"}},
                                 {{"3.78", "3.87"}, {"4.07", "4.12"}, {"3.31", "3.31"}}};
  Rows rows = {{"piece", "cut", "characteristic", "unit", "value"}};
  for (int p = 0; p < 4; ++p)
    for (int c = 0; c < 3; ++c)
      for (const char* value : values[p][c])
        rows.push_back({std::to_string(p), std::to_string(c), "septum, a and b", "mm", value});
  const Study study = StudyOf(rows, StudyLevel::kRecut);
  const SubjectStudy& s = study.subjects[0];
  EXPECT_NEAR(s.by_anova.Find("cuts")->variance, 0.1611, 5.1e-5);
  EXPECT_NEAR(s.by_anova.Find("repeats")->variance, 0.0067, 5.1e-5);
  EXPECT_NEAR(*s.preparation_u, std::sqrt(0.1611), 1e-4);
  EXPECT_THAT(s.preparation_note, HasSubstr("upper bound, includes the part"));
  const auto json = nlohmann::json::parse(*PreparationJson(study));
  EXPECT_NEAR(json["preparation_u"]["septum"]["um"].get<double>(), 1000 * std::sqrt(0.1611), 0.1);
  EXPECT_EQ(json["preparation_u"]["septum"]["study"], "study-1");
}

// AIAG, Measurement Systems Analysis, the linearity example (data from memory; printed: bias =
// 0.7367
// - 0.1317 reference, R squared 71.4 %, average bias -0.0533, t of the slope -12.043).
TEST(Study, LinearityMatchesThePublishedExample) {
  const std::vector<std::vector<double>> values = {
      {2.7, 2.5, 2.4, 2.5, 2.7, 2.3, 2.5, 2.5, 2.4, 2.4, 2.6, 2.4},
      {5.1, 3.9, 4.2, 5.0, 3.8, 3.9, 3.9, 3.9, 3.9, 4.0, 4.1, 3.8},
      {5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1},
      {7.6, 7.7, 7.8, 7.7, 7.8, 7.8, 7.8, 7.7, 7.8, 7.5, 7.6, 7.7},
      {9.1, 9.3, 9.5, 9.3, 9.4, 9.5, 9.5, 9.5, 9.6, 9.2, 9.3, 9.4}};
  Rows rows = {{"piece", "value", "reference"}};
  for (std::size_t p = 0; p < values.size(); ++p)
    for (double v : values[p])
      rows.push_back({std::to_string(p), std::to_string(v), std::to_string(2 * (p + 1))});
  const Study study = StudyOf(rows, StudyLevel::kSameBlock);
  ASSERT_TRUE(study.subjects[0].bias);
  const BiasFigure& bias = *study.subjects[0].bias;
  EXPECT_NEAR(bias.mean, -0.0533, 5.1e-5);
  ASSERT_TRUE(bias.linearity);
  EXPECT_NEAR(bias.linearity->intercept, 0.7367, 5.1e-5);
  EXPECT_NEAR(bias.linearity->slope, -0.1317, 5.1e-5);
  EXPECT_NEAR(bias.linearity->r_squared, 0.714, 5.1e-4);
}

// Two people over six pieces; "not proven" is a category of its own. Agreement 5/6; shares A: 3/6
// conforms, 2/6 not proven, 1/6 does not; B: 3/6, 1/6, 2/6: by chance 9/36 + 2/36 + 2/36.
TEST(Study, VerdictsCountNotProvenAsACategory) {
  const char* a[] = {"conforms",   "conforms",   "conforms",
                     "not proven", "not proven", "does not conform"};
  const char* b[] = {"conforms",   "conforms",         "conforms",
                     "not proven", "does not conform", "does not conform"};
  Rows rows = {{"piece", "operator", "verdict"}};
  for (int i = 0; i < 6; ++i) {
    rows.push_back({std::to_string(i), "A", a[i]});
    rows.push_back({std::to_string(i), "B", b[i]});
  }
  const Study study = StudyOf(rows, StudyLevel::kSameBlock);
  ASSERT_EQ(study.subjects[0].kappas.size(), 1U);
  const KappaFigure& k = study.subjects[0].kappas[0];
  EXPECT_NEAR(k.agreement, 5.0 / 6, 1e-12);
  EXPECT_NEAR(k.by_chance, 13.0 / 36, 1e-12);
  EXPECT_NEAR(*k.kappa, (5.0 / 6 - 13.0 / 36) / (1 - 13.0 / 36), 1e-12);
}

TEST(Study, StabilityIsTheSlopeWithinPieces) {
  Rows rows = {{"piece", "taken", "value"}};
  for (int p = 0; p < 3; ++p)
    for (int d = 1; d <= 9; d += 4)
      rows.push_back({std::to_string(p), "2026-03-0" + std::to_string(d),
                      std::to_string(100 * p + 0.5 * d + 0.01 * ((p + d / 4) % 2))});
  const Study study = StudyOf(rows, StudyLevel::kSameBlock);
  ASSERT_TRUE(study.subjects[0].stability);
  EXPECT_NEAR(study.subjects[0].stability->slope, 0.5, 0.005);
}

TEST(StudyTable, NamesTheRowAndTheNearestColumn) {
  const auto fails = [](const Rows& rows, Code code, StudyLevel level = StudyLevel::kSameBlock) {
    EXPECT_THAT(StudyOfTable(rows, level, "t"), FailsWith(code));
  };
  fails({{"piece", "valeu"}, {"1", "2"}}, Code::kJsonUnknownKey);
  fails({{"value"}, {"2"}}, Code::kJsonMissingKey);
  fails({{"piece", "value"}, {"1", "2"}}, Code::kJsonMissingKey, StudyLevel::kRecut);
  fails({{"piece", "value"}, {"1", "2 um"}}, Code::kJsonValue);
  fails({{"piece", "value"}, {"1", "nan"}}, Code::kJsonValue);
  fails({{"piece", "part", "value"}, {"1", "1", "2"}}, Code::kJsonValue);
  fails({{"piece", "trial", "value"}, {"1", "1", "2"}, {"1", "1", "3"}}, Code::kJsonValue);
  fails({{"piece", "value", "min", "max"}, {"1", "2", "3", "2"}}, Code::kJsonValue);
  fails({{"piece", "value"}}, Code::kUsage);
}

TEST(StudyFiles, HoldTheSchemaAndSteerNoTerminal) {
  Rows rows = {{"piece", "operator", "value", "characteristic"}};
  for (const char* piece : {"<script>", "2"})
    for (const char* person : {"A&B", "\"x\""})
      for (const char* value : {"1", "1.5"}) rows.push_back({piece, person, value, "<b>\x1b[1m"});
  const Study study = StudyOf(rows, StudyLevel::kSameBlock);
  EXPECT_THAT(StudyText(study), testing::Not(HasSubstr("\x1b")));
  const std::string file = std::string(CUTFACE_BINARY_DIR) + "/study_schema_check.json";
  std::ofstream(file) << StudyToJson(study);
  const std::string source = CUTFACE_SOURCE_DIR;
  EXPECT_EQ(
      std::system(("/usr/bin/python3 " + source + "/tests/support/validate_json.py --strict " +
                   source + "/src/data/study.schema.json " + file)
                      .c_str()),
      0);
}

}  // namespace
}  // namespace cutface
