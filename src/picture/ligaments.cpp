// Least septa and walls with their values, and the places that findings speak of.
#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "picture/build.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;

bool IsLigament(const Measurement& m) {
  return m.state == Measurement::State::kMeasured && m.at.size() == 2 &&
         ((m.quantity == "septum" && m.of.size() == 2) ||
          (m.quantity == "wall" && m.of.size() == 1));
}

std::string Key(const Measurement& m) { return m.quantity + ":" + FeatureKey(m.of); }

// A row may name the two lumens of a septum in either order.
const CharacteristicResult* RowOf(const SectionResult& result, const Measurement& m) {
  for (const CharacteristicResult& row : result.characteristics) {
    if (row.quantity != m.quantity || row.of.size() != m.of.size()) continue;
    if (std::is_permutation(row.of.begin(), row.of.end(), m.of.begin())) return &row;
  }
  return nullptr;
}

bool Bad(const CharacteristicResult* row) {
  return row != nullptr && row->verdict == Verdict::kDoesNotConform;
}

// An arrow through a third lumen would not show solid: the wall of an inner lumen has its
// neighbours in between.
bool ThroughLumen(const SectionResult& result, const Measurement& m) {
  constexpr int kSteps = 24;
  for (const LumenTrace& lumen : result.section.lumens) {
    const ContourUm bore = lumen.bore.Points();
    if (bore.size() < 3) continue;
    for (int i = 1; i < kSteps; ++i) {
      const PointUm p = m.at[0] + (static_cast<double>(i) / kSteps) * (m.at[1] - m.at[0]);
      if (Contains<FrameUm>(bore, p)) return true;
    }
  }
  return false;
}

// The measurements worth a mark: asked for by a row, or the least septum or wall of some lumen
// unless it is much thicker than the thinnest (kMuchThicker) or leads through another lumen.
std::vector<const Measurement*> Chosen(const SectionResult& result) {
  std::map<std::string, const Measurement*> least;
  std::vector<const Measurement*> chosen;
  std::set<std::string> taken;
  for (const Measurement& m : result.measurements) {
    if (!IsLigament(m)) continue;
    for (const std::string& name : m.of) {
      const Measurement*& best = least[m.quantity + ":" + name];
      if (best == nullptr || m.value < best->value) best = &m;
    }
    if (RowOf(result, m) != nullptr && taken.insert(Key(m)).second) chosen.push_back(&m);
  }
  constexpr double kMuchThicker = 2.5;
  std::map<std::string, double> thinnest;
  for (const auto& entry : least) {
    double& value = thinnest.try_emplace(entry.second->quantity, entry.second->value).first->second;
    value = std::min(value, entry.second->value);
  }
  for (const auto& entry : least) {
    const Measurement& m = *entry.second;
    if (m.value > kMuchThicker * thinnest[m.quantity] || ThroughLumen(result, m)) continue;
    if (taken.insert(Key(*entry.second)).second) chosen.push_back(entry.second);
  }
  return chosen;
}

bool IsDrawn(const DisplayList& list, const std::string& feature) {
  return std::any_of(list.items.begin(), list.items.end(), [&](const DisplayItem& item) {
    return (item.kind == Kind::kContour || item.kind == Kind::kPath) && item.ink == Ink::kFinding &&
           item.feature == feature;
  });
}

// Voids, gaps and wires are drawn as what they are; corners around them would say nothing more.
bool HasMark(const Finding& finding) {
  const std::string& kind = finding.kind;
  return kind == "void" || kind == "debris" || kind == "smear" || kind == "potting gap" ||
         kind == "delamination" || kind == "starved bond" || kind == "liner gap" ||
         kind.ends_with(" wire");
}

// What stands beside the place: of voids their class and number, of wires which of them. "" where
// another finding names the place already.
std::string NameOf(const SectionResult& result, const Finding& finding) {
  if (finding.kind.ends_with(" wire"))
    return finding.kind + (finding.where.size() > 1 ? "\n" + finding.where[1] : "");
  const auto no = finding.evidence.find("no");
  if (no == finding.evidence.end()) return finding.kind;
  for (const Void& v : result.section.voids) {
    if (v.no != static_cast<int>(no->second)) continue;
    if (v.kind == VoidClass::kPulledOutWire) {
      const bool named = std::any_of(
          result.section.wires.begin(), result.section.wires.end(), [&](const WireTrace& wire) {
            return wire.state == WireState::kPulledOut &&
                   Distance(wire.centroid, v.centroid) < std::sqrt(v.area_um2 / std::numbers::pi);
          });
      if (named) return "";
    }
    return std::string(VoidClassName(v.kind)) + " " + std::to_string(v.no);
  }
  return finding.kind;
}

}  // namespace

void AddLigaments(const SectionResult& result, DisplayList& list) {
  std::vector<const Measurement*> chosen = Chosen(result);
  // The thinnest finds its place first: it is the one a reader looks for.
  std::stable_sort(chosen.begin(), chosen.end(), [&](const Measurement* a, const Measurement* b) {
    const bool row_a = RowOf(result, *a) != nullptr, row_b = RowOf(result, *b) != nullptr;
    return row_a != row_b ? row_a : a->value < b->value;
  });
  int rank = 10;
  for (const Measurement* m : chosen) {
    const CharacteristicResult* row = RowOf(result, *m);
    DisplayItem item;
    item.kind = Kind::kSegment;
    item.ink = Bad(row) ? Ink::kFinding : Ink::kLeast;
    item.points = m->at;
    item.weight = row != nullptr ? 1.3 : 1.0;
    item.feature = FeatureKey(m->of);
    list.items.push_back(item);

    DisplayItem text;
    text.kind = Kind::kText;
    text.ink = item.ink;
    text.seat = DisplayItem::Seat::kBeside;
    text.points = m->at;  // anywhere along it
    text.feature = item.feature;
    text.rank = rank++;
    // A row's interval is the one that was judged: it may hold the preparation too.
    const bool judged = row != nullptr && row->actual;
    text.text = judged ? "no. " + row->no + "  " + ActualText(*row) : FormatValue(*m, result.units);
    const std::string interval = judged ? IntervalText(*row) : IntervalText(*m, result.units);
    if (!interval.empty() && m->hi > m->lo) text.text += "\n" + interval;
    if (row != nullptr &&
        (row->verdict == Verdict::kDoesNotConform || row->verdict == Verdict::kNotProven)) {
      text.text += "\n" + std::string(VerdictName(row->verdict));
    }
    list.items.push_back(std::move(text));
  }
}

namespace {

const Measurement* DirectWay(const SectionResult& result, const Measurement& barrier) {
  for (const Measurement& m : result.measurements) {
    if (m.of == barrier.of && m.quantity == (m.of.size() == 2 ? "septum" : "wall") &&
        m.state == Measurement::State::kMeasured)
      return &m;
  }
  return nullptr;
}

bool IsCrosstalk(const SectionResult& result, const Measurement& m) {
  return std::any_of(result.findings.begin(), result.findings.end(), [&](const Finding& f) {
    return f.kind == "crosstalk" && !f.where.empty() && f.where.front() == m.of.front() &&
           (m.of.size() < 2 || f.where.back() == m.of.back());
  });
}

// The way's ligaments, its text beside the longest one.
void AddWay(const SectionResult& result, const Measurement& m, const DisplayItem& look,
            const std::string& label, int rank, DisplayList& list) {
  std::size_t longest = 0;
  for (std::size_t i = 0; i + 1 < m.at.size(); i += 2) {
    DisplayItem item = look;
    item.kind = Kind::kPath;
    item.points = {m.at[i], m.at[i + 1]};
    item.feature = "barrier:" + FeatureKey(m.of);
    list.items.push_back(std::move(item));
    if (Distance(m.at[i], m.at[i + 1]) > Distance(m.at[longest], m.at[longest + 1])) longest = i;
  }
  DisplayItem text;
  text.kind = Kind::kText;
  text.ink = look.ink;
  text.seat = DisplayItem::Seat::kBeside;
  text.points = {m.at[longest], m.at[longest + 1]};
  text.feature = "barrier:" + FeatureKey(m.of);
  text.rank = rank;
  const CharacteristicResult* row = RowOf(result, m);
  const bool judged = row != nullptr && row->actual;
  text.text = label + " " + (judged ? ActualText(*row) : FormatValue(m, result.units)) + "\n" +
              (judged ? IntervalText(*row) : IntervalText(m, result.units));
  if (row != nullptr) text.text = "no. " + row->no + "  " + text.text;
  list.items.push_back(std::move(text));
}

}  // namespace

// Ways through voids: every ligament of a barrier that is less than the direct one, dotted where no
// finding speaks of it; the weakest way dashed where it is another one; ways through wires, dash
// and dot, where the drawing asks for them.
void AddBarriers(const SectionResult& result, DisplayList& list) {
  constexpr double kClearlyLess = 0.98;
  int rank = 40;
  for (const Measurement& m : result.measurements) {
    const bool weakest = m.quantity == "barrier_weakest",
               wires = m.quantity == "barrier_conducting";
    if (m.quantity != "barrier" && !weakest && !wires) continue;
    if (m.state != Measurement::State::kMeasured || m.at.size() < 4) continue;
    const Measurement* direct = DirectWay(result, m);
    if (direct == nullptr || !(m.value < kClearlyLess * direct->value)) continue;
    if (wires && RowOf(result, m) == nullptr) continue;
    const bool found = !wires && IsCrosstalk(result, m);
    // Without a finding only the ways between lumens: every wall with a bubble would be too many.
    if (!found && m.of.size() < 2 && !wires) continue;
    if (weakest) {
      const bool same = std::any_of(
          result.measurements.begin(), result.measurements.end(), [&](const Measurement& other) {
            return other.quantity == "barrier" && other.of == m.of &&
                   other.at.size() == m.at.size() &&
                   std::equal(m.at.begin(), m.at.end(), other.at.begin(),
                              [](PointUm a, PointUm b) { return Distance(a, b) < 1e-6; });
          });
      if (same) continue;
    }
    DisplayItem look;
    look.ink = found ? Ink::kFinding : Ink::kLeast;
    look.style = wires     ? LineStyle::kDashDot
                 : weakest ? LineStyle::kDashed
                 : found   ? LineStyle::kSolid
                           : LineStyle::kDotted;
    look.weight = found && !weakest ? 1.6 : 1.0;
    AddWay(result, m, look,
           wires     ? "barrier, wires conducting"
           : weakest ? "weakest barrier"
                     : "barrier",
           rank++, list);
  }
}

void AddFindings(const SectionResult& result, DisplayList& list) {
  int rank = 5;
  for (const LumenTrace& lumen : result.section.lumens) {
    if (!lumen.breach) continue;
    DisplayItem item;
    item.kind = Kind::kPath;
    item.ink = Ink::kFinding;
    item.style = LineStyle::kDashDot;
    item.weight = 1.5;
    item.points = {lumen.breach->a, lumen.breach->b};
    item.feature = lumen.Key();
    list.items.push_back(std::move(item));
  }
  for (const Finding& finding : result.findings) {
    if (finding.at.empty()) continue;  // of the whole face: the panel says it
    PointUm middle;
    for (const PointUm& p : finding.at) {
      middle = middle + (1.0 / static_cast<double>(finding.at.size())) * p;
    }
    double radius = 0;
    for (const PointUm& p : finding.at) radius = std::max(radius, Distance(p, middle));
    DisplayItem dot;
    dot.kind = Kind::kDot;
    dot.ink = Ink::kFinding;
    dot.points = {middle};
    dot.radius_um = radius;
    dot.feature = FeatureKey(finding.where);
    if (!HasMark(finding) && !IsDrawn(list, dot.feature)) list.items.push_back(dot);
    const std::string name = NameOf(result, finding);
    if (name.empty()) continue;

    DisplayItem text;
    text.kind = Kind::kText;
    text.ink = Ink::kFinding;
    text.seat = DisplayItem::Seat::kBeside;
    text.points = {middle};
    text.text = name;
    text.feature = dot.feature;
    text.rank = rank + (finding.severity == Severity::kHigh ? 0 : 20);
    list.items.push_back(std::move(text));
  }
}

}  // namespace cutface
