// Published studies, all printed digits.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "cutface/study.h"

namespace cutface {
namespace {

std::vector<std::vector<std::string>> ReadRows(const std::string& file) {
  std::ifstream in(std::string(CUTFACE_SOURCE_DIR) + "/tests/reference/" + file);
  std::vector<std::vector<std::string>> rows;
  for (std::string line; std::getline(in, line);) {
    std::istringstream cells(line);
    rows.emplace_back();
    for (std::string cell; std::getline(cells, cell, ',');) rows.back().push_back(cell);
  }
  return rows;
}

SubjectStudy TenParts() {
  const auto input =
      StudyOfTable(ReadRows("gauge-study/ten-parts.csv"), StudyLevel::kSameBlock, "ten-parts.csv");
  EXPECT_TRUE(input) << (input ? "" : input.error().message);
  const auto study = RunStudy(*input);
  EXPECT_TRUE(study);
  EXPECT_EQ(study->subjects.size(), 1U);
  return study->subjects.front();
}

double Sd(const SpreadTable& table, std::string_view source) {
  const SpreadPart* part = table.Find(source);
  EXPECT_NE(part, nullptr) << source;
  return part == nullptr ? -1 : part->sd;
}

// AIAG, Measurement Systems Analysis, 4th ed. 2010, chapter III, analysis of variance; the
// interaction's p and the digits beyond the printed ones by R's and statsmodels' formulas
// (recomputed).
TEST(PublishedGaugeStudy, AnalysisOfVarianceMatchesAllPrintedDigits) {
  const SubjectStudy s = TenParts();
  ASSERT_EQ(s.anova.size(), 5U);
  const double ss[] = {88.3619, 3.1673, 0.3590, 2.7589, 94.6471};
  const std::size_t df[] = {9, 2, 18, 60, 89};
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_NEAR(s.anova[i].ss, ss[i], 5.1e-5) << s.anova[i].source;
    EXPECT_EQ(s.anova[i].df, df[i]);
  }
  EXPECT_NEAR(*s.anova[0].f, 492.2914, 5.1e-5);
  EXPECT_NEAR(*s.anova[1].f, 79.4060, 5.1e-5);
  EXPECT_NEAR(*s.anova[2].f, 0.4337, 5.1e-5);
  EXPECT_NEAR(*s.anova[2].p, 0.97411, 5.1e-6);
  EXPECT_TRUE(s.pooled);
  EXPECT_NEAR(Sd(s.by_anova, "repeats"), 0.199933, 5.1e-7);
  EXPECT_NEAR(Sd(s.by_anova, "persons"), 0.226838, 5.1e-7);
  // Printed from sums of squares of five digits; exact arithmetic gives 0.3023715.
  EXPECT_NEAR(Sd(s.by_anova, "gauge"), 0.302373, 1.6e-6);
  EXPECT_NEAR(Sd(s.by_anova, "pieces"), 1.042327, 5.1e-7);
  EXPECT_NEAR(Sd(s.by_anova, "all"), 1.0853, 5.1e-5);
  const SpreadPart& gauge = *s.by_anova.Find("gauge");
  EXPECT_NEAR(gauge.percent_variance, 7.76, 0.0051);
  EXPECT_NEAR(gauge.percent_sd, 27.86, 0.0051);
  EXPECT_NEAR(*gauge.percent_tolerance, 22.68, 0.0051);
  EXPECT_NEAR(s.by_anova.Find("repeats")->percent_sd, 18.42, 0.0051);
  EXPECT_NEAR(s.by_anova.Find("persons")->percent_sd, 20.90, 0.0051);
  EXPECT_NEAR(s.by_anova.Find("pieces")->percent_sd, 96.04, 0.0051);
  EXPECT_NEAR(*s.by_anova.distinct, 4.8605, 5.1e-5);
  EXPECT_EQ(s.by_anova.categories, 4);
}

// The same with the interaction kept and its negative component set to 0 (recomputed).
TEST(PublishedGaugeStudy, InteractionKeptStandsBeside) {
  const SubjectStudy s = TenParts();
  ASSERT_TRUE(s.other_anova);
  EXPECT_NEAR(Sd(*s.other_anova, "repeats"), 0.214435, 5.1e-7);
  EXPECT_NEAR(Sd(*s.other_anova, "persons"), 0.228304, 5.1e-7);
  EXPECT_NEAR(Sd(*s.other_anova, "gauge"), 0.313217, 5.1e-7);
  EXPECT_NEAR(Sd(*s.other_anova, "pieces"), 1.043395, 5.1e-7);
  EXPECT_NEAR(s.other_anova->Find("gauge")->percent_sd, 28.75, 0.0051);
  EXPECT_NEAR(*s.other_anova->Find("gauge")->percent_tolerance, 23.49, 0.0051);
  EXPECT_NEAR(*s.other_anova->distinct, 4.697, 5.1e-4);
}

// Averages and ranges. The printed figures were made with factors of four digits: 2e-4 on standard
// deviations, 0.02 on percentages.
TEST(PublishedGaugeStudy, AveragesAndRangesMatchThePrintedFigures) {
  const SubjectStudy s = TenParts();
  ASSERT_TRUE(s.ranges);
  const double ranges[] = {0.184, 0.513, 0.328}, means[] = {0.1903, 0.0683, -0.2543};
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_NEAR(s.ranges->mean_range[i], ranges[i], 1e-12);
    EXPECT_NEAR(s.ranges->mean[i], means[i], 5.1e-5);
  }
  EXPECT_NEAR(s.ranges->all_ranges, 0.3417, 5.1e-5);
  EXPECT_NEAR(s.ranges->person_difference, 0.4447, 5.1e-5);
  EXPECT_NEAR(s.ranges->piece_range, 3.511, 5.1e-4);
  EXPECT_NEAR(s.ranges->range_limit, 0.8795, 2e-4);
  ASSERT_EQ(s.ranges->beyond.size(), 1U);
  EXPECT_EQ(s.ranges->beyond[0], "4, B: 1.02");
  EXPECT_NEAR(Sd(s.by_ranges, "repeats"), 0.20188, 2e-4);
  EXPECT_NEAR(Sd(s.by_ranges, "persons"), 0.22963, 2e-4);
  EXPECT_NEAR(Sd(s.by_ranges, "gauge"), 0.30575, 2e-4);
  EXPECT_NEAR(Sd(s.by_ranges, "pieces"), 1.10456, 2e-4);
  EXPECT_NEAR(Sd(s.by_ranges, "all"), 1.14610, 2e-4);
  EXPECT_NEAR(s.by_ranges.Find("repeats")->percent_sd, 17.62, 0.02);
  EXPECT_NEAR(s.by_ranges.Find("persons")->percent_sd, 20.04, 0.02);
  EXPECT_NEAR(s.by_ranges.Find("gauge")->percent_sd, 26.68, 0.02);
  EXPECT_NEAR(s.by_ranges.Find("pieces")->percent_sd, 96.38, 0.02);
  EXPECT_EQ(s.by_ranges.categories, 5);
}

// 2 parts x 2 appraisers x 2 trials by hand: EV 0.2 / 1.12838, AV from 0.3, PV 1 / 1.41421; the
// published %GRR of 34.692 was made with 4.56, 3.65, 3.65 for 5.15 standard deviations.
TEST(PublishedGaugeStudy, SmallStudyByHand) {
  const std::vector<std::vector<std::string>> rows = {{"piece", "operator", "trial", "value"},
                                                      {"1", "X", "1", "1.0"},
                                                      {"1", "X", "2", "1.2"},
                                                      {"2", "X", "1", "2.0"},
                                                      {"2", "X", "2", "2.2"},
                                                      {"1", "Y", "1", "1.3"},
                                                      {"1", "Y", "2", "1.5"},
                                                      {"2", "Y", "1", "2.3"},
                                                      {"2", "Y", "2", "2.5"}};
  const auto input = StudyOfTable(rows, StudyLevel::kSameBlock, "t");
  ASSERT_TRUE(input);
  const auto study = RunStudy(*input);
  ASSERT_TRUE(study);
  const SubjectStudy& s = study->subjects.front();
  EXPECT_NEAR(Sd(s.by_ranges, "repeats"), 0.2 / 1.1283792, 1e-6);
  EXPECT_NEAR(Sd(s.by_ranges, "pieces"), 1 / 1.4142136, 1e-6);
  EXPECT_NEAR(s.by_ranges.Find("gauge")->percent_sd, 34.692, 0.06);
  EXPECT_EQ(s.by_ranges.categories, 3);
}

// Tables of d2, d3 and d2* (e.g. AIAG, appendix C; ASTM manual on control charts).
TEST(RangeFactors, MatchThePublishedTable) {
  const std::size_t sizes[] = {2, 3, 4, 5, 10};
  const double d2[] = {1.128379, 1.692569, 2.058751, 2.325929, 3.077505};
  const double d3[] = {0.852502, 0.888368, 0.879808, 0.864082, 0.797051};
  const double star[] = {1.41421, 1.91154, 2.23887, 2.48125, 3.17905};
  for (std::size_t i = 0; i < 5; ++i) {
    const RangeFactors found = RangeFactorsOf(sizes[i]);
    EXPECT_NEAR(found.d2, d2[i], 6e-7) << sizes[i];
    EXPECT_NEAR(found.d3, d3[i], 6e-7) << sizes[i];
    EXPECT_NEAR(found.d2_star(), star[i], 1.1e-5) << sizes[i];
  }
}

// Fleiss' kappa of fourteen raters, ten subjects, five categories: a worked example in wide use,
// 0.210 (from memory). Cohen's of 20, 5, 10, 15: agreement 0.7, by chance 0.5, kappa 0.4.
TEST(Kappa, MatchesWorkedExamples) {
  const std::vector<std::vector<int>> counts = {
      {0, 0, 0, 0, 14}, {0, 2, 6, 4, 2}, {0, 0, 3, 5, 6}, {0, 3, 9, 2, 0}, {2, 2, 8, 1, 1},
      {7, 7, 0, 0, 0},  {3, 2, 6, 3, 0}, {2, 5, 3, 2, 2}, {6, 5, 2, 1, 0}, {0, 2, 2, 3, 7}};
  const KappaFigure fleiss = FleissKappa(counts);
  EXPECT_NEAR(fleiss.agreement, 0.378, 5.1e-4);
  EXPECT_NEAR(fleiss.by_chance, 0.213, 5.1e-4);
  EXPECT_NEAR(*fleiss.kappa, 0.210, 5.1e-4);
  std::vector<std::string> a, b;
  const auto add = [&](int n, const char* first, const char* second) {
    for (; n > 0; --n) a.push_back(first), b.push_back(second);
  };
  add(20, "conforms", "conforms");
  add(5, "conforms", "not proven");
  add(10, "not proven", "conforms");
  add(15, "not proven", "not proven");
  const KappaFigure cohen = CohenKappa(a, b);
  EXPECT_NEAR(cohen.agreement, 0.7, 1e-12);
  EXPECT_NEAR(cohen.by_chance, 0.5, 1e-12);
  EXPECT_NEAR(*cohen.kappa, 0.4, 1e-12);
  const std::vector<std::string> same = {"conforms", "conforms"};
  EXPECT_FALSE(CohenKappa(same, same).kappa);
}

}  // namespace
}  // namespace cutface
