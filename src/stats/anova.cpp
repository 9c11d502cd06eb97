// One way and two ways crossed. Every sum of squares is a sum of squares (never a difference of
// two), so none can be negative and none loses digits to cancellation.
#include "cutface/anova.h"

#include <boost/math/distributions/fisher_f.hpp>
#include <cmath>

#include "stats/exact_sum.h"

namespace cutface {
namespace {

AnovaLine LineOf(double ss, std::size_t df) {
  AnovaLine line;
  line.ss = ss;
  line.df = df;
  if (df > 0) line.ms = ss / static_cast<double>(df);
  return line;
}

void TestAgainst(AnovaLine& line, const AnovaLine& below) {
  if (line.df == 0 || below.df == 0 || below.ms <= 0) return;
  line.f = line.ms / below.ms;
  line.p = FUpperTail(*line.f, line.df, below.df);
}

Status CheckFinite(std::span<const double> values) {
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!std::isfinite(values[i])) {
      return Fail(Code::kUsage, "analysis of variance: value " + std::to_string(i + 1) +
                                    " is no number; leave it out");
    }
  }
  return {};
}

}  // namespace

double FUpperTail(double f, std::size_t df_above, std::size_t df_below) {
  CF_CHECK(f >= 0 && df_above >= 1 && df_below >= 1);
  const boost::math::fisher_f distribution(static_cast<double>(df_above),
                                           static_cast<double>(df_below));
  return boost::math::cdf(boost::math::complement(distribution, f));
}

Result<OneWayAnova> OneWay(std::span<const std::vector<double>> groups) {
  std::size_t used = 0, n = 0;
  double pivot = 0;
  for (const std::vector<double>& group : groups) {
    if (group.empty()) continue;
    if (auto status = CheckFinite(group); !status) return tl::unexpected(status.error());
    if (used == 0) pivot = group.front();
    ++used;
    n += group.size();
  }
  if (used < 2) {
    return Fail(Code::kUsage,
                "analysis of variance: needs two groups with values; there "
                "is " +
                    std::to_string(used));
  }
  if (n == used) {
    return Fail(Code::kUsage,
                "analysis of variance: every group has one value; repeats "
                "are needed in one of them");
  }
  ExactSum all;
  for (const std::vector<double>& group : groups)
    for (double value : group) all.Add(value - pivot);
  const double mean = all.Value() / static_cast<double>(n);
  ExactSum between, within;
  for (const std::vector<double>& group : groups) {
    if (group.empty()) continue;
    ExactSum sum;
    for (double value : group) sum.Add(value - pivot);
    const double size = static_cast<double>(group.size());
    const double own = sum.Value() / size;
    between.Add(size * (own - mean) * (own - mean));
    for (double value : group) {
      const double off = (value - pivot) - own;
      within.Add(off * off);
    }
  }
  OneWayAnova result;
  result.between = LineOf(between.Value(), used - 1);
  result.within = LineOf(within.Value(), n - used);
  TestAgainst(result.between, result.within);
  result.total_ss = result.between.ss + result.within.ss;
  if (result.total_ss > 0) result.r_squared = result.between.ss / result.total_ss;
  result.residual_sd = std::sqrt(result.within.ms);
  result.mean = pivot + mean;
  return result;
}

namespace {

// Means of the cells, of the levels and of all, less the pivot.
struct CrossedMeans {
  std::vector<double> a, b, cell;
  double all = 0;
};

CrossedMeans MeansOf(const CrossedData& data, double pivot) {
  CrossedMeans means;
  std::vector<ExactSum> a(data.levels_a), b(data.levels_b);
  ExactSum all;
  for (std::size_t i = 0; i < data.levels_a; ++i) {
    for (std::size_t j = 0; j < data.levels_b; ++j) {
      ExactSum cell;
      for (std::size_t r = 0; r < data.repeats; ++r) {
        const double off = data.At(i, j, r) - pivot;
        cell.Add(off);
        a[i].Add(off);
        b[j].Add(off);
        all.Add(off);
      }
      means.cell.push_back(cell.Value() / static_cast<double>(data.repeats));
    }
  }
  for (ExactSum& sum : a)
    means.a.push_back(sum.Value() / static_cast<double>(data.levels_b * data.repeats));
  for (ExactSum& sum : b)
    means.b.push_back(sum.Value() / static_cast<double>(data.levels_a * data.repeats));
  means.all = all.Value() / static_cast<double>(data.values.size());
  return means;
}

void FillSquares(const CrossedData& data, double pivot, const CrossedMeans& m, TwoWayAnova& out) {
  const double repeats = static_cast<double>(data.repeats);
  ExactSum a, b, ab, error;
  for (std::size_t i = 0; i < data.levels_a; ++i) {
    const double own = m.a[i] - m.all;
    a.Add(own * own * static_cast<double>(data.levels_b) * repeats);
    for (std::size_t j = 0; j < data.levels_b; ++j) {
      const double cell = m.cell[i * data.levels_b + j];
      const double left = (cell - m.a[i]) - (m.b[j] - m.all);
      ab.Add(left * left * repeats);
      for (std::size_t r = 0; r < data.repeats; ++r) {
        const double off = (data.At(i, j, r) - pivot) - cell;
        error.Add(off * off);
      }
    }
  }
  for (std::size_t j = 0; j < data.levels_b; ++j) {
    const double own = m.b[j] - m.all;
    b.Add(own * own * static_cast<double>(data.levels_a) * repeats);
  }
  out.a = LineOf(a.Value(), data.levels_a - 1);
  out.b = LineOf(b.Value(), data.levels_b - 1);
  out.interaction = LineOf(ab.Value(), (data.levels_a - 1) * (data.levels_b - 1));
  out.error = LineOf(error.Value(), data.levels_a * data.levels_b * (data.repeats - 1));
}

}  // namespace

Result<TwoWayAnova> TwoWay(const CrossedData& data) {
  if (data.levels_a < 2 || data.levels_b < 2 || data.repeats < 1 ||
      data.values.size() != data.levels_a * data.levels_b * data.repeats) {
    return Fail(Code::kUsage,
                "analysis of variance: two factors of at least two levels, each with "
                "each, equally often");
  }
  if (auto status = CheckFinite(data.values); !status) return tl::unexpected(status.error());
  const double pivot = data.values.front();
  const CrossedMeans means = MeansOf(data, pivot);
  TwoWayAnova out;
  FillSquares(data, pivot, means, out);
  TestAgainst(out.a, out.interaction);
  TestAgainst(out.b, out.interaction);
  TestAgainst(out.interaction, out.error);
  out.pooled = LineOf(out.interaction.ss + out.error.ss, out.interaction.df + out.error.df);
  AnovaLine a = LineOf(out.a.ss, out.a.df), b = LineOf(out.b.ss, out.b.df);
  TestAgainst(a, out.pooled);
  TestAgainst(b, out.pooled);
  out.f_a_pooled = a.f;
  out.p_a_pooled = a.p;
  out.f_b_pooled = b.f;
  out.p_b_pooled = b.p;
  out.total_ss = out.a.ss + out.b.ss + out.pooled.ss;
  out.total_df = data.values.size() - 1;
  out.mean = pivot + means.all;
  for (double mean : means.a) out.mean_a.push_back(pivot + mean);
  for (double mean : means.b) out.mean_b.push_back(pivot + mean);
  for (double mean : means.cell) out.mean_cell.push_back(pivot + mean);
  return out;
}

}  // namespace cutface
