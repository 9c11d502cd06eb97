// What layers show: liners that have come away, bonds that are starved, uneven or off-centre.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analyse/reader.h"

namespace cutface::analyse {
namespace {

// Common practice, where the drawing sets no limit: a bond's offset against the adhesive's mean
// thickness, its least against its mean thickness, a liner's gap by the clock.
constexpr double kOffsetShare = 0.5;
constexpr double kUnevenShare = 0.5;
constexpr double kLongGapDeg = 30;

std::optional<double> UpperLimit(const Reader& reader, const Names& of, std::string_view word) {
  std::optional<double> strictest;
  for (const Characteristic& c : reader.plane->characteristics) {
    if (c.quantity != word || c.of != of || !c.upper) continue;
    strictest = strictest ? std::min(*strictest, *c.upper) : *c.upper;
  }
  return strictest;
}

void FindLinerGaps(const Reader& reader, std::vector<Finding>& out) {
  for (const LinerTrace& liner : reader.section.liners) {
    const Names of{liner.lumen + "/liner"};
    const Measurement* gap = reader.Find(of, "longest_gap");
    if (gap == nullptr || !(gap->value > 0)) continue;
    const auto limit = UpperLimit(reader, of, "longest_gap");
    Finding f;
    f.kind = "liner gap";
    f.where = {liner.lumen};
    f.severity = gap->value > limit.value_or(kLongGapDeg) ? Severity::kHigh : Severity::kMedium;
    f.evidence = {{"longest_gap_deg", gap->value},
                  {"longest_gap_lo_deg", gap->lo},
                  {"longest_gap_hi_deg", gap->hi}};
    f.at = gap->at;
    f.text = fmt::format(
        "The liner of {} has come away from the body over {:.0f} degrees ({:.0f} to {:.0f}).",
        liner.lumen, gap->value, gap->lo, gap->hi);
    out.push_back(std::move(f));
  }
}

// A drawn liner whose outer edge was not told may not be there. Where a row of the drawing is on
// it, that row says so too.
void FindMissingLiners(const Reader& reader, std::vector<Finding>& out) {
  for (const LumenDesign& lumen : reader.plane->lumens) {
    if (!lumen.liner_thickness_um) continue;
    const LumenTrace* traced = reader.section.FindLumen(lumen.name);
    const bool bore = traced != nullptr && traced->names.size() == 1 &&
                      (traced->state == LumenState::kOpen || traced->state == LumenState::kFilled);
    const bool told = std::any_of(
        reader.section.liners.begin(), reader.section.liners.end(), [&](const LinerTrace& liner) {
          return liner.lumen == lumen.name && !liner.outer.vertices.empty();
        });
    if (!bore || told) continue;
    const std::string name = lumen.name + "/liner";
    const bool asked =
        std::any_of(reader.plane->characteristics.begin(), reader.plane->characteristics.end(),
                    [&](const Characteristic& c) {
                      return std::find(c.of.begin(), c.of.end(), name) != c.of.end();
                    });
    Finding f;
    f.kind = "missing liner";
    f.where = {lumen.name};
    f.severity = asked ? Severity::kMedium : Severity::kHigh;
    f.evidence = {{"nominal_um", *lumen.liner_thickness_um}};
    f.text = fmt::format(
        "The drawn liner of {} ({}) was not told: left out, too thin to be seen, or of a tone that "
        "the light here does not part from its neighbours.",
        lumen.name, reader.Length(*lumen.liner_thickness_um));
    out.push_back(std::move(f));
  }
}

// Gaps that are seen though the arc is not measured, for want of a seam.
void FindGapsAlone(const Reader& reader, std::vector<Finding>& out) {
  Finding f;
  for (const Void& hole : reader.section.voids) {
    if (hole.kind == VoidClass::kBondGap && hole.numbers.count("by_place") == 0)
      f.at.push_back(hole.centroid);
  }
  if (f.at.empty()) return;
  f.kind = "starved bond";
  f.where = {"bond"};
  f.severity = Severity::kHigh;
  f.evidence = {{"gaps", static_cast<double>(f.at.size())}};
  f.text = fmt::format(
      "Adhesive is missing at {} of the bond. How much of the circle that is was not measured, "
      "because a seam beside it was not told.",
      f.at.size() == 1 ? std::string("one place") : fmt::format("{} places", f.at.size()));
  out.push_back(std::move(f));
}

void FindStarved(const Reader& reader, std::vector<Finding>& out) {
  const Measurement *arc = reader.Find({"bond"}, "bonded_arc"),
                    *gap = reader.Find({"bond"}, "longest_gap");
  if (arc == nullptr || gap == nullptr) return FindGapsAlone(reader, out);
  if (!(gap->value > 0)) return;
  const auto least = reader.LowerLimit({"bond"}, "bonded_arc");
  const auto most = UpperLimit(reader, {"bond"}, "longest_gap");
  const bool broken = (least && arc->value < *least) || (most && gap->value > *most);
  Finding f;
  f.kind = "starved bond";
  f.where = {"bond"};
  const bool limited = least || most;
  f.severity =
      broken || (!limited && gap->value > kLongGapDeg) ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{"bonded_arc_deg", arc->value}, {"longest_gap_deg", gap->value}};
  f.at = gap->at;
  f.text = fmt::format(
      "Adhesive is missing: {:.0f} of 360 degrees are bonded, the longest gap is {:.0f} degrees.",
      arc->value, gap->value);
  out.push_back(std::move(f));
}

void FindUneven(const Reader& reader, std::vector<Finding>& out) {
  const std::string& adhesive = reader.plane->bond->adhesive;
  const Measurement *mean = reader.Find({adhesive}, "thickness_mean"),
                    *least = reader.Find({adhesive}, "thickness_min"),
                    *offset = reader.Find({"bond"}, "offset");
  if (mean == nullptr) return;
  if (offset != nullptr) {
    const auto limit = UpperLimit(reader, {"bond"}, "offset");
    const double most = limit.value_or(kOffsetShare * mean->value);
    if (offset->value > most) {
      Finding f;
      f.kind = "off-centre bond";
      f.where = {"bond"};
      f.severity = offset->lo > most ? Severity::kHigh : Severity::kMedium;
      f.evidence = {{"offset_um", offset->value}, {limit ? "limit_um" : "threshold_um", most}};
      f.at = offset->at;
      f.text = fmt::format("The shaft sits {} off the sleeve's centre, more than {}.",
                           reader.Length(offset->value), reader.Length(most));
      out.push_back(std::move(f));
    }
  }
  if (least == nullptr) return;
  const auto limit = reader.LowerLimit({adhesive}, "thickness_min");
  const double floor = limit.value_or(kUnevenShare * mean->value);
  if (!(least->value < floor)) return;
  Finding f;
  f.kind = "uneven bond";
  f.where = {"bond"};
  f.severity = least->hi < floor ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{"thickness_min_um", least->value},
                {"thickness_mean_um", mean->value},
                {limit ? "limit_um" : "threshold_um", floor}};
  f.at = least->at;
  f.text = fmt::format("{} is {} at its thinnest place and {} in the mean.", adhesive,
                       reader.Length(least->value), reader.Length(mean->value));
  out.push_back(std::move(f));
}

}  // namespace

void FindLayers(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane == nullptr) return;
  FindLinerGaps(reader, out);
  FindMissingLiners(reader, out);
  if (!reader.plane->bond) return;
  FindStarved(reader, out);
  FindUneven(reader, out);
}

}  // namespace cutface::analyse
