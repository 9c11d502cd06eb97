// Holds the statistics of studies and runs against R and statsmodels on random data.
//
// One file of answers and what was asked, one run of outside_check.R and one of outside_check.py,
// which compute the same with the functions of their libraries. Not here, because no library of
// Debian's has it: averages and ranges (published figures and R's range distribution instead), the
// half width of a mean direction (closed form), intervals of a gauge's spread (their share of hits
// on drawn studies: gauge_interval_test.cpp).
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <limits>

#include "cutface/anova.h"
#include "cutface/stats_run.h"
#include "cutface/study.h"

namespace cutface {
namespace {

class AskedFile {
 public:
  explicit AskedFile(const std::string& path) : out_(path) {
    out_.precision(std::numeric_limits<double>::max_digits10);
  }
  void Add(const char* word, const std::vector<double>& answers, const std::vector<double>& asked) {
    out_ << word << ' ' << answers.size();
    for (const double answer : answers) out_ << ' ' << answer;
    for (const double value : asked) out_ << ' ' << value;
    out_ << '\n';
  }
  bool Close() {
    out_.close();
    return !out_.fail();
  }

 private:
  std::ofstream out_;
};

std::vector<double> Drawn(Random& random, int n, double mean, double sd) {
  std::vector<double> values;
  for (; n > 0; --n) values.push_back(mean + sd * random.Normal());
  return values;
}

std::vector<double> Joined(std::vector<double> first, const std::vector<double>& second) {
  first.insert(first.end(), second.begin(), second.end());
  return first;
}

void AskOneWay(Random& random, AskedFile& file) {
  std::vector<std::vector<double>> groups;
  std::vector<double> asked;
  for (int g = random.Integer(2, 5); g > 0; --g) {
    groups.push_back(Drawn(random, random.Integer(2, 9), 10, 1));
    asked.push_back(static_cast<double>(groups.back().size()));
    asked = Joined(asked, groups.back());
  }
  const auto found = OneWay(groups);
  ASSERT_TRUE(found);
  file.Add("one",
           {found->between.ss, found->within.ss, static_cast<double>(found->between.df),
            static_cast<double>(found->within.df), *found->between.f, *found->between.p},
           asked);
}

void AskCrossed(Random& random, AskedFile& file) {
  CrossedData data;
  data.levels_a = static_cast<std::size_t>(random.Integer(2, 6));
  data.levels_b = static_cast<std::size_t>(random.Integer(2, 4));
  data.repeats = static_cast<std::size_t>(random.Integer(2, 4));
  std::vector<double> asked = {static_cast<double>(data.levels_a),
                               static_cast<double>(data.levels_b),
                               static_cast<double>(data.repeats)};
  for (std::size_t a = 0; a < data.levels_a; ++a) {
    const double place = random.Normal();
    for (std::size_t n = data.levels_b * data.repeats; n > 0; --n)
      data.values.push_back(place + random.Normal());
  }
  const auto found = TwoWay(data);
  ASSERT_TRUE(found);
  std::vector<double> answers;
  const AnovaLine* lines[] = {&found->a, &found->b, &found->interaction, &found->error};
  for (const AnovaLine* line : lines) answers.push_back(line->ss);
  for (const AnovaLine* line : lines) answers.push_back(static_cast<double>(line->df));
  for (int i = 0; i < 3; ++i) answers.push_back(*lines[i]->p);
  answers = Joined(
      answers, {*found->f_a_pooled, *found->f_b_pooled, *found->p_a_pooled, *found->p_b_pooled});
  file.Add("crossed", answers, Joined(asked, data.values));
}

// `even`: equal numbers and spreads that dwarf each other, so that no variance comes out negative.
void AskNested(Random& random, bool even, AskedFile& file) {
  std::vector<NestedValue> values;
  std::vector<double> asked;
  const int outer = even ? 6 : random.Integer(2, 4);
  for (int a = 0; a < outer; ++a) {
    const double place = 20 * random.Normal();
    for (int b = even ? 4 : random.Integer(1, 4); b > 0; --b) {
      const double inner = place + 4 * random.Normal();
      for (int n = even ? 3 : random.Integer(2, 4); n > 0; --n) {
        values.push_back({{std::to_string(a), std::to_string(b)}, inner + random.Normal()});
        asked =
            Joined(asked, {static_cast<double>(a), static_cast<double>(b), values.back().value});
      }
    }
  }
  const auto found = Nested(values);
  ASSERT_TRUE(found);
  std::vector<double> answers;
  for (const NestedLevel& level : found->levels) {
    // Where each group holds one only, R has no line for the level.
    if (level.line.df == 0) return;
    answers.push_back(level.line.ss);
  }
  for (const NestedLevel& level : found->levels)
    answers.push_back(static_cast<double>(level.line.df));
  if (even)
    for (const NestedLevel& level : found->levels) answers.push_back(*level.variance);
  file.Add(even ? "nested_even" : "nested", answers, asked);
}

void AskCapability(Random& random, AskedFile& file) {
  const int n = random.Integer(5, 120);
  const auto count = static_cast<std::size_t>(n);
  const double sd = random.Uniform(0.5, 3), dof = n - 1;
  const Interval cp = SpreadIndex(sd, dof, 10, 30).interval;
  file.Add("spread_index", {cp.lo, cp.hi}, {dof, 10, 30, sd});
  // R's non-central t is right up to a shift of 37.6.
  const double inside = random.Uniform(0.2, 30 / std::sqrt(static_cast<double>(n)) / 1.5);
  const Interval one = OneLimitIndex(inside * sd, sd, count).interval;
  file.Add("one_limit", {one.lo, one.hi}, {static_cast<double>(n), inside});
  const double coverage = random.Uniform(0.6, 0.99), confidence = random.Uniform(0.6, 0.99);
  const int few = random.Integer(3, 100);
  file.Add("factor_one",
           {ToleranceFactorOneSided(static_cast<std::size_t>(few), coverage, confidence)},
           {static_cast<double>(few), coverage, confidence});
  file.Add("factor_two",
           {ToleranceFactorTwoSided(static_cast<std::size_t>(few), coverage, confidence)},
           {static_cast<double>(few), coverage, confidence});
  const int failures = random.Integer(0, 3);
  file.Add("size",
           {static_cast<double>(
               AttributeSampleSize(confidence, coverage, static_cast<std::size_t>(failures)))},
           {confidence, coverage, static_cast<double>(failures)});
  const int trials = random.Integer(1, 300), hits = random.Integer(0, trials);
  const auto [low, high] = BinomialInterval(hits, trials, confidence);
  file.Add("share", {low, high},
           {static_cast<double>(hits), static_cast<double>(trials), confidence});
}

void AskTwo(Random& random, AskedFile& file) {
  const std::vector<double> a = Drawn(random, random.Integer(4, 50), 10, 1);
  const std::vector<double> b = Drawn(random, random.Integer(4, 50), random.Uniform(9, 11), 2);
  const std::vector<double> n = {static_cast<double>(a.size())};
  const MeanShift d = *MeanDifference(a, b);
  const IndexValue ratio = *SpreadRatio(a, b);
  file.Add("two",
           {d.p, d.interval.lo, d.interval.hi, d.degrees_of_freedom, ratio.interval.lo,
            ratio.interval.hi},
           Joined(Joined(n, a), b));
  const double margin = random.Uniform(0.3, 3);
  const Equivalence e = TestEquivalence(d, margin);
  file.Add("equivalence", {e.p, e.interval.lo, e.interval.hi},
           Joined(Joined(Joined(n, a), {margin}), b));
  std::vector<double> y;
  for (const double x : a) y.push_back(3 - 0.2 * x + random.Normal());
  const LineTrend trend = *FitTrend(a, y);
  const LineFigure line = FitLine(a, y);
  EXPECT_NEAR(line.slope, trend.slope, 1e-12);
  file.Add("trend",
           {trend.slope, trend.intercept, trend.slope_interval.lo, trend.slope_interval.hi, line.p,
            line.r_squared},
           Joined(Joined(n, a), y));
}

void AskOneSample(Random& random, AskedFile& file) {
  const std::vector<double> a = Drawn(random, random.Integer(8, 60), 5, 2);
  const NormalityTest normal = *AndersonDarling(a);
  file.Add("normality", {normal.a2, normal.p}, a);
  std::vector<double> z;
  for (const ProbabilityPoint& point : NormalPlot(a)) z.push_back(point.z);
  file.Add("plot", z, a);
  const double p = random.Uniform();
  file.Add("robust", {Quantile(a, p), Median(a), RobustSigma(a)}, Joined({p}, a));
  std::vector<double> ps;
  for (int n = random.Integer(2, 12); n > 0; --n) ps.push_back(std::pow(random.Uniform(), 3));
  file.Add("holm", HolmAdjusted(ps), ps);
  // From all over the clock to all one way.
  std::vector<double> angles = Drawn(random, random.Integer(10, 40), 0.3, random.Uniform(0.5, 3));
  for (double& angle : angles) angle = std::remainder(angle, 2 * kPi);
  const CircularSummary c = SummariseDirections(angles);
  file.Add("directions", {c.mean, c.resultant, c.sd, c.rayleigh_p}, angles);
}

// Bias through the whole of a study: pieces of known size.
void AskBias(Random& random, AskedFile& file) {
  StudyInput input;
  StudySubject subject;
  std::vector<double> off;
  for (int i = random.Integer(5, 20); i > 0; --i) {
    StudyReading reading;
    reading.piece = std::to_string(i);
    reading.reference = 100 + i;
    off.push_back(0.3 + random.Normal());
    reading.value = *reading.reference + off.back();
    off.back() = *reading.value - *reading.reference;
    subject.readings.push_back(reading);
  }
  input.subjects = {subject};
  const auto study = RunStudy(input);
  ASSERT_TRUE(study && study->subjects[0].bias);
  const BiasFigure& bias = *study->subjects[0].bias;
  file.Add("bias", {bias.mean, bias.sd, bias.lo, bias.hi, bias.p},
           Joined({static_cast<double>(off.size())}, off));
}

void AskVerdicts(Random& random, AskedFile& file) {
  const char* words[] = {"conforms", "does not conform", "not proven"};
  std::vector<std::string> first, second;
  std::vector<double> asked, others;
  for (int n = random.Integer(10, 40); n > 0; --n) {
    const int one = random.Integer(0, 2), two = random.Chance(0.6) ? one : random.Integer(0, 2);
    first.push_back(words[one]), second.push_back(words[two]);
    asked.push_back(one), others.push_back(two);
  }
  const KappaFigure pair = CohenKappa(first, second);
  if (pair.kappa) file.Add("kappa_two", {*pair.kappa}, Joined(asked, others));
  std::vector<std::vector<int>> counts;
  std::vector<double> flat = {3};
  for (int n = random.Integer(5, 30); n > 0; --n) {
    std::vector<int> count(3, 0);
    const int usual = random.Integer(0, 2);
    for (int person = 0; person < 4; ++person)
      ++count[static_cast<std::size_t>(random.Chance(0.5) ? usual : random.Integer(0, 2))];
    counts.push_back(count);
    for (const int value : count) flat.push_back(value);
  }
  const KappaFigure all = FleissKappa(counts);
  if (all.kappa) file.Add("kappa_many", {*all.kappa}, flat);
}

TEST(Outside, RAndStatsmodelsAgreeOnRandomData) {
  const std::string path = std::string(CUTFACE_BINARY_DIR) + "/study_outside_check.txt";
  AskedFile file(path);
  Random random(20260808);
  for (int i = 0; i < 20; ++i) {
    AskOneWay(random, file);
    AskCrossed(random, file);
    AskNested(random, false, file);
    AskCapability(random, file);
    AskTwo(random, file);
    AskOneSample(random, file);
    AskBias(random, file);
    AskVerdicts(random, file);
  }
  for (int i = 0; i < 5; ++i) AskNested(random, true, file);
  for (const int n : {2, 3, 4, 5, 7, 10, 15, 25}) {
    const RangeFactors range = RangeFactorsOf(static_cast<std::size_t>(n));
    file.Add("range", {range.d2, range.d3}, {static_cast<double>(n)});
    const ChartConstants chart = ChartConstantsOf(static_cast<std::size_t>(n));
    file.Add("range", {chart.d2, chart.d3}, {static_cast<double>(n)});
  }
  ASSERT_TRUE(file.Close());
  const std::string folder = std::string(CUTFACE_SOURCE_DIR) + "/tests/study/";
  EXPECT_EQ(std::system(("Rscript --vanilla " + folder + "outside_check.R " + path).c_str()), 0)
      << "what differs stands above";
  EXPECT_EQ(std::system(("/usr/bin/python3 " + folder + "outside_check.py " + path).c_str()), 0)
      << "what differs stands above";
}

}  // namespace
}  // namespace cutface
