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

// Variances of the study: repeats, persons, persons x pieces, pieces.
SpreadTable SpreadOf(double repeats, double persons, std::optional<double> interaction,
                     double pieces, const SubjectStudy& subject) {
  SpreadTable table;
  table.told = true;
  const double person_all = persons + interaction.value_or(0);
  const auto add = [&](std::string source, double variance) {
    SpreadPart part;
    part.source = std::move(source);
    part.variance = variance;
    table.parts.push_back(std::move(part));
  };
  add("repeats", repeats);
  add("persons", person_all);
  if (interaction) add("of these persons x pieces", *interaction);
  add("gauge", repeats + person_all);
  add("pieces", pieces);
  add("all", repeats + person_all + pieces);
  FinishSpread(table, subject);
  return table;
}

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
  SpreadTable& table = out.by_anova;
  table.told = true;
  table.reason = "one person, or none named: what persons differ by is not in it";
  const double repeats = *found->levels[1].variance;
  const double pieces = std::max(0.0, found->levels[0].variance.value_or(0));
  for (const auto& [source, variance] :
       std::initializer_list<std::pair<const char*, double>>{{"repeats", repeats},
                                                             {"gauge", repeats},
                                                             {"pieces", pieces},
                                                             {"all", repeats + pieces}}) {
    SpreadPart part;
    part.source = source;
    part.variance = variance;
    table.parts.push_back(std::move(part));
  }
  FinishSpread(table, out);
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
  for (const char* source : {"gauge", "all"}) {
    SpreadPart part;
    part.source = source;
    part.variance = sd * sd;
    table.parts.push_back(std::move(part));
  }
  table.told = true;
  table.reason = "one piece: persons and repeats together; there are no pieces to compare with";
  FinishSpread(table, out);
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
  const SpreadTable pooled =
      SpreadOf(found->pooled.ms, Component(found->b.ms, found->pooled.ms, pieces * trials), {},
               Component(found->a.ms, found->pooled.ms, persons * trials), out);
  if (found->error.df == 0) {
    out.pooled = true;
    out.by_anova = pooled;
    out.by_anova.reason = "one trial: repeats and persons x pieces cannot be told apart";
    return;
  }
  const SpreadTable kept =
      SpreadOf(found->error.ms, Component(found->b.ms, found->interaction.ms, pieces * trials),
               Component(found->interaction.ms, found->error.ms, trials),
               Component(found->a.ms, found->interaction.ms, persons * trials), out);
  out.pooled = found->interaction.p && *found->interaction.p > options.pool_above;
  out.by_anova = out.pooled ? pooled : kept;
  out.other_anova = out.pooled ? kept : pooled;
}

void StudyRecut(SubjectStudy& out) {
  std::vector<NestedValue> values;
  for (const StudyReading& reading : out.subject.readings)
    if (reading.value) values.push_back({{reading.piece, reading.cut}, *reading.value});
  const auto found = Nested(values);
  if (!found) {
    out.by_anova.reason = found.error().message;
    return;
  }
  out.pieces = found->levels[0].groups;
  const NestedLevel& between = found->levels[0];
  NestedLevel cuts = found->levels[1];
  const NestedLevel& repeats = found->levels[2];
  if (cuts.line.df == 0) {
    out.by_anova.reason = "no piece was cut twice";
    return;
  }
  out.anova = {RowOf("pieces", between.line), RowOf("cuts", cuts.line)};
  SpreadTable& table = out.by_anova;
  double repeat_variance = 0, cut_variance = 0;
  double piece_variance = 0;
  if (repeats.line.df > 0) {
    out.anova.push_back(RowOf("repeats", repeats.line));
    repeat_variance = *repeats.variance;
    cut_variance = std::max(0.0, *cuts.variance);
    piece_variance = std::max(0.0, between.variance.value_or(0));
  } else {
    // One reading a cut: what cuts differ by holds the repeats too.
    std::vector<NestedValue> flat = values;
    for (NestedValue& value : flat) value.groups.resize(1);
    const auto one = Nested(flat);
    cut_variance = cuts.line.ms;
    piece_variance = std::max(0.0, one->levels[0].variance.value_or(0));
    table.reason = "every cut was measured once: cuts include the repeats";
  }
  table.told = true;
  const auto add = [&](std::string source, double variance) {
    SpreadPart part;
    part.source = std::move(source);
    part.variance = variance;
    table.parts.push_back(std::move(part));
  };
  if (repeats.line.df > 0) add("repeats", repeat_variance);
  add("cuts", cut_variance);
  add("gauge", repeat_variance + cut_variance);
  add("pieces", piece_variance);
  add("all", repeat_variance + cut_variance + piece_variance);
  FinishSpread(table, out);
  out.preparation_u = std::sqrt(cut_variance);
  out.preparation_note = "upper bound, includes the part";
  if (repeats.line.df > 0 && cut_variance == 0) {
    out.preparation_u = std::sqrt(cuts.line.ms * static_cast<double>(cuts.groups) /
                                  static_cast<double>(values.size()));
    out.preparation_note += "; cuts differ by no more than repeats: their spread as seen is given";
  }
  if (cuts.line.df < 10) {
    out.preparation_note += "; few degrees of freedom (" + std::to_string(cuts.line.df) +
                            "): the figure itself is uncertain by " +
                            std::to_string(static_cast<int>(std::lround(
                                100 / std::sqrt(2.0 * static_cast<double>(cuts.line.df))))) +
                            " % (one standard deviation)";
  }
}

}  // namespace cutface
