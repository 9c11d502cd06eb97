// Intervals of what is computed from mean squares.
#include <algorithm>
#include <cmath>

#include "cutface/anova.h"
#include "cutface/stats.h"

namespace cutface {

std::vector<Interval> GeneralisedIntervals(
    std::span<const MeanSquare> seen,
    const std::function<std::vector<double>(std::span<const double>)>& figures, double confidence) {
  CF_CHECK(!seen.empty() && confidence > 0 && confidence < 1);
  for (const MeanSquare& one : seen) CF_CHECK(one.df >= 1 && one.ms >= 0);
  constexpr int kDraws = 20000;
  Random random(20001);
  std::vector<double> expected(seen.size());
  std::vector<std::vector<double>> drawn;
  for (int i = 0; i < kDraws; ++i) {
    for (std::size_t m = 0; m < seen.size(); ++m)
      expected[m] = seen[m].df * seen[m].ms / random.ChiSquared(seen[m].df);
    const std::vector<double> values = figures(expected);
    drawn.resize(values.size());
    for (std::size_t v = 0; v < values.size(); ++v) drawn[v].push_back(values[v]);
  }
  const double tail = (1 - confidence) / 2;
  std::vector<Interval> intervals;
  for (const std::vector<double>& values : drawn)
    intervals.push_back({Quantile(values, tail), Quantile(values, 1 - tail)});
  return intervals;
}

}  // namespace cutface
