// Repeats within cuts within pieces.
#include <algorithm>
#include <cmath>

#include "cutface/stats.h"
#include "study/internal.h"

namespace cutface {
namespace {

// Variances of the three levels; `repeats` not set: every cut was measured once.
struct RecutVariances {
  std::optional<double> repeats;
  double cuts = 0, pieces = 0;
};

std::vector<NamedVariance> PartsOfRecut(const RecutVariances& v) {
  const double repeats = v.repeats.value_or(0);
  std::vector<NamedVariance> parts;
  if (v.repeats) parts.push_back({"repeats", repeats});
  parts.push_back({"cuts", v.cuts});
  parts.push_back({"gauge", repeats + v.cuts});
  parts.push_back({"pieces", v.pieces});
  parts.push_back({"all", repeats + v.cuts + v.pieces});
  return parts;
}

// Variances by the method of moments, also of unequal numbers: these give no interval.
SpreadTable UnequalTable(const RecutVariances& variances, const SubjectStudy& out) {
  SpreadTable table;
  table.told = true;
  for (const NamedVariance& one : PartsOfRecut(variances)) {
    SpreadPart part;
    part.source = one.source;
    part.variance = one.variance;
    table.parts.push_back(std::move(part));
  }
  FinishSpread(table, out);
  return table;
}

// Equal numbers of cuts and repeats. `between` is the line of the pieces, without repeats that of
// pieces over cuts.
SpreadTable EqualTable(const NestedAnova& found, const NestedLevel& between, double readings,
                       const SubjectStudy& out) {
  const NestedLevel &cuts = found.levels[1], &repeats = found.levels[2];
  const double each_piece = readings / static_cast<double>(between.groups);
  const double each_cut = readings / static_cast<double>(cuts.groups);
  std::vector<MeanSquare> seen;
  for (const NestedLevel* level : {&between, &cuts})
    seen.push_back({level->line.ms, static_cast<double>(level->line.df)});
  const bool repeated = repeats.line.df > 0;
  if (repeated) seen.push_back({repeats.line.ms, static_cast<double>(repeats.line.df)});
  return SpreadOfSquares(
      seen,
      [=](std::span<const double> ms) {
        RecutVariances v;
        if (repeated) v.repeats = ms[2];
        v.cuts = repeated ? std::max(0.0, (ms[1] - ms[2]) / each_cut) : ms[1];
        v.pieces = std::max(0.0, (ms[0] - ms[1]) / each_piece);
        return PartsOfRecut(v);
      },
      out);
}

void FillPreparation(const NestedAnova& found, double readings, double cut_variance,
                     SubjectStudy& out) {
  const NestedLevel& cuts = found.levels[1];
  out.preparation_u = std::sqrt(cut_variance);
  out.preparation_note = "upper bound, includes the part";
  if (found.levels[2].line.df > 0 && cut_variance == 0) {
    out.preparation_u = std::sqrt(cuts.line.ms * static_cast<double>(cuts.groups) / readings);
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

}  // namespace

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
  const NestedLevel &cuts = found->levels[1], &repeats = found->levels[2];
  if (cuts.line.df == 0) {
    out.by_anova.reason = "no piece was cut twice";
    return;
  }
  out.anova = {{"pieces", found->levels[0].line.ss, found->levels[0].line.df,
                found->levels[0].line.ms, found->levels[0].line.f, found->levels[0].line.p},
               {"cuts", cuts.line.ss, cuts.line.df, cuts.line.ms, cuts.line.f, cuts.line.p}};
  NestedLevel between = found->levels[0];
  RecutVariances variances;
  if (repeats.line.df > 0) {
    out.anova.push_back({"repeats", repeats.line.ss, repeats.line.df, repeats.line.ms, {}, {}});
    variances = {*repeats.variance, std::max(0.0, *cuts.variance),
                 std::max(0.0, between.variance.value_or(0))};
  } else {
    // One reading a cut: what cuts differ by holds the repeats too.
    std::vector<NestedValue> flat = values;
    for (NestedValue& value : flat) value.groups.resize(1);
    between = Nested(flat)->levels[0];
    variances = {{}, cuts.line.ms, std::max(0.0, between.variance.value_or(0))};
  }
  const auto readings = static_cast<double>(values.size());
  out.by_anova =
      found->balanced ? EqualTable(*found, between, readings, out) : UnequalTable(variances, out);
  if (repeats.line.df == 0)
    out.by_anova.reason = "every cut was measured once: cuts include the repeats";
  if (!found->balanced)
    out.by_anova.reason += std::string(out.by_anova.reason.empty() ? "" : "; ") +
                           "numbers of cuts or repeats differ: no intervals are given";
  FillPreparation(*found, readings, variances.cuts, out);
}

}  // namespace cutface
