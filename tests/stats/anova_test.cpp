#include "cutface/anova.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <limits>

#include "cutface/stats.h"
#include "reference/reference.h"

namespace cutface {
namespace {

// Matching decimal digits of two numbers (log relative error).
double Digits(double found, double certified) {
  if (found == certified) return 15;
  return -std::log10(std::abs(found - certified) / std::abs(certified));
}

double LeastDigits(const OneWayAnova& found, const std::vector<double>& certified) {
  double least = 15;
  const double values[] = {found.between.ss, found.within.ss, found.between.f.value_or(0),
                           found.r_squared, found.residual_sd};
  for (std::size_t i = 0; i < 5; ++i) least = std::min(least, Digits(values[i], certified[i]));
  return least;
}

// Treatment t of NIST's SmLs sets; written as decimal text and read back, as from a file.
std::vector<std::vector<double>> SmLs(int set) {
  const char* head[] = {"1", "1000000", "1000000000000"};
  const std::size_t pairs[] = {10, 100, 1000};
  const int tenths[] = {4, 3, 5, 3, 5, 3, 5, 3, 5};
  std::vector<std::vector<double>> groups;
  for (int t : tenths) {
    const auto value = [&](int digit) {
      return std::stod(std::string(head[(set - 1) / 3]) + "." + std::to_string(digit));
    };
    std::vector<double> group = {value(t)};
    for (std::size_t i = 0; i < pairs[(set - 1) % 3]; ++i) {
      group.push_back(value(t - 1));
      group.push_back(value(t + 1));
    }
    groups.push_back(std::move(group));
  }
  return groups;
}

// NIST StRD. 9 digits and more wherever the data, once read into double precision, hold them: at 7
// constant digits a value near 1e6 is rounded by up to 6e-11, 6e-10 of the deviations of 0.1, which
// leaves 9; at 13 constant digits by 6e-5, 6e-4 of them, which leaves 3.
TEST(OneWayAnova, MatchesNistReferenceSets) {
  const auto rows = ReadReference("nist-anova/values.txt");
  for (const std::string name : {"SiRstv", "AtmWtAg"}) {
    std::vector<std::vector<double>> groups;
    for (const ReferenceRow& row : rows)
      if (row.word == name) groups.push_back(row.values);
    const auto found = OneWay(groups);
    ASSERT_TRUE(found);
    EXPECT_GE(LeastDigits(*found, ReferenceValues(rows, name + ".certified")),
              name == "SiRstv" ? 12 : 9)
        << name;
  }
  const double least[] = {12, 12, 12, 9, 9, 9, 2.5, 2.5, 2.5};
  for (int set = 1; set <= 9; ++set) {
    const std::string name = "SmLs0" + std::to_string(set);
    const auto found = OneWay(SmLs(set));
    ASSERT_TRUE(found);
    const double digits = LeastDigits(*found, ReferenceValues(rows, name + ".certified"));
    EXPECT_GE(digits, least[set - 1]) << name;
  }
}

// A 2 x 2 x 2 table that can be checked by hand: parts differ by 1, appraisers by 0.3, repeats by
// 0.2, nothing else: SS = 8 x 0.5^2, 8 x 0.15^2, 8 x 0.1^2. The published 10 x 3 x 3 study stands
// in the tests of the room study.
TEST(TwoWayAnova, OfAnAdditiveTableIsThatOfItsParts) {
  const CrossedData data{2, 2, 2, {1.0, 1.2, 1.3, 1.5, 2.0, 2.2, 2.3, 2.5}};
  const auto found = TwoWay(data);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->a.ss, 2, 1e-13);
  EXPECT_NEAR(found->b.ss, 0.18, 1e-13);
  EXPECT_NEAR(found->interaction.ss, 0, 1e-13);
  EXPECT_NEAR(found->error.ss, 0.08, 1e-13);
  EXPECT_EQ(found->total_df, 7U);
  EXPECT_NEAR(found->mean, 1.75, 1e-15);
  EXPECT_EQ(found->pooled.df, 5U);
  EXPECT_NEAR(*found->f_a_pooled, 2 / 0.016, 1e-9);
}

// Calcium in turnip greens: 4 plants, 3 leaves each, 2 determinations each (Snedecor & Cochran,
// "Statistical Methods", 7th ed., section 13.5, from memory; mean squares 2.5201, 0.3288, 0.0067
// and components 0.3652, 0.1611, 0.0067 as printed there).
std::vector<NestedValue> Turnips() {
  const double values[4][3][2] = {{{3.28, 3.09}, {3.52, 3.48}, {2.88, 2.80}},
                                  {{2.46, 2.44}, {1.87, 1.92}, {2.19, 2.19}},
                                  {{2.77, 2.66}, {3.74, 3.44}, {2.55, 2.55}},
                                  {{3.78, 3.87}, {4.07, 4.12}, {3.31, 3.31}}};
  std::vector<NestedValue> out;
  for (int p = 0; p < 4; ++p)
    for (int l = 0; l < 3; ++l)
      for (int d = 0; d < 2; ++d)
        out.push_back(
            {{"plant " + std::to_string(p), "leaf " + std::to_string(l)}, values[p][l][d]});
  return out;
}

TEST(NestedAnova, MatchesThePublishedTurnipLeaves) {
  const auto found = Nested(Turnips());
  ASSERT_TRUE(found);
  ASSERT_EQ(found->levels.size(), 3U);
  EXPECT_TRUE(found->balanced);
  EXPECT_NEAR(found->levels[0].line.ms, 2.5201, 5.1e-5);
  EXPECT_NEAR(found->levels[1].line.ms, 0.3288, 5.1e-5);
  EXPECT_NEAR(found->levels[2].line.ms, 0.0067, 5.1e-5);
  EXPECT_EQ(found->levels[1].line.df, 8U);
  EXPECT_NEAR(*found->levels[0].variance, 0.3652, 5.1e-5);
  EXPECT_NEAR(*found->levels[1].variance, 0.1611, 5.1e-5);
  EXPECT_NEAR(*found->levels[2].variance, 0.0067, 5.1e-5);
}

// Unequal groups, one level: variance between = (MSB - MSW) / n0, n0 = (N - sum n^2 / N) / (a - 1)
// (Searle, Casella & McCulloch, section 3.6, from memory).
TEST(NestedAnova, OfUnequalGroupsUsesTheirSizes) {
  std::vector<NestedValue> values;
  for (double v : {1.0, 2.0, 4.0}) values.push_back({{"a"}, v});
  for (double v : {5.0, 6.0}) values.push_back({{"b"}, v});
  for (double v : {9.0, 9.5, 11.0, 8.0}) values.push_back({{"c"}, v});
  const auto nested = Nested(values);
  ASSERT_TRUE(nested);
  EXPECT_FALSE(nested->balanced);
  const std::vector<std::vector<double>> groups = {{1, 2, 4}, {5, 6}, {9, 9.5, 11, 8}};
  const auto flat = OneWay(groups);
  EXPECT_NEAR(nested->levels[0].line.ss, flat->between.ss, 1e-12);
  EXPECT_NEAR(nested->levels[1].line.ss, flat->within.ss, 1e-12);
  const double n0 = (9 - (9.0 + 4 + 16) / 9) / 2;
  EXPECT_NEAR(*nested->levels[0].variance, (flat->between.ms - flat->within.ms) / n0, 1e-12);
}

TEST(Anova, RefusesWhatTellsNothing) {
  const std::vector<std::vector<double>> one = {{1, 2}}, singles = {{1}, {2}};
  EXPECT_FALSE(OneWay(one));
  EXPECT_FALSE(OneWay(singles));
  EXPECT_FALSE(TwoWay({2, 2, 2, {1, 2, 3}}));
  EXPECT_FALSE(TwoWay({1, 2, 1, {1, 2}}));
  EXPECT_FALSE(Nested({}));
  const std::vector<NestedValue> lonely = {{{"a"}, 1}, {{"a"}, 2}};
  EXPECT_EQ(Nested(lonely).error().code, Code::kUsage);
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(TwoWay({2, 2, 1, {1, 2, 3, nan}}).error().code, Code::kUsage);
}

// Nothing varies within: there is no F, not an infinite one.
TEST(Anova, WithoutSpreadHasNoF) {
  const std::vector<std::vector<double>> groups = {{1, 1}, {2, 2}};
  const auto found = OneWay(groups);
  ASSERT_TRUE(found);
  EXPECT_FALSE(found->between.f);
  EXPECT_FALSE(found->between.p);
}

// One way against scipy.stats.f_oneway; two ways and nested against least squares of nested linear
// models with numpy (sequential sums of squares), which shares no formula with this room.
TEST(Anova, AgreesWithLeastSquaresInScipy) {
  const std::string file = std::string(CUTFACE_BINARY_DIR) + "/anova_library_check.txt";
  {
    std::ofstream out(file);
    out.precision(std::numeric_limits<double>::max_digits10);
    Random random(7);
    for (int i = 0; i < 30; ++i) {
      CrossedData data;
      data.levels_a = static_cast<std::size_t>(random.Integer(2, 6));
      data.levels_b = static_cast<std::size_t>(random.Integer(2, 4));
      data.repeats = static_cast<std::size_t>(random.Integer(2, 4));
      for (std::size_t n = data.levels_a * data.levels_b * data.repeats; n > 0; --n)
        data.values.push_back(100 + random.Normal());
      const auto found = TwoWay(data);
      ASSERT_TRUE(found);
      out << "two " << data.levels_a << ' ' << data.levels_b << ' ' << data.repeats;
      for (const AnovaLine* line : {&found->a, &found->b, &found->interaction}) {
        out << ' ' << line->ss << ' ' << *line->p;
      }
      out << ' ' << found->error.ss;
      for (double value : data.values) out << ' ' << value;
      std::vector<std::vector<double>> groups(3);
      for (auto& group : groups)
        for (int n = random.Integer(2, 9); n > 0; --n) group.push_back(random.Normal());
      const auto one = OneWay(groups);
      ASSERT_TRUE(one);
      out << "\none " << *one->between.f << ' ' << *one->between.p;
      for (const auto& group : groups) {
        out << ' ' << group.size();
        for (double value : group) out << ' ' << value;
      }
      out << '\n';
    }
    for (int i = 0; i < 20; ++i) {
      std::vector<NestedValue> values;
      for (int a = random.Integer(2, 4); a > 0; --a)
        for (int b = random.Integer(1, 4); b > 0; --b)
          for (int n = random.Integer(1, 4); n > 0; --n)
            values.push_back({{std::to_string(a), std::to_string(b)}, random.Normal()});
      const auto found = Nested(values);
      ASSERT_TRUE(found);
      out << "nested";
      for (const NestedLevel& level : found->levels)
        out << ' ' << level.line.ss << ' ' << level.line.df;
      for (const NestedValue& v : values)
        out << ' ' << v.groups[0] << ' ' << v.groups[1] << ' ' << v.value;
      out << '\n';
    }
    ASSERT_TRUE(out.flush());
  }
  const std::string command =
      std::string("/usr/bin/python3 ") + CUTFACE_SOURCE_DIR + "/tests/stats/anova_check.py " + file;
  EXPECT_EQ(std::system(command.c_str()), 0) << "what differs stands above";
}

}  // namespace
}  // namespace cutface
