// The section under pressure: what moves where, and how much each ligament bears.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "picture/build.h"

namespace cutface {
namespace {

const Measurement* Figure(const PressureBlock& block, const std::vector<std::string>& of,
                          std::string_view word) {
  for (const Measurement& m : block.figures) {
    if (m.of == of && m.quantity == word && m.state == Measurement::State::kMeasured) return &m;
  }
  return nullptr;
}

// One mark and label per loaded septum or wall: the finite elements' stress, else the formula's.
void AddLoaded(const SectionResult& result, DisplayList& list) {
  const PressureBlock& block = *result.pressure;
  int rank = 10;
  for (const Measurement& m : block.figures) {
    const bool elements = m.quantity == "ligament_stress" || m.quantity == "wall_stress";
    const bool formula = m.quantity == "strip_stress" || m.quantity == "hoop_stress";
    if ((!elements && !formula) || m.state != Measurement::State::kMeasured || m.at.size() != 2)
      continue;
    if (formula &&
        Figure(block, m.of, m.of.size() == 2 ? "ligament_stress" : "wall_stress") != nullptr)
      continue;
    DisplayItem mark;
    mark.kind = DisplayItem::Kind::kSegment;
    const bool over = std::any_of(
        result.findings.begin(), result.findings.end(),
        [&](const Finding& f) { return f.where == m.of && f.kind.starts_with("overloaded"); });
    mark.ink = over ? Ink::kFinding : Ink::kLeast;
    mark.points = m.at;
    mark.feature = FeatureKey(m.of);
    list.items.push_back(mark);
    DisplayItem text;
    text.kind = DisplayItem::Kind::kText;
    text.ink = mark.ink;
    text.seat = DisplayItem::Seat::kBeside;
    text.points = m.at;
    text.feature = mark.feature;
    text.rank = rank++;
    text.text = fmt::format("{:.2f} MPa\n{:.2f} to {:.2f}", m.value, m.lo, m.hi);
    if (const Measurement* sag = Figure(block, m.of, "ligament_sag"))
      text.text += "\nsag " + Format(sag->value, sag->unit, result.units);
    list.items.push_back(std::move(text));
  }
}

std::vector<std::string> FigureLines(const SectionResult& result) {
  std::vector<std::string> lines;
  for (const Measurement& m : result.pressure->figures) {
    if (m.state == Measurement::State::kNotApplicable) continue;
    std::string name;
    for (const std::string& of : m.of) name += (name.empty() ? "" : " and ") + of;
    const bool told = m.state == Measurement::State::kMeasured;
    std::string word = m.quantity;
    std::replace(word.begin(), word.end(), '_', ' ');
    lines.push_back(fmt::format("{}, {}\t{}", name, word,
                                told ? FormatValue(m, result.units) : "not measured: " + m.reason));
  }
  return lines;
}

}  // namespace

DisplayList BuildPressureMap(const SectionResult& result) {
  DisplayList list;
  list.verdict = result.verdict;
  SectionResult bare = result;
  bare.findings.clear();
  AddContours(bare, list);
  AddClock(result, list);
  std::vector<std::string>& lines = list.caption;
  lines.emplace_back(VerdictName(result.verdict));
  AddIdentities(result, lines);
  if (result.pressure) {
    const PressureBlock& block = *result.pressure;
    for (const PressureBlock::Displaced& d : block.displaced) {
      DisplayItem item;
      item.kind = DisplayItem::Kind::kContour;
      item.ink = Ink::kFinding;
      item.style = LineStyle::kDashed;
      item.points = d.contour;
      item.feature = d.name;
      list.items.push_back(std::move(item));
    }
    AddLoaded(result, list);
    lines.emplace_back();
    lines.emplace_back("Under pressure:");
    for (const auto& [name, mpa] : block.lumens_mpa)
      lines.push_back(fmt::format("{}\t{:.4g} MPa", name, mpa));
    lines.push_back(fmt::format("wires\t{}", block.wires_free ? "free" : "bonded"));
    if (block.modulus_mpa > 0)
      lines.push_back(fmt::format("body\tmodulus {:.4g} MPa, Poisson's ratio {:.4g}",
                                  block.modulus_mpa, block.poisson));
    if (block.elements > 0) {
      const std::string scale =
          block.times > 1 ? fmt::format("drawn {:.0f} times as far", block.times) : "to scale";
      lines.push_back(fmt::format("displaced\tdashed, {}; at most {}", scale,
                                  Format(block.greatest_displacement_um, "um", result.units)));
    } else {
      lines.push_back("finite elements\tnot solved: " + block.reason);
    }
    const std::vector<std::string> figures = FigureLines(result);
    if (!figures.empty()) {
      lines.emplace_back();
      lines.emplace_back("Figures:");
      lines.insert(lines.end(), figures.begin(), figures.end());
    }
  }
  lines.emplace_back();
  lines.emplace_back(
      "Linear elasticity of one plane, for screening: it never replaces burst and leak tests. An "
      "engineering aid; acceptance is by your approved procedure.");
  for (std::string& line : lines) std::replace(line.begin(), line.end(), '\n', ' ');
  return list;
}

}  // namespace cutface
