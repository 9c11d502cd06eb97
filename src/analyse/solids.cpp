// What is at risk in the solid: thin and broken septa, thin walls, ways through voids.
#include <fmt/format.h>

#include <cmath>

#include "analyse/reader.h"
#include "cutface/measure.h"

namespace cutface::analyse {
namespace {

// A way through voids below this share of the drawn septum is crosstalk where no limit is drawn
// (common practice).
constexpr double kCrosstalkShare = 0.5;

struct Threshold {
  double um = 0;
  bool drawn = false;  // a limit of the drawing, not the site's share of the nominal
  std::string words;
};

std::string Between(const Names& where) {
  return where[1] == "outline" ? fmt::format("{} and the outside", where[0])
                               : fmt::format("{} and {}", where[0], where[1]);
}

// What a septum or wall must reach: the drawn limit, else a share of the nominal.
std::optional<Threshold> Least(const Reader& reader, const Names& of, const Names& where,
                               std::string_view word, double share) {
  if (const auto limit = reader.LowerLimit(of, word)) {
    return Threshold{*limit, true, fmt::format("the limit {}", reader.Length(*limit))};
  }
  const auto nominal = reader.NominalSolid(where[0], where[1]);
  if (!nominal) return std::nullopt;
  return Threshold{share * *nominal, false,
                   fmt::format("{:.0f} % of the nominal {}", 100 * share, reader.Length(*nominal))};
}

// Thin septum or wall; true when there is one.
bool FindThin(const Reader& reader, const Names& of, const Names& where, std::string_view word,
              std::string_view kind, std::vector<Finding>& out) {
  const Measurement* solid = reader.Find(of, word);
  if (solid == nullptr || reader.design == nullptr) return false;
  const auto least = Least(reader, of, where, word, reader.design->limits.thin_share);
  if (!least || !(solid->value < least->um)) return false;
  Finding f;
  f.kind = kind;
  f.where = where;
  // Proven: the whole interval is below.
  const bool proven = solid->hi < least->um;
  f.severity = proven ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{std::string(word) + "_um", solid->value},
                {std::string(word) + "_lo_um", solid->lo},
                {std::string(word) + "_hi_um", solid->hi},
                {least->drawn ? "limit_um" : "threshold_um", least->um}};
  f.at = solid->at;
  f.text = fmt::format("The {} between {} is {} at its thinnest place ({} to {}), below {}{}.",
                       word, Between(where), reader.Length(solid->value), reader.Length(solid->lo),
                       reader.Length(solid->hi), least->words,
                       proven ? "" : "; not proven within the uncertainty");
  out.push_back(std::move(f));
  return true;
}

// Neither found nor ruled out: not counted, and no row on crosstalk passes while it stands.
Finding PerhapsCrosstalk(const Reader& reader, const Names& where, const Measurement& barrier,
                         const Threshold& least, bool doubtful_void) {
  Finding f;
  f.kind = "crosstalk";
  f.where = where;
  f.severity = Severity::kMedium;
  f.evidence = {{"counted", 0},
                {"barrier_um", barrier.value},
                {"barrier_lo_um", barrier.lo},
                {"barrier_hi_um", barrier.hi},
                {least.drawn ? "limit_um" : "threshold_um", least.um}};
  f.at = barrier.at;
  f.text = fmt::format(
      "Crosstalk between {} cannot be ruled out: {} the solid on the way may be as little as {}, "
      "below {}. The next plane tells.",
      Between(where),
      doubtful_void ? "where a doubtful region is a void" : "within the uncertainty",
      reader.Length(barrier.lo), least.words);
  return f;
}

void FindCrosstalk(const Reader& reader, const Names& of, const Names& where, std::string_view word,
                   std::vector<Finding>& out) {
  const Measurement* direct = reader.Find(of, word);
  const Measurement* barrier = reader.Find(of, "barrier");
  if (direct == nullptr || barrier == nullptr) return;
  // Four ends or more: the way leads through a void.
  const bool through = barrier->at.size() >= 4 && barrier->value < direct->value;
  const bool perhaps = barrier->grade_reason.find(kDoubtfulWay) != std::string::npos;
  if (!through && !perhaps) return;
  std::optional<Threshold> least = Least(reader, of, where, word, kCrosstalkShare);
  if (const auto limit = reader.LowerLimit(of, "barrier");
      limit && (!least || *limit > least->um)) {
    least = Threshold{*limit, true, fmt::format("the barrier's limit {}", reader.Length(*limit))};
  }
  if (!least || !(barrier->lo < least->um)) return;
  if (!through || !(barrier->value < least->um)) {
    out.push_back(PerhapsCrosstalk(reader, where, *barrier, *least, perhaps));
    return;
  }
  Finding f;
  f.kind = "crosstalk";
  f.where = where;
  f.severity = Severity::kHigh;
  f.evidence = {{"barrier_um", barrier->value},
                {"barrier_lo_um", barrier->lo},
                {"barrier_hi_um", barrier->hi},
                {std::string(word) + "_um", direct->value},
                {least->drawn ? "limit_um" : "threshold_um", least->um}};
  std::string strongest;
  if (const Measurement* weakest = reader.Find(of, "barrier_weakest")) {
    f.evidence["barrier_weakest_um"] = weakest->value;
    strongest = fmt::format("; the strongest single ligament on the weakest way is {}",
                            reader.Length(weakest->value));
  }
  f.at = barrier->at;
  f.text = fmt::format(
      "Through voids only {} of solid lie between {}, below {}, while the {} itself is {}{}.",
      reader.Length(barrier->value), Between(where), least->words, word,
      reader.Length(direct->value), strongest);
  out.push_back(std::move(f));
}

void FindBroken(const Reader& reader, std::vector<Finding>& out) {
  for (const LumenTrace& lumen : reader.section.lumens) {
    if (lumen.state != LumenState::kMerged && lumen.names.size() < 2) continue;
    Finding f;
    f.kind = "broken septum";
    f.where = lumen.names;
    f.severity = Severity::kHigh;
    std::string names;
    for (const std::string& name : lumen.names) names += (names.empty() ? "" : " and ") + name;
    f.text = fmt::format("{} have run into one another: the septum between them is broken", names);
    if (lumen.breach) {
      const double breach = Distance(lumen.breach->a, lumen.breach->b);
      f.evidence["breach_um"] = breach;
      f.at = {lumen.breach->a, lumen.breach->b};
      f.text += fmt::format(" over {}", reader.Length(breach));
    }
    f.text += ".";
    out.push_back(std::move(f));
  }
}

}  // namespace

void FindSolids(const Reader& reader, std::vector<Finding>& out) {
  FindBroken(reader, out);
  for (const Names& pair : MeasuredPairs(reader)) {
    if (!FindThin(reader, pair, pair, "septum", "thin septum", out)) {
      FindCrosstalk(reader, pair, pair, "septum", out);
    }
  }
  // Lengthwise the least wall is what cutting left at the sample's ends, which says nothing.
  if (reader.plane != nullptr && reader.plane->kind == "lengthwise") return;
  for (const LumenTrace& lumen : reader.section.lumens) {
    for (const std::string& name : lumen.names) {
      if (!FindThin(reader, {name}, {name, "outline"}, "wall", "thin wall", out)) {
        FindCrosstalk(reader, {name}, {name, "outline"}, "wall", out);
      }
    }
  }
}

}  // namespace cutface::analyse
