// Pieces x persons x trials by analysis of variance.
#include <algorithm>
#include <cmath>

#include "cutface/anova.h"
#include "cutface/stats.h"
#include "study/internal.h"

namespace cutface {
namespace {

VarianceRow RowOf(std::string source, const AnovaLine& line) {
  return {std::move(source), line.ss, line.df, line.ms, line.f, line.p};
}

double Component(double above, double below, double times) {
  return std::max(0.0, (above - below) / times);
}

MeanSquare SquareOf(const AnovaLine& line) { return {line.ms, static_cast<double>(line.df)}; }

void OnePerson(const CrossedReadings& readings, SubjectStudy& out) {
  std::vector<NestedValue> values;
  for (std::size_t i = 0; i < readings.pieces.size(); ++i)
    for (std::size_t r = 0; r < readings.trials; ++r)
      values.push_back({{readings.pieces[i]}, readings.values[i * readings.trials + r]});
  const auto found = Nested(values);
  if (!found || !found->levels[1].variance) {
    out.by_anova.reason = found ? "every piece was measured once" : found.error().message;
    return;
  }
  out.anova.push_back(RowOf("pieces", found->levels[0].line));
  out.anova.push_back(RowOf("repeats", found->levels[1].line));
  const double trials = static_cast<double>(readings.trials);
  out.by_anova = SpreadOfSquares(
      {SquareOf(found->levels[0].line), SquareOf(found->levels[1].line)},
      [=](std::span<const double> ms) -> std::vector<NamedVariance> {
        const double pieces = Component(ms[0], ms[1], trials);
        return {{"repeats", ms[1]}, {"gauge", ms[1]}, {"pieces", pieces}, {"all", ms[1] + pieces}};
      },
      out);
  out.by_anova.reason = "one person, or none named: what persons differ by is not in it";
}

// Pieces, persons, and repeats with what persons do to pieces.
SpreadTable PooledTable(const TwoWayAnova& found, double pieces, double persons, double trials,
                        bool intervals, const SubjectStudy& out) {
  return SpreadOfSquares(
      {SquareOf(found.a), SquareOf(found.b), SquareOf(found.pooled)},
      [=](std::span<const double> ms) -> std::vector<NamedVariance> {
        const double person = Component(ms[1], ms[2], pieces * trials);
        const double piece = Component(ms[0], ms[2], persons * trials);
        return {{"repeats", ms[2]},
                {"persons", person},
                {"gauge", ms[2] + person},
                {"pieces", piece},
                {"all", ms[2] + person + piece}};
      },
      out, intervals);
}

SpreadTable KeptTable(const TwoWayAnova& found, double pieces, double persons, double trials,
                      bool intervals, const SubjectStudy& out) {
  return SpreadOfSquares(
      {SquareOf(found.a), SquareOf(found.b), SquareOf(found.interaction), SquareOf(found.error)},
      [=](std::span<const double> ms) -> std::vector<NamedVariance> {
        const double both = Component(ms[2], ms[3], trials);
        const double person = Component(ms[1], ms[2], pieces * trials) + both;
        const double piece = Component(ms[0], ms[2], persons * trials);
        return {{"repeats", ms[3]},        {"persons", person}, {"of these persons x pieces", both},
                {"gauge", ms[3] + person}, {"pieces", piece},   {"all", ms[3] + person + piece}};
      },
      out, intervals);
}

}  // namespace

// One piece again and again: its repeats, whoever made them.
static void OnePiece(const CrossedReadings& readings, SubjectStudy& out) {
  SpreadTable& table = out.by_anova;
  if (readings.values.size() < 2) {
    table.reason = "one reading";
    return;
  }
  const double sd = StandardDeviation(readings.values);
  table = SpreadOfSquares(
      {{sd * sd, static_cast<double>(readings.values.size() - 1)}},
      [](std::span<const double> ms) -> std::vector<NamedVariance> {
        return {{"gauge", ms[0]}, {"all", ms[0]}};
      },
      out);
  table.reason = "one piece: persons and repeats together; there are no pieces to compare with";
}

void StudyCrossed(const CrossedReadings& readings, const StudyOptions& options, SubjectStudy& out) {
  if (readings.pieces.size() < 2) {
    OnePiece(readings, out);
    return;
  }
  if (readings.persons.size() < 2) {
    OnePerson(readings, out);
    return;
  }
  const CrossedData data{readings.pieces.size(), readings.persons.size(), readings.trials,
                         readings.values};
  const auto found = TwoWay(data);
  if (!found) {
    out.by_anova.reason = found.error().message;
    return;
  }
  const double pieces = static_cast<double>(data.levels_a);
  const double persons = static_cast<double>(data.levels_b);
  const double trials = static_cast<double>(data.repeats);
  out.anova = {RowOf("pieces", found->a), RowOf("persons", found->b),
               RowOf("persons x pieces", found->interaction)};
  if (found->error.df > 0) out.anova.push_back(RowOf("repeats", found->error));
  AnovaLine total;
  total.ss = found->total_ss;
  total.df = found->total_df;
  total.ms = total.ss / static_cast<double>(total.df);
  out.anova.push_back(RowOf("all", total));
  // Intervals of the table that counts; the other one stands beside it.
  const bool one_trial = found->error.df == 0;
  out.pooled = one_trial || (found->interaction.p && *found->interaction.p > options.pool_above);
  const SpreadTable pooled = PooledTable(*found, pieces, persons, trials, out.pooled, out);
  if (one_trial) {
    out.by_anova = pooled;
    out.by_anova.reason = "one trial: repeats and persons x pieces cannot be told apart";
    return;
  }
  const SpreadTable kept = KeptTable(*found, pieces, persons, trials, !out.pooled, out);
  out.by_anova = out.pooled ? pooled : kept;
  out.other_anova = out.pooled ? kept : pooled;
}

}  // namespace cutface
