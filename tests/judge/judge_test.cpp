// Verdicts: JCGM 106:2012 examples (inputs from memory, probabilities recomputed), ISO 14253-1
// guard bands, the simple rule, rows on findings, preparation and roll-up.
#include "cutface/judge.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace cutface {
namespace {

constexpr double kTwoSided95 = 1.959963984540054;

// --- JCGM 106 ------------------------------------------------------------------------------------

TEST(Jcgm106, BreakdownVoltageWithOneUpperLimit) {  // 7.3.3 example 1
  EXPECT_NEAR(ConformanceProbability(-5.47, 0.05, std::nullopt, -5.40), 0.9192433, 5e-8);
}
TEST(Jcgm106, BurstPressureWithOneLowerLimit) {  // 7.3.3 example 2
  EXPECT_NEAR(ConformanceProbability(509.7, 8.6, 490.0, std::nullopt), 0.9890095, 5e-8);
}
TEST(Jcgm106, ViscosityWithTwoLimits) {  // 7.4
  EXPECT_NEAR(ConformanceProbability(13.6, 1.8, 12.5, 16.3), 0.6626298, 5e-8);
}
TEST(Jcgm106, SpeedLimitWithGuardedRejection) {  // 8.3.3.2 example 1: 106.5876 km/h, p = 0.999
  const double v = 106.5876;
  EXPECT_NEAR(ConformanceProbability(v, 0.02 * v, std::nullopt, 100.0), 0.001, 1e-6);
}

TEST(Probability, FollowsTheMarginInStandardUncertainties) {
  const double margin[] = {0, 0.5, 1, 1.645, 2, 3};
  const double p[] = {0.5, 0.691462, 0.841345, 0.950015, 0.977250, 0.998650};
  for (int i = 0; i < 6; ++i) {
    EXPECT_NEAR(ConformanceProbability(10 - 2 * margin[i], 2, std::nullopt, 10.0), p[i], 5e-7);
    EXPECT_NEAR(ConformanceProbability(10 + 2 * margin[i], 2, 10.0, std::nullopt), p[i], 5e-7);
  }
}

// ISO 14253-1 with two near limits: the factor at which p is 0.95 (recomputed table).
TEST(Iso14253, GuardFactorGrowsWhereTheToleranceIsNarrow) {
  const double width[] = {4, 5, 6, 8, 10}, factor[] = {1.79621, 1.64877, 1.64492, 1.64485, 1.64485};
  for (int i = 0; i < 5; ++i) {
    EXPECT_NEAR(ConformanceProbability(factor[i], 1, 0.0, width[i]), 0.95, 2e-6) << width[i];
  }
  EXPECT_NEAR(ConformanceProbability(1.75, 1, 0.0, 3.5), 0.91988, 5e-6);
}

TEST(Probability, IsCertainWithoutUncertainty) {
  EXPECT_EQ(ConformanceProbability(3, 0, std::nullopt, 3.0), 1);
  EXPECT_EQ(ConformanceProbability(3, 0, 3.0, std::nullopt), 1);
  EXPECT_EQ(ConformanceProbability(3, 0, std::nullopt, 2.0), 0);
  EXPECT_EQ(ConformanceProbability(3, 0, 3.5, std::nullopt), 0);
}

// --- rows ----------------------------------------------------------------------------------------

struct Drawing {
  Design design;
  SectionDesign plane;
  std::vector<Measurement> measurements;
  std::vector<Finding> findings;
  Section section;

  Characteristic& Row(const std::string& no, std::vector<std::string> of, const std::string& word,
                      std::optional<double> lower, std::optional<double> upper) {
    Characteristic c;
    c.no = no;
    c.of = std::move(of);
    c.quantity = word;
    c.lower = lower;
    c.upper = upper;
    c.is_length = true;
    plane.characteristics.push_back(c);
    return plane.characteristics.back();
  }
  Measurement& Value(std::vector<std::string> of, const std::string& word, double value, double u) {
    Measurement m;
    m.of = std::move(of);
    m.quantity = word;
    m.value = m.raw = value;
    m.u = u;
    m.lo = value - kTwoSided95 * u;
    m.hi = value + kTwoSided95 * u;
    m.unit = "um";
    measurements.push_back(m);
    return measurements.back();
  }
  Finding& Found(const std::string& kind, std::vector<std::string> where, Severity severity) {
    Finding f;
    f.kind = kind;
    f.where = std::move(where);
    f.severity = severity;
    findings.push_back(f);
    return findings.back();
  }
  Judgement Judged() const { return Judge(design, plane, measurements, findings, &section); }
};

TEST(Guarded, MinimumConformsOnlyWithTheGuardBand) {
  for (const auto& [value, verdict] :
       std::vector<std::pair<double, Verdict>>{{101.65, Verdict::kConforms},
                                               {101.64, Verdict::kNotProven},
                                               {98.36, Verdict::kNotProven},
                                               {98.35, Verdict::kDoesNotConform}}) {
    Drawing d;
    d.Row("7", {"scope", "wash"}, "septum", 100, std::nullopt);
    d.Value({"wash", "scope"}, "septum", value, 1);  // either order of the pair
    const Judgement judged = d.Judged();
    EXPECT_EQ(judged.rows[0].verdict, verdict) << value;
    EXPECT_EQ(judged.verdict, verdict) << value;
    EXPECT_NEAR(*judged.rows[0].actual, value / 1000, 1e-12);  // the drawing is in mm
    EXPECT_NEAR(*judged.rows[0].min, 0.1, 1e-12);
    EXPECT_FALSE(judged.rows[0].max.has_value());
    EXPECT_EQ(judged.rows[0].unit, "mm");
  }
}

TEST(Guarded, NotProvenSaysByHowMuchAndOnWhichSide) {
  Drawing d;
  d.Row("7", {"scope", "wash"}, "septum", 100, std::nullopt);
  d.Value({"scope", "wash"}, "septum", 100.5, 1);
  EXPECT_EQ(d.Judged().rows[0].reason, "inside by 0.0005 mm");
  d.measurements[0].value = 99.2;
  EXPECT_EQ(d.Judged().rows[0].reason, "outside by 0.0008 mm");
}

TEST(Guarded, TheHalfOfTheIntervalOnTheLimitsSideDecides) {
  Drawing d;
  d.Row("1", {"scope"}, "wall", 100, std::nullopt);
  Measurement& m = d.Value({"scope"}, "wall", 103, 1);
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  m.lo = 103 - 2 * kTwoSided95;  // twice as wide downwards
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);
  EXPECT_NEAR(*d.Judged().rows[0].p_conform, 0.933193, 1e-6);
  m.lo = 103 - kTwoSided95;
  m.hi = 120;  // upwards it does not matter to a minimum
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
}

TEST(Guarded, PreparationIsAddedAndNamed) {
  Drawing d;
  d.design.preparation_u["septum"] = {1.5, "recut-07"};
  d.Row("7", {"scope", "wash"}, "septum", 100, std::nullopt);
  d.Value({"scope", "wash"}, "septum", 102.5, 1);
  const CharacteristicResult row = d.Judged().rows[0];
  EXPECT_NEAR(*row.p_conform,
              ConformanceProbability(102.5, std::hypot(1, 1.5), 100.0, std::nullopt), 1e-9);
  EXPECT_EQ(row.u_scope, "image + preparation (recut-07)");
  d.design.preparation_u.clear();
  EXPECT_EQ(d.Judged().rows[0].u_scope, "image only");
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kConforms);
}

TEST(Simple, IsAllowedOnlyWhereTheIntervalIsAQuarterOfTheTolerance) {
  Drawing d;
  d.design.decision_rule.kind = DecisionRule::Kind::kSimple;
  d.Row("1", {"outline"}, "diameter", 2450, 2550);
  Measurement& m = d.Value({"outline"}, "diameter", 2549, 25 / kTwoSided95);
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  m.value = 2551;
  m.lo = 2526, m.hi = 2576;
  EXPECT_EQ(d.Judged().verdict, Verdict::kDoesNotConform);
  m.value = 2549;
  m.lo = 2549 - 25.1, m.hi = 2549 + 25.1;
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);
  EXPECT_THAT(d.Judged().rows[0].reason, testing::HasSubstr("simple rule is not allowed"));
}

TEST(Simple, OneLimitIsJudgedGuarded) {
  Drawing d;
  d.design.decision_rule.kind = DecisionRule::Kind::kSimple;
  d.Row("7", {"scope", "wash"}, "septum", 100, std::nullopt);
  d.Value({"scope", "wash"}, "septum", 100.5, 1);
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);
}

TEST(Rows, ClockWrapsTowardsItsLimits) {
  Drawing d;
  Characteristic& c = d.Row("5", {"scope"}, "clock", 175, 185);
  c.is_length = false;
  d.Value({"scope"}, "clock", -178, 0.5).unit = "deg";
  const CharacteristicResult row = d.Judged().rows[0];
  EXPECT_EQ(row.verdict, Verdict::kConforms);
  EXPECT_NEAR(*row.actual, 182, 1e-12);
  EXPECT_EQ(row.unit, "deg");
}

TEST(Rows, AreaIsShownInSquareDrawingUnits) {
  Drawing d;
  d.design.units = LengthUnit::kInch;
  Characteristic& c = d.Row("5", {"scope"}, "area", 0.5e6, std::nullopt);
  c.is_length = false;
  c.is_area = true;
  d.Value({"scope"}, "area", 25400.0 * 25400.0 * 0.001, 10).unit = "um2";
  const CharacteristicResult row = d.Judged().rows[0];
  EXPECT_NEAR(*row.actual, 0.001, 1e-12);
  EXPECT_EQ(row.unit, "in2");
}

TEST(Rows, NotMeasuredCarriesTheReason) {
  Drawing d;
  d.Row("7", {"scope", "wash"}, "septum", 100, std::nullopt);
  Measurement& m = d.Value({"scope", "wash"}, "septum", 0, 0);
  m.state = Measurement::State::kNotMeasured;
  m.reason = "septum broken: breach of 34.0 um";
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  EXPECT_EQ(d.Judged().rows[0].reason, m.reason);
  EXPECT_FALSE(d.Judged().rows[0].actual.has_value());
  d.measurements.clear();
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
}

TEST(Rows, DistanceFromVoidsConformsWhereThereIsNone) {
  Drawing d;
  d.Row("9", {"voids"}, "void_to_lumen", 50, std::nullopt);
  Measurement& m = d.Value({"voids"}, "void_to_lumen", 0, 0);
  m.state = Measurement::State::kNotApplicable;
  m.reason = "no void was seen";
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.section.picture.grade = "unusable";
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotMeasured);
}

TEST(FindingRows, CountAgainstTheAllowedNumber) {
  Drawing d;
  Characteristic c;
  c.no = "12";
  c.finding = "crosstalk";
  d.plane.characteristics = {c};
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.Found("crosstalk", {"scope", "wash"}, Severity::kHigh);
  EXPECT_EQ(d.Judged().verdict, Verdict::kDoesNotConform);
  d.plane.characteristics[0].allowed = 1;
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.plane.characteristics[0].allowed = 0;
  d.plane.characteristics[0].of = {"scope", "cuff"};  // another pair
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kConforms);
}

TEST(FindingRows, ConformOnlyIfThePictureWouldHaveShownIt) {
  Drawing d;
  Characteristic c;
  c.finding = "thin septum";
  d.plane.characteristics = {c};
  LumenDesign wash;
  wash.name = "wash";
  d.plane.lumens = {wash};
  Measurement& area = d.Value({"wash"}, "area", 1, 0);
  area.state = Measurement::State::kNotMeasured;
  area.reason = "wash not found";
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotProven);
  EXPECT_THAT(d.Judged().rows[0].reason, testing::HasSubstr("wash not found"));
  d.section.picture.grade = "unusable";
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
}

TEST(FindingRows, WhatIsNotLookedForIsNotMeasured) {
  Drawing d;
  Characteristic c;
  c.finding = "missing wire";
  d.plane.characteristics = {c};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  EXPECT_THAT(d.Judged().rows[0].reason, testing::HasSubstr("not looked for"));
  EXPECT_FALSE(d.Judged().rows[0].actual.has_value());
}

// Wires are not told surely enough yet to let a row conform; what is found fails it all the same.
TEST(FindingRows, WiresNeedTheirLayerToldAndNeverConform) {
  Drawing d;
  Characteristic c;
  c.finding = "missing wire";
  d.plane.characteristics = {c};
  WireLayerDesign braid;
  braid.name = "braid";
  d.plane.wires = {braid};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  WireLayerTrace layer;
  layer.name = "braid";
  layer.counted = false;
  layer.doubt = "part of the layer is cut off by the frame";
  d.section.wire_layers = {layer};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  EXPECT_THAT(d.Judged().rows[0].reason, testing::HasSubstr("cut off by the frame"));
  d.section.wire_layers[0].counted = true;
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotProven);
  d.section.wire_layers[0].families_told = false;
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotProven);
  d.plane.characteristics[0].finding = "displaced wire";
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  d.plane.characteristics[0].finding = "missing wire";
  d.Found("missing wire", {"braid", "braid/3"}, Severity::kHigh);
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kDoesNotConform);
}

TEST(FindingRows, GapsOfALinedPartCannotBeRuledOut) {
  Drawing d;
  Characteristic c;
  c.finding = "crosstalk";
  d.plane.characteristics = {c};
  LumenDesign lined;
  lined.name = "scope";
  lined.liner_thickness_um = 25;
  d.plane.lumens = {lined};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  d.Found("crosstalk", {"scope"}, Severity::kHigh);
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kDoesNotConform);
}

TEST(FindingRows, CrosstalkThatIsNotCountedIsNotProven) {
  Drawing d;
  Characteristic c;
  c.finding = "crosstalk";
  d.plane.characteristics = {c};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kConforms);
  d.Found("crosstalk", {"scope", "wash"}, Severity::kMedium);
  d.findings.back().evidence["counted"] = 0;
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotProven);
  d.findings.back().evidence["counted"] = 1;
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kDoesNotConform);
}

// A gap along a liner that was missed would break the row: it may fail, but not pass.
TEST(QuantityRows, VoidsOfALinedPartMayFailButNotPass) {
  Drawing d;
  Characteristic c;
  c.of = {"voids"};
  c.quantity = "longest";
  c.upper = 60;
  c.is_length = true;
  d.plane.characteristics = {c};
  d.Value({"voids"}, "longest", 20, 1);
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kConforms);
  LumenDesign lined;
  lined.name = "scope";
  lined.liner_thickness_um = 25;
  d.plane.lumens = {lined};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotProven);
  EXPECT_THAT(d.Judged().rows[0].reason, testing::HasSubstr("gaps along liners"));
  d.measurements.clear();
  d.Value({"voids"}, "longest", 90, 1);
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kDoesNotConform);
}

// Swapped, it would be another lumen's value: it may fail, but not pass. Where names are proven a
// doubt about the contour is told and does not change the verdict.
TEST(QuantityRows, AnUnprovenNameMayFailButNotPass) {
  Drawing d;
  d.Row("1", {"scope"}, "wall", 100, std::nullopt);
  d.Row("2", {"wash"}, "wall", 100, std::nullopt);
  d.Value({"scope"}, "wall", 120, 1).grade_reason = "the name scope is not proven";
  d.Value({"wash"}, "wall", 120, 1);
  for (const char* name : {"scope", "wash"}) {
    LumenTrace lumen;
    lumen.names = {name};
    d.section.lumens.push_back(lumen);
  }
  d.section.lumens[0].bore.doubt = "the name scope is not proven";
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.section.placement.names_proven = false;
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotProven);
  EXPECT_EQ(d.Judged().rows[0].reason, "the name scope is not proven");
  EXPECT_EQ(d.Judged().rows[1].verdict, Verdict::kConforms);  // its name hangs on nothing
  Measurement& broken = d.measurements[0];
  broken.value = 80;
  broken.lo = 78;
  broken.hi = 82;
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kDoesNotConform);
}

TEST(FindingRows, ALengthwiseSampleSaysNothingOfThinWalls) {
  Drawing d;
  Characteristic c;
  c.finding = "thin wall";
  d.plane.characteristics = {c};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kConforms);
  d.plane.kind = "lengthwise";
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
}

// A drawing of a bond whose adhesive was measured or not.
Drawing Bonded(std::optional<double> adhesive_um) {
  Drawing d;
  d.plane.rings = {{"sleeve", {}}, {"adhesive", {}}};
  d.plane.bond = BondDesign{"adhesive", "sleeve", 5};
  Characteristic c;
  c.finding = "starved bond";
  d.plane.characteristics = {c};
  d.Value({"sleeve"}, "thickness_mean", 150, 1);
  Measurement& m = d.Value({"adhesive"}, "thickness_mean", adhesive_um.value_or(0), 1);
  if (!adhesive_um) {
    m.state = Measurement::State::kNotMeasured;
    m.reason = "no line to be seen";
  }
  return d;
}

TEST(FindingRows, ABondIsStarvedOnlyWhereItsAdhesiveWasSeen) {
  EXPECT_EQ(Bonded(50).Judged().rows[0].verdict, Verdict::kConforms);
  const CharacteristicResult unseen = Bonded(std::nullopt).Judged().rows[0];
  EXPECT_EQ(unseen.verdict, Verdict::kNotMeasured);
  EXPECT_THAT(unseen.reason, testing::HasSubstr("no line to be seen"));
  Drawing doubtful = Bonded(50);
  doubtful.measurements.back().grade = "doubtful";
  EXPECT_EQ(doubtful.Judged().rows[0].verdict, Verdict::kNotMeasured);
  Drawing none = Bonded(50);
  none.plane.bond.reset();
  EXPECT_EQ(none.Judged().rows[0].verdict, Verdict::kNotMeasured);
}

TEST(FindingRows, GapsOfALinerCannotBeRuledOut) {
  Drawing d;
  Characteristic c;
  c.finding = "liner gap";
  d.plane.characteristics = {c};
  LumenDesign lined;
  lined.name = "scope";
  lined.liner_thickness_um = 25;
  d.plane.lumens = {lined};
  d.Value({"scope/liner"}, "thickness_mean", 25, 1);
  d.Value({"scope"}, "area", 1000, 1);
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
  d.plane.wires.emplace_back();
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kNotMeasured);
}

// --- roll-up -------------------------------------------------------------------------------------

TEST(RollUp, TakesTheWorstRowInTheFixedOrder) {
  Drawing d;
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotJudged);
  Characteristic text;
  text.text = "length 1100";
  text.elsewhere = true;
  d.plane.characteristics = {text};
  EXPECT_EQ(d.Judged().rows[0].verdict, Verdict::kElsewhere);
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotJudged);
  d.Row("1", {"a"}, "wall", 100, std::nullopt);
  d.Value({"a"}, "wall", 110, 1);
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.Row("2", {"b"}, "wall", 100, std::nullopt);
  d.Value({"b"}, "wall", 100, 1);
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);
  d.Row("3", {"c"}, "wall", 100, std::nullopt);
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotMeasured);
  d.Row("4", {"d"}, "wall", 100, std::nullopt);
  d.Value({"d"}, "wall", 90, 1);
  EXPECT_EQ(d.Judged().verdict, Verdict::kDoesNotConform);
  EXPECT_EQ(d.Judged().rows.size(), 5u);
}

TEST(RollUp, HighFindingWithoutARowCapsUntilANamedPersonDisposesOfIt) {
  Drawing d;
  d.Row("1", {"a"}, "wall", 100, std::nullopt);
  d.Value({"a"}, "wall", 110, 1);
  d.Found("crosstalk", {"a", "b"}, Severity::kMedium);
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.findings[0].severity = Severity::kHigh;
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);
  d.findings[0].disposed_by = "the inspector";
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);  // a name without a reason is no disposition
  d.findings[0].disposition = "seen in no other plane";
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
}

TEST(RollUp, RowOnTheSameQuantityIsTheFindingsOwnRow) {
  Drawing d;
  d.Row("1", {"b", "a"}, "barrier", 10, std::nullopt);
  d.Value({"a", "b"}, "barrier", 20, 1);
  d.Found("crosstalk", {"a", "b"}, Severity::kHigh);
  EXPECT_EQ(d.Judged().verdict, Verdict::kConforms);
  d.findings[0].where = {"a", "c"};
  EXPECT_EQ(d.Judged().verdict, Verdict::kNotProven);
}

}  // namespace
}  // namespace cutface
