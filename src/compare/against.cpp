// One run against another one, row by row.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "compare/internal.h"
#include "cutface/picture.h"

namespace cutface {
namespace {

std::vector<double> ValuesIn(const RowStudy& study) {
  std::vector<double> values;
  for (const PartValue& part : study.parts) values.push_back(part.value);
  return values;
}

std::optional<double> UmOf(const std::string& unit) {
  const auto length = ParseLengthUnit(unit);
  return length ? std::optional(UmPer(*length)) : std::nullopt;
}

// The margin of a row in its unit, where the wish gives one.
std::optional<double> MarginOf(const MarginWish& wish, const RunRow& row, double reference_mean) {
  const auto in_row = [&](const MarginWish::Size& size) -> std::optional<double> {
    if (size.share) {
      if (row.min && row.max) return *size.share * (*row.max - *row.min);
      if (row.min) return *size.share * std::abs(reference_mean - *row.min);
      if (row.max) return *size.share * std::abs(*row.max - reference_mean);
      return std::nullopt;
    }
    const auto per = UmOf(row.unit);
    return per ? std::optional(size.um / *per) : std::nullopt;
  };
  const auto own = wish.of_row.find(row.no);
  if (own != wish.of_row.end()) return in_row(own->second);
  return wish.all ? in_row(*wish.all) : std::nullopt;
}

std::string Signed(double value, const RunRow& row) {
  return (value > 0 ? "+" : "") + RowFigure(value, row);
}

void SayDifference(RowDifference& d) {
  const RunRow& row = d.row;
  if (!d.shift) {
    d.sentence = d.run.size() < 2 || d.reference.size() < 2
                     ? "Fewer than two parts with a value in one of the runs; nothing is told."
                     : "Neither run has any spread; nothing is told.";
    return;
  }
  const MeanShift& s = *d.shift;
  d.sentence =
      fmt::format("{}: {} (95 %: {} to {}; {} and {} parts; p {}, {} for all rows together)",
                  d.p_all < 0.05 ? "Differs" : "No difference shown", Signed(s.value, row),
                  Signed(s.interval.lo, row), Signed(s.interval.hi, row), d.run.size(),
                  d.reference.size(), ProbabilityText(s.p), ProbabilityText(d.p_all));
  if (d.equivalence) {
    const Equivalence& e = *d.equivalence;
    d.sentence +=
        fmt::format("; {} within {} either way",
                    e.answer == Equivalence::Answer::kEquivalent  ? "equivalent"
                    : e.answer == Equivalence::Answer::kDifferent ? "not equivalent"
                                                                  : "equivalence not shown",
                    RowFigure(e.margin, row));
  }
  if (d.spread_ratio)
    d.sentence +=
        fmt::format("; spread {:.2f} times as large ({:.2f} to {:.2f})", d.spread_ratio->value,
                    d.spread_ratio->interval.lo, d.spread_ratio->interval.hi);
  d.sentence += ".";
}

void AdjustForAllRows(std::vector<RowDifference>& rows) {
  std::vector<double> p;
  for (const RowDifference& d : rows) {
    if (d.shift) p.push_back(d.shift->p);
  }
  const std::vector<double> all = HolmAdjusted(p);
  std::size_t at = 0;
  for (RowDifference& d : rows) {
    if (d.shift) d.p_all = all[at++];
  }
}

void AddMissing(const RowStudy& study, std::string_view which, RowDifference& d) {
  if (!study.missing.empty())
    d.doubts.push_back(fmt::format("{} of {} without a value",
                                   CountedWord(study.missing.size(), "part", "parts"), which));
  if (study.normality && study.normality->p < 0.05)
    d.doubts.push_back(
        fmt::format("the values of {} do not look normal (p {}); the ratio of "
                    "spreads leans on that",
                    which, ProbabilityText(study.normality->p)));
}

}  // namespace

Result<RunDifference> CompareAgainst(const Run& run, const Run& reference,
                                     const CompareOptions& options) {
  if (run.part != reference.part) {
    return Fail(
        Code::kDesignMismatch,
        fmt::format("--against: is part \"{}\", but the run is \"{}\"; runs of one part are "
                    "compared",
                    reference.part, run.part));
  }
  RunDifference difference;
  difference.reference_counts = CountsLine(reference.counts);
  if (!run.counts.n || !reference.counts.n) {
    difference.unmatched.push_back(
        "parts cannot be counted in one of the runs; nothing is compared");
    return difference;
  }
  for (std::size_t at = 0; at < run.rows.size(); ++at) {
    const RunRow& row = run.rows[at];
    if (row.count) continue;
    const auto same =
        std::find_if(reference.rows.begin(), reference.rows.end(), [&](const RunRow& other) {
          return other.plane == row.plane && other.quantity == row.quantity && other.of == row.of &&
                 other.unit == row.unit;
        });
    if (same == reference.rows.end()) {
      difference.unmatched.push_back(
          fmt::format("{} {}, {}: not in the other run", row.no, row.subject, row.plane));
      continue;
    }
    RowDifference d;
    d.row = row;
    RowStudy own, other;
    CollectParts(run, at, options, own);
    CollectParts(reference, static_cast<std::size_t>(same - reference.rows.begin()), options,
                 other);
    StudyRow(options, own);
    StudyRow(options, other);
    d.run = ValuesIn(own), d.reference = ValuesIn(other);
    if (row.circular && !d.run.empty()) {
      for (double& value : d.reference) value = Unwrapped(value, own.summary->mean);
    }
    if (row.min != same->min || row.max != same->max)
      d.doubts.push_back("the limits differ between the runs: " + same->requirement +
                         " in the other one");
    AddMissing(own, "this run", d);
    AddMissing(other, "the other run", d);
    if (d.run.size() >= 2 && d.reference.size() >= 2) {
      d.shift = MeanDifference(d.reference, d.run);
      d.spread_ratio = SpreadRatio(d.reference, d.run);
      const auto margin = MarginOf(options.margin, row, Mean(d.reference));
      if (d.shift && margin && *margin > 0) d.equivalence = TestEquivalence(*d.shift, *margin);
    }
    difference.rows.push_back(std::move(d));
  }
  AdjustForAllRows(difference.rows);
  for (RowDifference& d : difference.rows) SayDifference(d);
  return difference;
}

std::vector<Graph> DifferenceGraphs(const RunDifference& difference) {
  std::vector<Graph> graphs;
  Graph all;
  all.id = "against";
  all.question = "Which rows differ from the other run?";
  PlotMarks told{{}, PlotShape::kSquare, PlotTone::kWarm, "differs, all rows taken together"};
  PlotMarks open{{}, PlotShape::kRing, PlotTone::kCool, "no difference shown"};
  std::vector<std::string> names;
  double at = 0;
  for (const RowDifference& d : difference.rows) {
    if (!d.shift) continue;
    const double a = StandardDeviation(d.run), b = StandardDeviation(d.reference);
    const double spread = std::sqrt((a * a + b * b) / 2);
    ++at;
    all.y.ticks.emplace_back(-at, fmt::format("{} {}", d.row.no, d.row.plane));
    all.paths.push_back(
        {{{d.shift->interval.lo / spread, -at}, {d.shift->interval.hi / spread, -at}},
         false,
         LineStyle::kSolid,
         PlotTone::kPlain,
         1,
         ""});
    (d.p_all < 0.05 ? told : open).points.push_back({d.shift->value / spread, -at, {}, {}});
    if (d.p_all < 0.05) names.push_back(d.row.no + " " + d.row.subject);
  }
  if (at == 0) return graphs;
  std::string list;
  for (std::size_t i = 0; i < names.size() && i < 6; ++i) list += (i > 0 ? "; " : "") + names[i];
  all.answer = names.empty() ? "No row is shown to differ, all rows taken together."
                             : fmt::format("{}: {}{}.",
                                           CountedWord(names.size(), "row differs", "rows differ"),
                                           list, names.size() > 6 ? " ..." : "");
  all.x.title = "this run minus the other one, in spreads between parts, with 95 % intervals";
  all.y.range = {{-at - 0.7, -0.3}};
  all.aspect = std::min(1.3, 0.12 + 0.03 * at);
  all.rules.push_back({0, true, LineStyle::kDotted, "no difference"});
  for (PlotMarks* marks : {&told, &open}) {
    if (!marks->points.empty()) all.marks.push_back(*marks);
  }
  graphs.push_back(std::move(all));
  for (const RowDifference& d : difference.rows) {
    if (!d.shift || d.p_all >= 0.05) continue;
    Graph strip;
    strip.id = "against-row";
    strip.question = fmt::format("{} {}, {}", d.row.no, d.row.subject, d.row.plane);
    strip.answer = d.sentence;
    strip.x.title = d.row.unit == "1" ? d.row.subject : d.row.subject + ", " + d.row.unit;
    strip.y.ticks = {{2, "this run"}, {1, "other run"}};
    strip.y.range = {{0.3, 2.7}};
    strip.aspect = 0.2;
    PlotMarks mine{{}, PlotShape::kRing, PlotTone::kCool, ""};
    PlotMarks theirs{{}, PlotShape::kCross, PlotTone::kPlain, ""};
    const std::size_t most = 400;
    const auto put = [&](const std::vector<double>& values, double y, PlotMarks& marks) {
      const std::size_t step = (values.size() + most - 1) / most;
      for (std::size_t i = 0; i < values.size(); i += step)
        marks.points.push_back({values[i], y, {}, {}});
    };
    put(d.run, 2, mine);
    put(d.reference, 1, theirs);
    strip.marks = {mine, theirs};
    if (d.row.min) strip.rules.push_back({*d.row.min, true, LineStyle::kSolid, "least allowed"});
    if (d.row.max) strip.rules.push_back({*d.row.max, true, LineStyle::kSolid, "most allowed"});
    graphs.push_back(std::move(strip));
  }
  return graphs;
}

}  // namespace cutface
