// What a factor of the run does to a row: analysis of variance with faces nested in parts.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "compare/internal.h"
#include "cutface/anova.h"

namespace cutface {
namespace {

// A face's value with its part and the part's level.
struct Tagged {
  std::string part, level;
  double value = 0;
};

// Faces of rows that ask the same of the same feature, at whatever plane.
struct SameAsk {
  RunRow row;
  std::vector<Tagged> values;
  std::set<std::string> planes;
  int without = 0;  // values of parts without a level
};

std::string PartOf(const FaceEntry& entry) { return entry.sample.lot + "\n" + entry.sample.serial; }

std::vector<SameAsk> Asks(const Run& run, const std::string& factor) {
  std::vector<SameAsk> asks;
  for (const RunFace& face : run.faces) {
    const FaceEntry& entry = run.roster.faces[face.entry];
    const auto level = entry.factors.find(factor);
    const std::vector<std::size_t>& rows = run.rows_of.at(entry.plane);
    for (std::size_t column = 0; column < rows.size(); ++column) {
      const RunRow& row = run.rows[rows[column]];
      if (row.count || !face.cells[column].value) continue;
      auto ask = std::find_if(asks.begin(), asks.end(), [&](const SameAsk& a) {
        return a.row.of == row.of && a.row.quantity == row.quantity && a.row.unit == row.unit &&
               a.row.min == row.min && a.row.max == row.max && a.row.nominal == row.nominal;
      });
      if (ask == asks.end()) {
        asks.push_back({row, {}, {}, 0});
        ask = std::prev(asks.end());
      }
      if (level == entry.factors.end() || level->second.empty()) {
        ++ask->without;
        continue;
      }
      double value = *face.cells[column].value;
      if (row.circular && row.nominal) value = Unwrapped(value, *row.nominal);
      ask->values.push_back({PartOf(entry), level->second, value});
      ask->planes.insert(row.plane);
    }
  }
  return asks;
}

// One value a part: the mean of its faces.
std::map<std::string, std::map<std::string, double>> PartMeans(const SameAsk& ask) {
  std::map<std::string, std::map<std::string, std::vector<double>>> values;
  for (const Tagged& t : ask.values) values[t.level][t.part].push_back(t.value);
  std::map<std::string, std::map<std::string, double>> means;
  for (const auto& [level, parts] : values) {
    for (const auto& [part, list] : parts) means[level][part] = Mean(list);
  }
  return means;
}

// Parts of several faces: the level is tested against parts within levels, never against faces.
void TestLevels(const SameAsk& ask, FactorEffect& effect) {
  const bool nested = static_cast<std::size_t>(effect.parts) < ask.values.size();
  effect.faces = static_cast<int>(ask.values.size());
  std::vector<std::vector<double>> groups;
  for (const FactorLevel& level : effect.levels) groups.push_back(level.values);
  const auto one_way = OneWay(groups);
  if (!one_way) {
    effect.sentence = "too few parts per level to tell an effect";
    return;
  }
  effect.share = one_way->r_squared;
  effect.f = one_way->between.f;
  effect.p = one_way->between.p;
  if (nested) {
    std::vector<NestedValue> values;
    for (const Tagged& t : ask.values) values.push_back({{t.level, t.part}, t.value});
    if (const auto all = Nested(values); all && all->levels.size() == 3) {
      effect.nested = true;
      effect.variance_parts = all->levels[1].variance;
      effect.variance_within = all->levels[2].variance;
    }
  }
  const auto dof = static_cast<double>(one_way->within.df);
  const double t = StudentQuantile(0.975, dof);
  for (FactorLevel& level : effect.levels) {
    const double half =
        t * one_way->residual_sd / std::sqrt(static_cast<double>(level.values.size()));
    level.interval = Interval{level.mean - half, level.mean + half};
  }
}

void Say(FactorEffect& effect) {
  if (!effect.p) {
    if (effect.sentence.empty()) effect.sentence = "no effect can be tested";
    return;
  }
  std::string means;
  for (const FactorLevel& level : effect.levels)
    means += fmt::format("{}{} {} ({})", means.empty() ? "" : ", ", level.name,
                         RowFigure(level.mean, effect.row), level.values.size());
  effect.sentence = fmt::format(
      "{} {}: {}; F {:.2f}, p {} ({} for all rows together), {:.0f} % of the variance between "
      "parts",
      effect.factor, effect.p_all < 0.05 ? "has an effect" : "has no effect that is shown", means,
      effect.f.value_or(0), ProbabilityText(*effect.p), ProbabilityText(effect.p_all),
      100 * effect.share);
}

}  // namespace

std::vector<FactorEffect> FactorEffects(const Run& run, const std::string& factor) {
  std::vector<FactorEffect> effects;
  for (const SameAsk& ask : Asks(run, factor)) {
    FactorEffect effect;
    effect.factor = factor;
    effect.row = ask.row;
    effect.planes.assign(ask.planes.begin(), ask.planes.end());
    std::map<std::string, int> levels_of;
    for (const auto& [level, parts] : PartMeans(ask)) {
      FactorLevel one{level, {}, 0, {}};
      for (const auto& [part, mean] : parts) {
        one.values.push_back(mean);
        ++levels_of[part];
      }
      one.mean = Mean(one.values);
      effect.parts += static_cast<int>(one.values.size());
      effect.levels.push_back(std::move(one));
    }
    const bool mixed = std::any_of(levels_of.begin(), levels_of.end(),
                                   [](const auto& part) { return part.second > 1; });
    if (effect.levels.size() < 2) continue;
    if (mixed) {
      effect.sentence = "a part stands under two levels; nothing is told";
    } else {
      TestLevels(ask, effect);
    }
    effect.without = ask.without;
    effects.push_back(std::move(effect));
  }
  std::vector<double> p;
  for (const FactorEffect& effect : effects) {
    if (effect.p) p.push_back(*effect.p);
  }
  const std::vector<double> all = HolmAdjusted(p);
  std::size_t at = 0;
  for (FactorEffect& effect : effects) {
    if (effect.p) effect.p_all = all[at++];
  }
  for (FactorEffect& effect : effects) Say(effect);
  return effects;
}

Graph FactorGraph(const FactorEffect& effect) {
  Graph graph;
  graph.id = "factor";
  graph.question = fmt::format("What does {} do to {}?", effect.factor, effect.row.subject);
  graph.answer = effect.sentence + ".";
  graph.y.title =
      effect.row.unit == "1" ? effect.row.subject : effect.row.subject + ", " + effect.row.unit;
  graph.x.title = effect.factor;
  graph.aspect = 0.34;
  PlotMarks parts{{}, PlotShape::kRing, PlotTone::kCool, "part"};
  PlotMarks means{{}, PlotShape::kSquare, PlotTone::kPlain, "mean, 95 %"};
  for (std::size_t i = 0; i < effect.levels.size(); ++i) {
    const FactorLevel& level = effect.levels[i];
    const auto x = static_cast<double>(i + 1);
    graph.x.ticks.emplace_back(x, level.name);
    const std::size_t step = (level.values.size() + 399) / 400;
    for (std::size_t v = 0; v < level.values.size(); v += step)
      parts.points.push_back({x - 0.08, level.values[v], {}, {}});
    means.points.push_back({x + 0.08, level.mean,
                            level.interval ? std::optional(level.interval->lo) : std::nullopt,
                            level.interval ? std::optional(level.interval->hi) : std::nullopt});
  }
  graph.x.range = {{0.5, static_cast<double>(effect.levels.size()) + 0.5}};
  graph.marks = {parts, means};
  if (effect.row.min)
    graph.rules.push_back({*effect.row.min, false, LineStyle::kSolid, "least allowed"});
  if (effect.row.max)
    graph.rules.push_back({*effect.row.max, false, LineStyle::kSolid, "most allowed"});
  return graph;
}

}  // namespace cutface
