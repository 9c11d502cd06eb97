#include "cutface/compare.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

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

constexpr char kSchema[] = CUTFACE_SOURCE_DIR "/src/data/comparison.schema.json";

// Ten septa about 0.12 mm; mean 0.12, standard deviation as Summarise gives it.
const std::vector<double> kSepta = {0.118, 0.121, 0.119, 0.122, 0.120,
                                    0.123, 0.117, 0.120, 0.121, 0.119};

SectionResult SeptumFace(const std::string& serial, double septum, int picture = 1) {
  return Face(serial, {LimitRow("8", "septum", septum, 0.09, {}, "critical")}, "extrusion",
              picture);
}

Run RunWith(const std::vector<SectionResult>& results) {
  RunGatherer gatherer;
  for (const SectionResult& r : results) EXPECT_THAT(gatherer.Add(EntryOf(r), r), IsOk());
  return gatherer.Finish();
}

std::vector<SectionResult> SeptumFaces(const std::vector<double>& septa = kSepta) {
  std::vector<SectionResult> faces;
  for (std::size_t i = 0; i < septa.size(); ++i) faces.push_back(SeptumFace(Serial(i), septa[i]));
  return faces;
}

RowStudy FirstRow(const std::vector<SectionResult>& faces, const CompareOptions& options = {}) {
  const auto comparison = CompareRun(RunWith(faces), options);
  EXPECT_THAT(comparison, IsOk());
  return comparison->rows.front();
}

// One-sided factors of 10 values (ISO 16269-6): 3.9811 for 95/99, 2.9110 for 95/95.
TEST(Compare, OneLimitLeadsWithTheToleranceBoundAndHasNoCp) {
  const RowStudy row = FirstRow(SeptumFaces());
  ASSERT_TRUE(row.bound && row.bound->lower);
  EXPECT_FALSE(row.bound->upper);
  const double mean = Mean(kSepta), sd = StandardDeviation(kSepta);
  EXPECT_NEAR(*row.bound->lower, mean - 3.9811 * sd, 5.1e-5 * sd);
  EXPECT_EQ(row.answer, RowAnswer::kShown);
  EXPECT_THAT(row.sentence, HasSubstr("With 95 % confidence 99 % of such parts have 0.112"));
  ASSERT_TRUE(row.capability);
  EXPECT_FALSE(row.capability->cp || row.capability->cpk || row.capability->pp ||
               row.capability->ppk);
  ASSERT_TRUE(row.capability->percentile);
  EXPECT_TRUE(row.capability->percentile->extrapolated);
  CompareOptions options;
  options.bounds["critical"] = {0.95, 0.95};
  EXPECT_NEAR(*FirstRow(SeptumFaces(), options).bound->lower, mean - 2.9110 * sd, 5.1e-5 * sd);
}

TEST(Compare, FacesOfOnePartAreNestedAndEnterWithTheOneTowardsTheLimit) {
  auto faces = SeptumFaces();
  faces.push_back(SeptumFace("0001", 0.110, 2));  // a second picture of the first part
  const RowStudy row = FirstRow(faces);
  EXPECT_EQ(row.n, 10);
  EXPECT_EQ(row.values, 11);
  ASSERT_EQ(row.parts.size(), 10u);
  EXPECT_EQ(row.parts[0].value, 0.110);
  EXPECT_EQ(row.parts[0].faces, 2);
}

TEST(Compare, AMissingOrUnprovenPartIsToldAndKeepsTheRowFromBeingShown) {
  auto faces = SeptumFaces();
  SectionResult merged = SeptumFace("0011", 0.12);
  merged.characteristics[0].actual.reset();
  merged.characteristics[0].lo.reset(), merged.characteristics[0].hi.reset();
  merged.characteristics[0].verdict = Verdict::kNotMeasured;
  merged.characteristics[0].reason = "the lumens are one";
  auto with = faces;
  with.push_back(merged);
  const RowStudy missing = FirstRow(with);
  EXPECT_EQ(missing.n, 10);
  EXPECT_EQ(missing.answer, RowAnswer::kNotShown);
  ASSERT_EQ(missing.missing.size(), 1u);
  EXPECT_THAT(missing.doubts, Contains(HasSubstr("0011: the lumens are one")));
  faces[3].characteristics[0].verdict = Verdict::kNotProven;
  const RowStudy unproven = FirstRow(faces);
  EXPECT_EQ(unproven.unproven, 1);
  EXPECT_EQ(unproven.answer, RowAnswer::kNotShown);
}

TEST(Compare, APartWhosePictureWasRejectedIsMissing) {
  RunGatherer gatherer;
  for (const SectionResult& r : SeptumFaces()) ASSERT_THAT(gatherer.Add(EntryOf(r), r), IsOk());
  FaceEntry rejected = EntryOf(SeptumFace("0099", 0.1));
  rejected.state = FaceState::kRejected;
  rejected.code = "out-of-focus";
  rejected.reason = "too soft";
  gatherer.AddUnmeasured(rejected);
  const auto comparison = CompareRun(gatherer.Finish());
  ASSERT_THAT(comparison, IsOk());
  EXPECT_EQ(comparison->rows[0].answer, RowAnswer::kNotShown);
  EXPECT_THAT(comparison->rows[0].doubts, Contains(HasSubstr("0099: too soft")));
}

TEST(Compare, AFailingPartBreaksTheRow) {
  auto septa = kSepta;
  septa[4] = 0.085;
  const RowStudy row = FirstRow(SeptumFaces(septa));
  EXPECT_EQ(row.answer, RowAnswer::kBroken);
  EXPECT_EQ(row.outside, 1);
  EXPECT_THAT(row.sentence, HasSubstr("1 of 10 parts"));
}

TEST(Compare, WideIntervalsAreCountedAndUsed) {
  auto faces = SeptumFaces();
  faces[2].characteristics[0].lo = 0.10;  // 0.119, limit 0.09: more than half of the way
  const RowStudy row = FirstRow(faces);
  EXPECT_EQ(row.wide, 1);
  EXPECT_EQ(row.n, 10);
  EXPECT_THAT(row.doubts, Contains(HasSubstr("1 value with a wide interval")));
}

// A lumped sample is not normal: its bound is not trusted, however far from the limit.
TEST(Compare, ValuesThatAreNotNormalAreNotShownByTheNormalBound) {
  std::vector<double> septa;
  for (int i = 0; i < 30; ++i) septa.push_back(i % 10 == 0 ? 0.15 : 0.12 + 1e-5 * i);
  const RowStudy row = FirstRow(SeptumFaces(septa));
  ASSERT_TRUE(row.normality);
  EXPECT_LT(row.normality->p, 0.05);
  EXPECT_EQ(row.answer, RowAnswer::kNotShown);
  EXPECT_THAT(row.advice, Contains(HasSubstr("299 parts")));
  std::vector<double> many;
  for (int i = 0; i < 299; ++i) many.push_back(i % 10 == 0 ? 0.15 : 0.12 + 1e-6 * i);
  EXPECT_EQ(FirstRow(SeptumFaces(many)).answer, RowAnswer::kShown);  // by order statistics
}

// Montgomery's piston rings: Cp and Cpk from the pooled spread within subgroups.
TEST(Compare, CpAndCpkNeedNamedSubgroupsAnd25Parts) {
  std::vector<SectionResult> faces;
  int group = 0;
  for (const ReferenceRow& row : ReadReference("capability/piston_rings.txt")) {
    ++group;
    for (const double value : row.values) {
      faces.push_back(
          Face(Serial(faces.size()), {LimitRow("1", "diameter", value, 73.95, 74.05, "major")}));
      faces.back().sample.block = "B" + std::to_string(group);
    }
  }
  const RowStudy without = FirstRow(faces);
  ASSERT_TRUE(without.capability->pp && without.capability->ppk);
  EXPECT_NEAR(without.capability->pp->value, 1.65509, 5.1e-6);
  EXPECT_NEAR(without.capability->ppk->value, 1.61616, 5.1e-6);
  EXPECT_FALSE(without.capability->cpk);
  CompareOptions options;
  options.subgroup = "block";
  const RowStudy with = FirstRow(faces, options);
  ASSERT_TRUE(with.capability->cp && with.capability->cpk);
  EXPECT_NEAR(with.capability->cp->value, 0.1 / (6 * 0.00986286), 2e-6);
  EXPECT_NEAR(with.capability->within->sd, 0.00986286, 5.1e-9);
  faces.resize(24);
  const RowStudy few = FirstRow(faces, options);
  EXPECT_FALSE(few.capability->cpk);
  EXPECT_THAT(few.capability->no_cpk, HasSubstr("25 parts"));
  options.subgroup = "oven";
  EXPECT_THAT(CompareRun(RunWith(faces), options), FailsWith(Code::kUsage));
}

TEST(Compare, AnglesAreTakenAroundTheClock) {
  std::vector<SectionResult> faces;
  for (const double degrees : {358.0, 2.0, 0.0, 1.0, 359.0, 0.5, 359.5, 1.5})
    faces.push_back(Face(Serial(faces.size()), {LimitRow("17", "clock", degrees, -6, 6, "major")}));
  for (SectionResult& face : faces) face.characteristics[0].verdict = Verdict::kConforms;
  const RowStudy row = FirstRow(faces);
  ASSERT_TRUE(row.summary);
  EXPECT_NEAR(row.summary->mean, 0.1875, 1e-9);
  EXPECT_LT(row.summary->greatest, 3);
  EXPECT_EQ(row.outside, 0);
}

TEST(Compare, WithoutSerialNumbersNothingIsInferred) {
  auto faces = SeptumFaces();
  for (SectionResult& face : faces) face.sample.serial.clear();
  const RowStudy row = FirstRow(faces);
  EXPECT_FALSE(row.n);
  EXPECT_FALSE(row.bound);
  EXPECT_EQ(row.answer, RowAnswer::kNotShown);
  EXPECT_THAT(row.sentence, HasSubstr("parts cannot be counted"));
}

TEST(Compare, OnePartTellsNothingOfASpread) {
  const RowStudy row = FirstRow(SeptumFaces({0.12}));
  EXPECT_EQ(row.n, 1);
  EXPECT_FALSE(row.bound);
  EXPECT_EQ(row.answer, RowAnswer::kNotShown);
}

TEST(Compare, FindingsAreCountedAgainstTheBinomialLaw) {
  std::vector<SectionResult> faces;
  for (std::size_t i = 0; i < 22; ++i) {
    CharacteristicResult crosstalk;
    crosstalk.no = "20", crosstalk.finding = "crosstalk", crosstalk.criticality = "critical";
    crosstalk.actual = 0, crosstalk.max = 0, crosstalk.verdict = Verdict::kConforms;
    faces.push_back(Face(Serial(i), {crosstalk}));
  }
  const RowStudy row = FirstRow(faces);
  EXPECT_EQ(row.answer, RowAnswer::kNotShown);
  EXPECT_EQ(row.size_needed, 299u);
  // Usual handbook figure: up to 12.7 % after none of 22.
  EXPECT_THAT(row.sentence, HasSubstr("12.7 %"));
}

TEST(Compare, OneDrawingAndEveryPictureOnce) {
  RunGatherer gatherer;
  const SectionResult first = SeptumFace("0001", 0.12);
  ASSERT_THAT(gatherer.Add(EntryOf(first), first), IsOk());
  EXPECT_THAT(gatherer.Add(EntryOf(first), first), FailsWith(Code::kUsage));
  SectionResult other = SeptumFace("0002", 0.12);
  other.revision = "D";
  EXPECT_THAT(gatherer.Add(EntryOf(other), other), FailsWith(Code::kDesignMismatch));
  other = SeptumFace("0003", 0.12);
  other.characteristics[0].min = 0.08;
  EXPECT_THAT(gatherer.Add(EntryOf(other), other), FailsWith(Code::kDesignMismatch));
  EXPECT_THAT(CompareRun(cutface::Run()), FailsWith(Code::kUsage));
}

// Three planes of four parts, 0.001 mm more every 100 mm; one part lacks the middle one.
TEST(Compare, TrendsAlongThePartKeepGapsAsGaps) {
  std::vector<SectionResult> faces;
  for (std::size_t part = 0; part < 4; ++part) {
    for (int station = 0; station < 3; ++station) {
      if (part == 2 && station == 1) continue;
      const double value = 0.12 + 0.0001 * static_cast<double>(part) + 0.001 * station +
                           (station == 1 ? 1e-5 * static_cast<double>(part) : 0);
      SectionResult r = Face(Serial(part), {LimitRow("8", "septum", value, 0.09, {}, "critical")},
                             "plane-" + std::to_string(station));
      r.sample.station_mm = 100 * (station + 1);
      faces.push_back(r);
    }
  }
  const auto comparison = CompareRun(RunWith(faces));
  ASSERT_THAT(comparison, IsOk());
  EXPECT_EQ(comparison->rows.size(), 3u);
  ASSERT_EQ(comparison->trends.size(), 1u);
  const StationTrend& trend = comparison->trends[0];
  EXPECT_EQ(trend.stations_mm, (std::vector<double>{100, 200, 300}));
  ASSERT_EQ(trend.gaps.size(), 1u);
  EXPECT_EQ(trend.labels[trend.gaps[0].first], "0003");
  EXPECT_EQ(trend.gaps[0].second, 200);
  ASSERT_TRUE(trend.slopes);
  EXPECT_EQ(trend.slopes->n, 4u);
  EXPECT_NEAR(trend.slopes->mean, 1e-5, 1e-9);
  EXPECT_THAT(trend.sentence, HasSubstr("rises by 0.0020 mm"));
}

TEST(Compare, RunOrderIsTheTimeOfThePictures) {
  auto faces = SeptumFaces({0.121, 0.119, 0.120});
  faces[0].sample.taken = "2026-04-08T10:00";
  faces[1].sample.taken = "2026-04-08T08:00";
  faces[2].sample.taken = "2026-04-08T09:00";
  const RowStudy row = FirstRow(faces);
  EXPECT_TRUE(row.timed);
  EXPECT_EQ(row.parts[0].label, "0002");
  EXPECT_EQ(row.parts[2].label, "0001");
  faces[1].sample.taken = "2026-04-08";  // a day only
  EXPECT_FALSE(FirstRow(faces).timed);
}

TEST(Compare, TheFileKeepsToItsSchema) {
  auto faces = SeptumFaces();
  faces[3].characteristics[0].actual.reset();
  faces[3].characteristics[0].verdict = Verdict::kNotMeasured;
  const auto comparison = CompareRun(RunWith(faces));
  ASSERT_THAT(comparison, IsOk());
  EXPECT_EQ(Violations(kSchema, std::vector{ComparisonToJson(*comparison)}).front(), "");
}

}  // namespace
}  // namespace cutface
