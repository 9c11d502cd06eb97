// The result as a table for the terminal.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "cli/text.h"
#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

using Rows = std::vector<std::vector<std::string>>;

std::string Joined(const std::vector<std::string>& words, std::string_view separator = ", ") {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : std::string(separator)) + word;
  return text;
}

bool IsOutsideDiameter(const std::vector<std::string>& of, std::string_view quantity) {
  return quantity == "diameter" && of.size() == 1 && of.front() == "outline";
}

std::string French(const SectionResult& result) {
  for (const Measurement& m : result.measurements) {
    if (m.state == Measurement::State::kMeasured && IsOutsideDiameter(m.of, m.quantity)) {
      return " (" + FormatFrench(m.value) + ")";
    }
  }
  return "";
}

std::string RowTable(const SectionResult& result) {
  if (result.characteristics.empty()) return "";
  Rows rows = {
      {"no.", "what", "requirement", "actual", "95 % interval", "verdict", "p", "class", "remark"}};
  for (const CharacteristicResult& row : result.characteristics) {
    std::string actual = row.actual ? ActualText(row) : "-";
    if (row.actual && IsOutsideDiameter(row.of, row.quantity)) actual += French(result);
    const bool judged = row.verdict != Verdict::kElsewhere && row.verdict != Verdict::kNotMeasured;
    rows.push_back({Escaped(row.no), Escaped(SubjectText(row)), RequirementText(row), actual,
                    IntervalText(row), std::string(VerdictName(row.verdict)),
                    row.p_conform && judged ? FormatProbability(*row.p_conform) : "",
                    Escaped(row.criticality), Escaped(row.reason)});
  }
  return "Rows of the drawing\n" + Columns(rows) + "\n";
}

std::string FindingTable(const SectionResult& result) {
  if (result.findings.empty()) return "";
  Rows rows = {{"severity", "finding", "where", "evidence"}};
  for (const Finding& finding : result.findings) {
    rows.push_back({std::string(SeverityName(finding.severity)), finding.kind,
                    Escaped(Joined(finding.where)), Escaped(finding.text)});
  }
  return "Findings\n" + Columns(rows) + "\n";
}

// What to look at first: the two most usual causes of each kind of finding.
std::string HintTable(const SectionResult& result) {
  constexpr std::size_t kShown = 2;
  std::string text;
  std::set<std::string> told;
  for (const Finding& finding : result.findings) {
    for (std::size_t i = 0; i < std::min(kShown, finding.hints.size()); ++i) {
      const Hint& hint = finding.hints[i];
      if (!told.insert(finding.kind + "\t" + hint.cause).second) continue;
      text += fmt::format("{} ({}): {}\n  check: {}\n", finding.kind, Escaped(hint.basis),
                          Escaped(hint.cause), Escaped(hint.check));
    }
  }
  if (text.empty()) return "";
  return "Hints: suggestions to check, never a diagnosis; more in the result file\n" + text + "\n";
}

std::string Grade(const Measurement& m) {
  return m.grade_reason.empty() ? m.grade : m.grade + ": " + Escaped(m.grade_reason);
}

std::string ValueTable(const SectionResult& result) {
  Rows rows = {{"of", "quantity", "value", "95 % interval", "u", ""}};
  for (const Measurement& m : result.measurements) {
    if (m.state == Measurement::State::kNotApplicable) continue;
    const std::string of = Escaped(Joined(m.of));
    if (m.state == Measurement::State::kNotMeasured) {
      rows.push_back({of, m.quantity, "not measured", "", "", Escaped(m.reason)});
      continue;
    }
    std::string value = FormatValue(m, result.units);
    if (IsOutsideDiameter(m.of, m.quantity)) value += " (" + FormatFrench(m.value) + ")";
    rows.push_back({of, m.quantity, value, IntervalText(m, result.units),
                    Format(m.u, m.unit, result.units, false), m.grade == "clean" ? "" : Grade(m)});
  }
  return rows.size() > 1 ? "Values\n" + Columns(rows) + "\n" : "";
}

std::string PressureTable(const SectionResult& result) {
  if (!result.pressure) return "";
  const PressureBlock& block = *result.pressure;
  std::string text = "Under pressure (";
  for (const auto& [name, mpa] : block.lumens_mpa)
    text += fmt::format("{} {:.4g} MPa, ", Escaped(name), mpa);
  text += fmt::format("wires {}; for screening, never in place of burst and leak tests)\n",
                      block.wires_free ? "free" : "bonded");
  Rows rows = {{"of", "quantity", "value", "95 % interval", ""}};
  for (const Measurement& m : block.figures) {
    if (m.state == Measurement::State::kNotApplicable) continue;
    const std::string of = Escaped(Joined(m.of));
    if (m.state == Measurement::State::kNotMeasured) {
      rows.push_back({of, m.quantity, "not measured", "", Escaped(m.reason)});
      continue;
    }
    rows.push_back({of, m.quantity, FormatValue(m, result.units), IntervalText(m, result.units),
                    m.grade == "clean" ? "" : Grade(m)});
  }
  text += rows.size() > 1 ? Columns(rows) : "no septum or wall is loaded\n";
  if (!block.reason.empty()) text += "finite elements: not solved: " + Escaped(block.reason) + "\n";
  return text + "\n";
}

std::string LumenStates(const SectionResult& result) {
  std::string text;
  for (const LumenTrace& lumen : result.section.lumens) {
    if (lumen.state == LumenState::kOpen) continue;
    text += fmt::format("lumen {}: {}\n", Escaped(lumen.Key()), LumenStateName(lumen.state));
  }
  if (!result.section.placement.names_proven) {
    text += "names: not proven, another placing of the drawing fits almost as well\n";
  }
  for (const auto& group : result.section.placement.interchangeable) {
    text += fmt::format("names: {} are interchangeable by symmetry\n", Escaped(Joined(group)));
  }
  return text;
}

}  // namespace

std::string ResultTable(const SectionResult& result) {
  std::string text = Escaped(result.image_file);
  if (!result.part.empty()) text += ": " + Escaped(result.part);
  if (!result.revision.empty()) text += " rev. " + Escaped(result.revision);
  if (!result.section_name.empty()) text += ", " + Escaped(result.section_name);
  text += "\n\n" + RowTable(result) + FindingTable(result) + HintTable(result) +
          PressureTable(result) + ValueTable(result);
  if (const std::string states = LumenStates(result); !states.empty()) text += states + "\n";
  text += fmt::format(
      "{} (scale {}{}; intervals: {})\n", VerdictName(result.verdict),
      Escaped(result.calibration_id), result.calibration_certified ? "" : ", uncertified",
      result.characteristics.empty() ? "image only" : result.characteristics.front().u_scope);
  return text;
}

}  // namespace cutface
