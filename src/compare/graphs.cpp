// A row's plots: one question each, the answer first.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "compare/internal.h"
#include "cutface/picture.h"

namespace cutface {
namespace {

constexpr std::size_t kMostMarks = 300;  // more than these run into each other on a page

std::string AxisTitle(const RunRow& row) {
  return row.unit.empty() || row.unit == "1" ? row.subject : row.subject + ", " + row.unit;
}

void AddLimits(const RunRow& row, bool upright, Graph& graph) {
  if (row.min)
    graph.rules.push_back(
        {*row.min, upright, LineStyle::kSolid, "least allowed " + RowFigure(*row.min, row)});
  if (row.max)
    graph.rules.push_back(
        {*row.max, upright, LineStyle::kSolid, "most allowed " + RowFigure(*row.max, row)});
}

// Which of n values are drawn: all, or evenly thinned with those that matter.
std::vector<std::size_t> Drawn(std::size_t n, const std::set<std::size_t>& kept) {
  std::vector<std::size_t> at;
  const std::size_t step = (n + kMostMarks - 1) / kMostMarks;
  for (std::size_t i = 0; i < n; ++i) {
    if (i % step == 0 || kept.count(i) > 0) at.push_back(i);
  }
  return at;
}

std::string Thinned(std::size_t n) {
  return n <= kMostMarks
             ? ""
             : fmt::format(" One of {} parts is drawn.", (n + kMostMarks - 1) / kMostMarks);
}

std::string Names(const RowStudy& study, const std::vector<std::size_t>& at) {
  std::string text;
  for (std::size_t i = 0; i < at.size() && i < 5; ++i)
    text += (i > 0 ? ", " : "") + study.parts[at[i]].label;
  return text + (at.size() > 5 ? " ..." : "");
}

std::string SteadyAnswer(const RowStudy& study) {
  const IndividualsChart& c = *study.chart;
  const std::string order = study.timed ? "in the order of the pictures" : "in the list's order";
  std::string answer;
  if (c.beyond.empty() && c.one_side.empty()) {
    answer = fmt::format(
        "Nothing unusual {}: no part beyond the limits that the parts' own moving "
        "ranges give, no nine in a row on one side",
        order);
  } else {
    if (!c.beyond.empty())
      answer =
          fmt::format("Not steady {}: {} beyond the limits that the moving ranges give ({})", order,
                      CountedWord(c.beyond.size(), "part is", "parts are"), Names(study, c.beyond));
    if (!c.one_side.empty())
      answer += fmt::format("{} nine or more in a row lie on one side of the mean",
                            answer.empty() ? "Not steady " + order + ":" : ";");
  }
  if (study.parts.size() < 20)
    answer += fmt::format("; {} parts see large shifts only", study.parts.size());
  return answer + "." + Thinned(study.parts.size());
}

PlotAxis PartAxis(const RowStudy& study) {
  PlotAxis axis;
  axis.title = study.timed ? "parts by the time of their first picture" : "parts as listed";
  if (study.parts.size() <= 30) {
    for (std::size_t i = 0; i < study.parts.size(); ++i)
      axis.ticks.emplace_back(static_cast<double>(i + 1), study.parts[i].label);
  }
  axis.range = {{0.5, static_cast<double>(study.parts.size()) + 0.5}};
  return axis;
}

Graph RunOrder(const RowStudy& study) {
  const IndividualsChart& c = *study.chart;
  Graph graph;
  graph.id = "run-order";
  graph.question = "Do the parts stay steady?";
  graph.answer = SteadyAnswer(study);
  graph.x = PartAxis(study);
  graph.y.title = AxisTitle(study.row);
  graph.aspect = 0.36;
  const std::set<std::size_t> beyond(c.beyond.begin(), c.beyond.end());
  PlotMarks inside{{}, PlotShape::kDot, PlotTone::kCool, "part, with its own 95 % interval"};
  PlotMarks outside{{}, PlotShape::kTriangle, PlotTone::kWarm, "part beyond the chart's limits"};
  PlotPath path{{}, false, LineStyle::kSolid, PlotTone::kPale, 0.6, ""};
  for (const std::size_t i : Drawn(study.parts.size(), beyond)) {
    const PartValue& part = study.parts[i];
    const auto x = static_cast<double>(i + 1);
    (beyond.count(i) > 0 ? outside : inside).points.push_back({x, part.value, part.lo, part.hi});
    path.points.emplace_back(x, part.value);
  }
  graph.paths.push_back(path);
  graph.marks.push_back(inside);
  if (!outside.points.empty()) graph.marks.push_back(outside);
  graph.rules.push_back({c.centre, false, LineStyle::kDotted, "mean"});
  graph.rules.push_back({c.lower, false, LineStyle::kDashed, "3 spreads of moving ranges below"});
  graph.rules.push_back({c.upper, false, LineStyle::kDashed, "3 spreads of moving ranges above"});
  AddLimits(study.row, false, graph);
  return graph;
}

Graph MovingRanges(const RowStudy& study) {
  const IndividualsChart& c = *study.chart;
  Graph graph;
  graph.id = "moving-range";
  graph.question = "Do neighbours differ more than usual?";
  graph.answer = (c.range_beyond.empty()
                      ? std::string("No step from part to part is larger than chance explains")
                      : fmt::format("{} larger than chance explains (before {})",
                                    CountedWord(c.range_beyond.size(), "step is", "steps are"),
                                    [&] {
                                      std::vector<std::size_t> after;
                                      for (const std::size_t at : c.range_beyond)
                                        after.push_back(at + 1);
                                      return Names(study, after);
                                    }())) +
                 "." + Thinned(study.parts.size());
  graph.x = PartAxis(study);
  graph.x.ticks.clear();
  graph.y.title = "step from the part before";
  graph.aspect = 0.26;
  const std::set<std::size_t> beyond(c.range_beyond.begin(), c.range_beyond.end());
  PlotMarks inside{{}, PlotShape::kDot, PlotTone::kCool, ""};
  PlotMarks outside{{}, PlotShape::kTriangle, PlotTone::kWarm, "step beyond the limit"};
  for (const std::size_t i : Drawn(c.ranges.size(), beyond))
    (beyond.count(i) > 0 ? outside : inside)
        .points.push_back({static_cast<double>(i + 2), c.ranges[i], {}, {}});
  graph.marks.push_back(inside);
  if (!outside.points.empty()) graph.marks.push_back(outside);
  graph.rules.push_back({c.mean_range, false, LineStyle::kDotted, "mean step"});
  graph.rules.push_back({c.range_upper, false, LineStyle::kDashed, "limit of chance"});
  graph.y.range = {
      {0, 1.15 * std::max(c.range_upper, *std::max_element(c.ranges.begin(), c.ranges.end()))}};
  return graph;
}

Graph Probability(const RowStudy& study) {
  Graph graph;
  graph.id = "probability";
  graph.question = "Do the values look normal?";
  graph.answer =
      study.normality->p < 0.05
          ? fmt::format(
                "They do not look normal (Anderson-Darling p {}): bounds that take them "
                "for normal are doubtful.",
                ProbabilityText(study.normality->p))
          : fmt::format(
                "Nothing speaks against a normal distribution (Anderson-Darling p {}); {} "
                "parts cannot prove it.",
                ProbabilityText(study.normality->p), study.parts.size());
  graph.answer += Thinned(study.plot.size());
  graph.x.title = AxisTitle(study.row);
  graph.y.title = "share of parts below, normal scale";
  graph.aspect = 0.5;
  for (const auto& [p, text] : {std::pair{0.001, "0.1 %"},
                                {0.01, "1 %"},
                                {0.05, "5 %"},
                                {0.2, "20 %"},
                                {0.5, "50 %"},
                                {0.8, "80 %"},
                                {0.95, "95 %"},
                                {0.99, "99 %"},
                                {0.999, "99.9 %"}})
    graph.y.ticks.emplace_back(NormalQuantile(p), text);
  const std::size_t n = study.plot.size();
  PlotMarks marks{{}, PlotShape::kRing, PlotTone::kCool, "part"};
  for (const std::size_t i : Drawn(n, {0, n - 1}))
    marks.points.push_back({study.plot[i].value, study.plot[i].z, {}, {}});
  const double mean = study.summary->mean, sd = *study.summary->sd;
  const double z = std::max(2.0, study.plot.back().z + 0.3);
  graph.paths.push_back({{{mean - z * sd, -z}, {mean + z * sd, z}},
                         false,
                         LineStyle::kSolid,
                         PlotTone::kPlain,
                         1,
                         "normal with this mean and spread"});
  graph.marks.push_back(marks);
  graph.y.range = {{-z - 0.2, z + 0.2}};
  AddLimits(study.row, true, graph);
  return graph;
}

Graph Strip(const RowStudy& study) {
  Graph graph;
  graph.id = "bound";
  graph.question = "Do such parts keep to the limit?";
  graph.answer = study.sentence;
  graph.x.title = AxisTitle(study.row);
  graph.y.range = {{0, 3}};
  graph.y.ticks = {{2, "parts"}, {1, "95 % of the mean"}};
  graph.aspect = 0.22;
  PlotMarks marks{{}, PlotShape::kRing, PlotTone::kCool, ""};
  std::set<std::size_t> kept;
  for (std::size_t i = 0; i < study.parts.size(); ++i) {
    if (study.parts[i].outside) kept.insert(i);
  }
  for (const std::size_t i : Drawn(study.parts.size(), kept))
    marks.points.push_back({study.parts[i].value, 2, {}, {}});
  graph.marks.push_back(marks);
  if (study.mean_interval)
    graph.paths.push_back({{{study.mean_interval->lo, 1}, {study.mean_interval->hi, 1}},
                           false,
                           LineStyle::kSolid,
                           PlotTone::kPlain,
                           2.2,
                           ""});
  if (study.bound) {
    const auto rule = [&](double at) {
      graph.rules.push_back(
          {at, true, LineStyle::kDashed,
           fmt::format("bound {:g}/{:g}: {}", 100 * study.bound->wish.confidence,
                       100 * study.bound->wish.coverage, RowFigure(at, study.row))});
    };
    if (study.bound->lower) rule(*study.bound->lower);
    if (study.bound->upper) rule(*study.bound->upper);
  }
  AddLimits(study.row, true, graph);
  return graph;
}

}  // namespace

std::vector<Graph> RowGraphs(const RowStudy& study) {
  std::vector<Graph> graphs;
  if (!study.n || study.row.count || !study.summary || study.parts.size() < 2 ||
      !(*study.summary->sd > 0))
    return graphs;
  graphs.push_back(Strip(study));
  graphs.push_back(RunOrder(study));
  if (study.parts.size() >= 8) graphs.push_back(MovingRanges(study));
  if (study.normality) graphs.push_back(Probability(study));
  return graphs;
}

Graph TrendGraph(const StationTrend& trend) {
  Graph graph;
  graph.id = "along";
  graph.question = "Does it change along the part?";
  graph.answer = trend.sentence;
  graph.x.title = "station, mm";
  graph.y.title =
      trend.unit.empty() || trend.unit == "1" ? trend.subject : trend.subject + ", " + trend.unit;
  graph.aspect = 0.42;
  const double span = trend.stations_mm.back() - trend.stations_mm.front();
  graph.x.range = {
      {trend.stations_mm.front() - 0.06 * span, trend.stations_mm.back() + 0.06 * span}};
  for (const double station : trend.stations_mm)
    graph.x.ticks.emplace_back(station, fmt::format("{:g}", station));
  PlotMarks marks{{}, PlotShape::kRing, PlotTone::kCool, "part at a station"};
  constexpr std::size_t kMostParts = 60;
  const std::size_t step = (trend.labels.size() + kMostParts - 1) / kMostParts;
  PlotPath path{
      {}, false, LineStyle::kDotted, PlotTone::kPale, 0.9, "same part; in between: unknown"};
  std::size_t last_part = trend.labels.size(), last_station = 0;
  const auto finish = [&] {
    if (path.points.size() > 1) {
      graph.paths.push_back(path);
      path.key.clear();
    }
    path.points.clear();
  };
  for (const StationPoint& p : trend.points) {
    if (p.part % step != 0) continue;
    const auto at = static_cast<std::size_t>(
        std::find(trend.stations_mm.begin(), trend.stations_mm.end(), p.station_mm) -
        trend.stations_mm.begin());
    // A station without a value breaks the part's line.
    if (p.part != last_part || at != last_station + 1) finish();
    path.points.emplace_back(p.station_mm, p.value);
    marks.points.push_back({p.station_mm, p.value, {}, {}});
    last_part = p.part, last_station = at;
  }
  finish();
  graph.marks.push_back(marks);
  PlotMarks means{{}, PlotShape::kSquare, PlotTone::kPlain, "mean of the station"};
  for (std::size_t i = 0; i < trend.stations_mm.size(); ++i) {
    if (trend.at[i].n > 0) means.points.push_back({trend.stations_mm[i], trend.at[i].mean, {}, {}});
  }
  graph.marks.push_back(means);
  return graph;
}

}  // namespace cutface
