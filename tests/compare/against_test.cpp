#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "compare/runs.h"
#include "reference/reference.h"
#include "support/matchers.h"
#include "support/validate.h"

namespace cutface {
namespace {

using sample::EntryOf;
using sample::Face;
using sample::LimitRow;
using sample::Serial;
using testing::Contains;
using testing::HasSubstr;

Run SeptumRun(const std::vector<double>& septa, const std::string& part = "LV-7504") {
  RunGatherer gatherer;
  for (std::size_t i = 0; i < septa.size(); ++i) {
    SectionResult r = Face(Serial(i), {LimitRow("8", "septum", septa[i], 0.09, {}, "critical")});
    r.part = part;
    EXPECT_THAT(gatherer.Add(EntryOf(r), r), IsOk());
  }
  return gatherer.Finish();
}

const std::vector<double> kOther = {0.120, 0.122, 0.118, 0.121, 0.119, 0.120};
const std::vector<double> kThinner = {0.110, 0.112, 0.108, 0.111, 0.109, 0.110};

TEST(Against, TheSignIsThisRunMinusTheOtherOne) {
  const auto difference = CompareAgainst(SeptumRun(kThinner), SeptumRun(kOther), {});
  ASSERT_THAT(difference, IsOk());
  ASSERT_EQ(difference->rows.size(), 1u);
  const RowDifference& row = difference->rows[0];
  ASSERT_TRUE(row.shift);
  EXPECT_NEAR(row.shift->value, -0.010, 1e-12);
  EXPECT_LT(row.shift->interval.hi, 0);
  EXPECT_FALSE(row.equivalence);  // no margin, no claim
  EXPECT_THAT(row.sentence, HasSubstr("Differs: -0.0100 mm"));
  ASSERT_TRUE(row.spread_ratio);
  EXPECT_NEAR(row.spread_ratio->value, 1, 1e-9);
  EXPECT_EQ(DifferenceGraphs(*difference).size(), 2u);
}

TEST(Against, MarginsAreLengthsOrSharesOfTheTolerance) {
  CompareOptions options;
  options.margin.all = MarginWish::Size{15, {}};  // um; the row is in mm
  auto difference = CompareAgainst(SeptumRun(kThinner), SeptumRun(kOther), options);
  ASSERT_TRUE(difference->rows[0].equivalence);
  EXPECT_NEAR(difference->rows[0].equivalence->margin, 0.015, 1e-12);
  EXPECT_EQ(difference->rows[0].equivalence->answer, Equivalence::Answer::kEquivalent);
  // A tenth of the way from the other run's mean, 0.12, to the limit, 0.09.
  options.margin.all = MarginWish::Size{0, 0.1};
  difference = CompareAgainst(SeptumRun(kThinner), SeptumRun(kOther), options);
  EXPECT_NEAR(difference->rows[0].equivalence->margin, 0.003, 1e-12);
  EXPECT_EQ(difference->rows[0].equivalence->answer, Equivalence::Answer::kDifferent);
  options.margin.of_row["8"] = MarginWish::Size{15, {}};
  difference = CompareAgainst(SeptumRun(kThinner), SeptumRun(kOther), options);
  EXPECT_NEAR(difference->rows[0].equivalence->margin, 0.015, 1e-12);
}

TEST(Against, AnotherPartIsRefusedAndAnotherRowIsNamed) {
  EXPECT_THAT(CompareAgainst(SeptumRun(kOther), SeptumRun(kOther, "XX-1"), {}),
              FailsWith(Code::kDesignMismatch));
  RunGatherer gatherer;
  const SectionResult r = Face("1", {LimitRow("1", "diameter", 2.5, 2.4, 2.6, "major")});
  ASSERT_THAT(gatherer.Add(EntryOf(r), r), IsOk());
  const auto difference = CompareAgainst(SeptumRun(kOther), gatherer.Finish(), {});
  ASSERT_THAT(difference, IsOk());
  EXPECT_TRUE(difference->rows.empty());
  EXPECT_THAT(difference->unmatched, Contains(HasSubstr("not in the other run")));
}

// NIST StRD, SiRstv: five instruments, five values each; certified F 1.18046237440255, R squared
// 0.190999039051129.
TEST(Factors, CertifiedAnalysisOfVariance) {
  const std::vector<std::vector<double>> instruments = {
      {196.3052, 196.124, 196.189, 196.2569, 196.3403},
      {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
      {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
      {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
      {196.2119, 196.1051, 196.185, 196.0052, 196.209}};
  RunGatherer gatherer;
  std::size_t part = 0;
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    for (const double value : instruments[i]) {
      const SectionResult r =
          Face(Serial(part++), {LimitRow("1", "diameter", value, 195, 197, "major")});
      FaceEntry entry = EntryOf(r);
      entry.factors["instrument"] = std::to_string(i + 1);
      ASSERT_THAT(gatherer.Add(entry, r), IsOk());
    }
  }
  CompareOptions options;
  options.factors = {"instrument"};
  const cutface::Run run = gatherer.Finish();
  const auto comparison = CompareRun(run, options);
  ASSERT_THAT(comparison, IsOk());
  ASSERT_EQ(comparison->effects.size(), 1u);
  const FactorEffect& effect = comparison->effects[0];
  ASSERT_TRUE(effect.f);
  EXPECT_NEAR(*effect.f, 1.18046237440255, 1e-9);
  EXPECT_NEAR(effect.share, 0.190999039051129, 1e-10);
  EXPECT_THAT(effect.sentence, HasSubstr("no effect that is shown"));
  EXPECT_EQ(Violations(CUTFACE_SOURCE_DIR "/src/data/comparison.schema.json",
                       ComparisonToJson(*comparison)),
            "");
  options.factors = {"oven"};
  EXPECT_THAT(CompareRun(run, options), FailsWith(Code::kUsage));
}

// Two planes a part that say the same: twice the faces must not make the effect twice as sure.
TEST(Factors, FacesOfAPartAreNoPartsOfTheirOwn) {
  const auto effect_of = [](int planes) {
    RunGatherer gatherer;
    for (std::size_t part = 0; part < 8; ++part) {
      for (int plane = 0; plane < planes; ++plane) {
        const double value = 0.12 + (part % 2 == 0 ? 0.004 : 0) +
                             0.001 * static_cast<double>(part * 3 % 5) + 1e-5 * plane;
        const SectionResult r =
            Face(Serial(part), {LimitRow("8", "septum", value, 0.09, {}, "critical")},
                 "plane-" + std::to_string(plane));
        FaceEntry entry = EntryOf(r);
        entry.factors["mandrel"] = part % 2 == 0 ? "yes" : "no";
        EXPECT_THAT(gatherer.Add(entry, r), IsOk());
      }
    }
    return FactorEffects(gatherer.Finish(), "mandrel").at(0);
  };
  const FactorEffect one = effect_of(1), two = effect_of(2);
  EXPECT_EQ(two.planes.size(), 2u);
  EXPECT_EQ(two.parts, 8);
  EXPECT_EQ(two.faces, 16);
  ASSERT_TRUE(one.p && two.p);
  EXPECT_NEAR(*one.p, *two.p, 1e-9);
  EXPECT_TRUE(two.nested);
  ASSERT_TRUE(two.variance_within);
  EXPECT_LT(*two.variance_within, 1e-9);
}

}  // namespace
}  // namespace cutface
