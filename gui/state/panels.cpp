#include "gui/state/panels.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface::window {
namespace {

constexpr double kRoom = 0.18;  // of the limits' distance, to either side of them

// Which kind of feature a measurement speaks of: the table's rows are told apart by it.
const QuantityRow* RowOf(const Measurement& m) {
  const auto of = [&]() -> std::vector<QuantityOf> {
    if (m.of.size() == 2) return {QuantityOf::kLumenPair, QuantityOf::kAsked};
    const std::string& name = m.of.empty() ? m.quantity : m.of.front();
    if (name == "outline") return {QuantityOf::kOutline, QuantityOf::kAsked};
    if (name == "voids") return {QuantityOf::kVoids};
    if (name == "bond") return {QuantityOf::kBond};
    return {QuantityOf::kLumen, QuantityOf::kRing, QuantityOf::kWireLayer, QuantityOf::kAsked};
  }();
  for (const QuantityOf kind : of) {
    if (const QuantityRow* row = FindQuantity(m.quantity, kind)) return row;
  }
  return nullptr;
}

std::string Spaced(std::string word) {
  std::replace(word.begin(), word.end(), '_', ' ');
  return word;
}

std::string Counted(int n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

}  // namespace

ValueLine ValueLineOf(const Measurement& m, int index, bool open, LengthUnit units) {
  ValueLine line;
  line.index = index;
  line.chosen = open;
  const QuantityRow* row = RowOf(m);
  line.title = row != nullptr ? std::string(row->title) : Spaced(m.quantity);
  if (m.state == Measurement::State::kMeasured) {
    line.value = FormatValue(m, units);
    if (m.hi > m.lo) line.interval = IntervalText(m, units);
    if (m.grade != "clean")
      line.grade = m.grade_reason.empty() ? m.grade : m.grade + ": " + m.grade_reason;
  } else {
    line.value = m.state == Measurement::State::kNotMeasured ? "not measured" : "not applicable";
    line.grade = m.reason;
  }
  if (!open) return line;
  if (row != nullptr) {
    line.definition = row->definition;
    line.formula = row->formula;
    line.source = row->source;
  }
  if (m.u > 0) {
    line.budget.push_back("standard uncertainty " + Format(m.u, m.unit, units));
    for (const BudgetLine& part : m.budget)
      line.budget.push_back(part.source + " " + Format(part.u, m.unit, units));
  }
  return line;
}

std::string JoinWords(const std::vector<std::string>& words, const char* between) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : between) + word;
  return text;
}

NumberLine NumberLineOf(const CharacteristicResult& row) {
  NumberLine line;
  if (!row.actual || (!row.min && !row.max)) return line;
  double from = std::numeric_limits<double>::infinity(), to = -from;
  const auto hold = [&](const std::optional<double>& v) {
    if (!v) return;
    from = std::min(from, *v);
    to = std::max(to, *v);
  };
  hold(row.min);
  hold(row.max);
  const double limits = to - from;
  // With two limits they set the scale; with one, the distance to the value does.
  if (!(limits > 0)) {
    hold(row.actual);
    hold(row.lo);
    hold(row.hi);
  }
  const double span = std::max(to - from, 1e-9 * std::max(1.0, std::abs(to)));
  const double room = (limits > 0 ? 2 * kRoom : kRoom) * span;
  const double least = from - room, length = span + 2 * room;
  const auto place = [&](const std::optional<double>& v) -> std::optional<float> {
    if (!v) return std::nullopt;
    const double share = (*v - least) / length;
    line.cut_left = line.cut_left || share < 0;
    line.cut_right = line.cut_right || share > 1;
    return static_cast<float>(std::clamp(share, 0.0, 1.0));
  };
  line.min = place(row.min);
  line.max = place(row.max);
  line.lo = place(row.lo);
  line.hi = place(row.hi);
  line.actual = place(row.actual);
  if (row.nominal && *row.nominal >= least && *row.nominal <= least + length)
    line.nominal = place(row.nominal);
  line.shown = true;
  return line;
}

RowsPanel BuildRows(const SectionResult& result, const std::string& chosen_no) {
  RowsPanel panel;
  for (const CharacteristicResult& c : result.characteristics) {
    RowLine row;
    row.no = c.no;
    row.subject = SubjectText(c);
    row.requirement = RequirementText(c);
    row.actual = ActualText(c);
    row.interval = IntervalText(c);
    row.word = c.verdict;
    row.verdict = std::string(VerdictName(c.verdict));
    if (c.p_conform) row.probability = FormatProbability(*c.p_conform);
    row.note = c.reason;
    row.line = NumberLineOf(c);
    row.chosen = !chosen_no.empty() && c.no == chosen_no;
    row.critical = c.criticality == "critical";
    row.features = JoinWords(c.of, " and ");
    panel.rows.push_back(std::move(row));
  }
  if (panel.rows.empty()) panel.empty = "The drawing asks for nothing on this section.";
  return panel;
}

ValuesPanel BuildValues(const SectionResult& result, const std::string& feature, int open,
                        LengthUnit units) {
  ValuesPanel panel;
  panel.feature = feature;
  for (std::size_t i = 0; i < result.measurements.size(); ++i) {
    const Measurement& m = result.measurements[i];
    for (const std::string& name : m.of) {
      if (std::find(panel.features.begin(), panel.features.end(), name) == panel.features.end())
        panel.features.push_back(name);
    }
    if (std::find(m.of.begin(), m.of.end(), feature) == m.of.end()) continue;
    const int index = static_cast<int>(i);
    panel.lines.push_back(ValueLineOf(m, index, index == open, units));
    if (m.of.size() == 2)
      panel.lines.back().title += " to " + (m.of.front() == feature ? m.of.back() : m.of.front());
  }
  return panel;
}

std::string EvidenceText(const std::string& key, double value, LengthUnit units) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 8> kUnits = {
      {{"_um2", "um2"},
       {"_um", "um"},
       {"_deg", "deg"},
       {"_percent", "%"},
       {"_px", "px"},
       {"_mm", "mm"},
       {"_mpa", "MPa"},
       {"_share", ""}}};
  for (const auto& [suffix, unit] : kUnits) {
    if (!key.ends_with(suffix)) continue;
    std::string word = Spaced(key.substr(0, key.size() - suffix.size()));
    for (const auto& [end, said] :
         {std::pair{" lo", ", lower end of the interval"}, {" hi", ", upper end of the interval"}})
      if (word.ends_with(end)) word.replace(word.size() - 3, 3, said);
    if (suffix == "_share") word += " share";
    if (suffix == "_um" || suffix == "_um2") return word + "  " + Format(value, unit, units);
    return fmt::format("{} {:.4g}{}{}", word, value, unit.empty() ? "" : " ", unit);
  }
  return fmt::format("{} {:.4g}", Spaced(key), value);
}

FindingsPanel BuildFindings(const SectionResult& result, int chosen) {
  FindingsPanel panel;
  for (std::size_t i = 0; i < result.findings.size(); ++i) {
    const Finding& f = result.findings[i];
    FindingLine line;
    line.index = static_cast<int>(i);
    line.kind = f.kind;
    line.where = JoinWords(f.where, " and ");
    line.severity = std::string(SeverityName(f.severity));
    line.high = f.severity == Severity::kHigh;
    line.text = f.text;
    for (const auto& [key, value] : f.evidence)
      line.evidence.push_back(EvidenceText(key, value, result.units));
    for (const Hint& hint : f.hints)
      line.causes.push_back(hint.cause + (hint.check.empty() ? "" : ": " + hint.check) + " (" +
                            hint.basis + ")");
    if (!f.disposed_by.empty()) line.disposition = f.disposed_by + ": " + f.disposition;
    line.chosen = line.index == chosen;
    line.placed = !f.at.empty();
    panel.lines.push_back(std::move(line));
  }
  if (panel.lines.empty()) panel.empty = "Nothing was found to be amiss on this section.";
  return panel;
}

HeadPanel BuildHead(const SectionResult& result) {
  HeadPanel head;
  head.part = result.part.empty() ? "no drawing" : result.part;
  if (!result.revision.empty()) head.part += "  " + result.revision;
  head.section = result.section_name;
  std::vector<std::string> sample;
  const SampleIdentity& s = result.sample;
  if (!s.serial.empty()) sample.push_back("serial " + s.serial);
  if (!s.lot.empty()) sample.push_back("lot " + s.lot);
  if (!s.block.empty()) sample.push_back("block " + s.block);
  if (s.station_mm) sample.push_back(fmt::format("{:g} mm", *s.station_mm));
  if (!s.face.empty()) sample.push_back(s.face + " face");
  head.sample = sample.empty() ? "sample not named yet" : JoinWords(sample, ", ");
  head.word = result.verdict;
  head.verdict = std::string(VerdictName(result.verdict));
  int bad = 0, open = 0, missing = 0;
  for (const CharacteristicResult& c : result.characteristics) {
    bad += c.verdict == Verdict::kDoesNotConform ? 1 : 0;
    open += c.verdict == Verdict::kNotProven ? 1 : 0;
    missing += c.verdict == Verdict::kNotMeasured ? 1 : 0;
  }
  std::vector<std::string> parts;
  const int all = static_cast<int>(result.characteristics.size());
  if (bad > 0) parts.push_back(fmt::format("{} outside", bad));
  if (open > 0) parts.push_back(fmt::format("{} not proven", open));
  if (missing > 0) parts.push_back(fmt::format("{} not measured", missing));
  head.sentence = Counted(all, "row", "rows") +
                  (parts.empty() ? "" : ": " + JoinWords(parts, ", ")) + "; " +
                  Counted(static_cast<int>(result.findings.size()), "finding", "findings");
  for (const std::string& overrule : result.overrules) head.cautions.push_back(overrule);
  if (!result.calibration_certified) head.cautions.push_back("the calibration has no certificate");
  if (!result.section.placement.names_proven) head.cautions.push_back("names are not proven");
  if (result.section.picture.grade != "clean")
    head.cautions.push_back("picture " + result.section.picture.grade + ": " +
                            JoinWords(result.section.picture.reasons, "; "));
  if (!result.edits.empty())
    head.cautions.push_back(
        Counted(static_cast<int>(result.edits.size()), "correction", "corrections") + " by hand");
  for (const std::string& warning : result.warnings) head.cautions.push_back(warning);
  head.bench = result.calibration_id;
  head.inspector = result.inspector;
  head.time = result.time;
  return head;
}

}  // namespace cutface::window
