// Holds the statistics of a run against scipy on random samples: run_library_check.py.
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <limits>

#include "cutface/stats_run.h"

namespace cutface {
namespace {

void Write(std::ofstream& out, const char* word, const std::vector<double>& answers,
           const std::vector<double>& first, const std::vector<double>& second = {}) {
  out << word << ' ' << answers.size();
  for (const double answer : answers) out << ' ' << answer;
  out << ' ' << first.size();
  for (const double value : first) out << ' ' << value;
  for (const double value : second) out << ' ' << value;
  out << '\n';
}

std::vector<double> Sample(Random& random, int n, double mean, double sd) {
  std::vector<double> values;
  for (; n > 0; --n) values.push_back(mean + sd * random.Normal());
  return values;
}

TEST(Run, AgreesWithScipyOnRandomSamples) {
  const std::string file = std::string(CUTFACE_BINARY_DIR) + "/stats_run_library_check.txt";
  {
    std::ofstream out(file);
    out.precision(std::numeric_limits<double>::max_digits10);
    Random random(20260101);
    for (int i = 0; i < 40; ++i) {
      const auto a = Sample(random, random.Integer(8, 60), random.Uniform(-5, 50), 2);
      const auto b = Sample(random, random.Integer(8, 60), random.Uniform(-5, 50), 3);
      const SampleSummary s = Summarise(a);
      const Interval mean = MeanInterval(s.mean, *s.sd, s.n);
      const Interval sd = SpreadInterval(*s.sd, static_cast<double>(s.n - 1));
      Write(out, "sample", {mean.lo, mean.hi, sd.lo, sd.hi, AndersonDarling(a)->a2}, a);
      const MeanShift d = *MeanDifference(a, b);
      const IndexValue ratio = *SpreadRatio(a, b);
      Write(out, "two",
            {d.value, d.p, d.interval.lo, d.interval.hi, ratio.interval.lo, ratio.interval.hi}, a,
            b);
      std::vector<double> y;
      for (const double x : a) y.push_back(0.05 * x + random.Normal());
      const LineTrend trend = *FitTrend(a, y);
      Write(out, "trend", {trend.slope, trend.intercept, trend.p}, a, y);
      std::vector<double> angles;
      for (const double x : a) angles.push_back(x);
      const CircularSummary c = SummariseDirections(angles);
      Write(out, "directions", {c.mean, c.sd}, angles);
      std::vector<double> likelihoods(9);
      for (const FittedTail& tail : FitTails(a)) {
        const auto at = static_cast<std::size_t>(tail.kind) * 3;
        likelihoods[at] = tail.location;
        likelihoods[at + 1] = tail.scale;
        likelihoods[at + 2] = tail.Percentile(0.00135);
      }
      Write(out, "tails", likelihoods, a);
      const auto n = static_cast<std::size_t>(random.Integer(2, 200));
      const double coverage = random.Uniform(0.5, 0.995), confidence = random.Uniform(0.5, 0.99);
      Write(out, "factor", {ToleranceFactorOneSided(n, coverage, confidence)},
            {static_cast<double>(n), coverage, confidence});
    }
    ASSERT_TRUE(out.flush());
  }
  const std::string command = std::string("/usr/bin/python3 ") + CUTFACE_SOURCE_DIR +
                              "/tests/stats/run_library_check.py " + file;
  EXPECT_EQ(std::system(command.c_str()), 0) << "what differs stands above";
}

}  // namespace
}  // namespace cutface
