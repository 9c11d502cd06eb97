// Collapsed lumens, voids, and lumens that sit off-centre as a pattern.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "analyse/reader.h"

namespace cutface::analyse {
namespace {

struct Ratio {
  std::string_view word;
  std::string_view title;
  double least;
};

// Common practice: a perimeter within 3 % of nominal is kept.
constexpr double kPerimeterKept = 0.97;

// What kind of collapse it is: cut, pressed flat or shrunk, and in which direction.
std::string FormOf(const Reader& reader, const std::string& name, Finding& f) {
  const Measurement* perimeter = reader.Find({name}, "perimeter_ratio");
  const Measurement* narrow = reader.Find({name}, "narrow_clock");
  std::string text;
  const StretchKind stretch = reader.section.placement.stretch_kind;
  if (stretch == StretchKind::kSquashed || stretch == StretchKind::kEither) {
    f.evidence["face_stretched"] = reader.section.placement.stretch;
    text += " The whole face is stretched like this: the cut may have done it.";
  }
  if (perimeter != nullptr) {
    f.evidence["perimeter_ratio"] = perimeter->value;
    if (perimeter->value >= kPerimeterKept) {
      text += fmt::format(" Its perimeter is kept ({:.0f} %): pressed out of shape",
                          100 * perimeter->value);
    } else {
      text += fmt::format(" Its perimeter is down to {:.0f} %: it shrank{}", 100 * perimeter->value,
                          perimeter->hi < kPerimeterKept ? "" : ", as far as can be told");
    }
    text += narrow == nullptr ? "." : ",";
  }
  if (narrow != nullptr) {
    f.evidence["narrow_clock_deg"] = narrow->value;
    const int hour = static_cast<int>(std::lround(narrow->value / 30)) % 6;
    text += fmt::format(" narrow from {} to {} o'clock.", hour == 0 ? 12 : hour, hour + 6);
  }
  return text;
}

}  // namespace

void FindCollapse(const Reader& reader, std::vector<Finding>& out) {
  if (reader.design == nullptr) return;
  const FindingLimits& limits = reader.design->limits;
  const Ratio ratios[] = {{"flow_ratio", "flow", limits.flow_ratio_least},
                          {"inscribed_ratio", "inscribed circle", limits.inscribed_ratio_least},
                          {"area_ratio", "area", limits.area_ratio_least}};
  for (const LumenTrace& lumen : reader.section.lumens) {
    for (const std::string& name : lumen.names) {
      Finding f;
      bool below = false, proven = false;
      std::string figures;
      for (const Ratio& ratio : ratios) {
        const Measurement* m = reader.Find({name}, ratio.word);
        if (m == nullptr) continue;
        f.evidence[std::string(ratio.word)] = m->value;
        const bool low = m->value < ratio.least;
        below = below || low;
        proven = proven || m->hi < ratio.least;
        figures +=
            fmt::format("{}{} {:.0f} %{}", figures.empty() ? "" : ", ", ratio.title, 100 * m->value,
                        low ? fmt::format(" (at least {:.0f} %)", 100 * ratio.least) : "");
        if (low && f.at.empty()) f.at = m->at;
      }
      if (!below) continue;
      const std::string form = FormOf(reader, name, f);
      f.kind = "collapsed lumen";
      f.where = {name};
      f.severity = proven ? Severity::kHigh : Severity::kMedium;
      f.text = fmt::format("{} has given way; against its nominal shape: {}{}.", name, figures,
                           proven ? "" : "; not proven within the uncertainty");
      f.text += form;
      out.push_back(std::move(f));
    }
  }
}

namespace {

struct VoidWords {
  VoidClass kind;
  const char* finding;
  const char* title;
  const char* note;  // after the evidence
};
constexpr const char* kNextPlane =
    " It may come from cutting and is not counted as a void, but the upper limits of voids and the "
    "lower limits of barriers allow for it; the next plane tells.";
constexpr VoidWords kVoidWords[] = {
    {VoidClass::kVoid, "void", "Void", ""},
    {VoidClass::kBondGap, "void", "Bond gap", ""},
    {VoidClass::kLinerGap, "void", "Liner gap", ""},
    {VoidClass::kDebris, "debris", "Debris", ""},
    {VoidClass::kChip, "void", "Chip", kNextPlane},
    {VoidClass::kPulledOutWire, "void", "Pulled-out wire", kNextPlane},
    {VoidClass::kDelamination, "delamination", "Delamination",
     " Layers that cutting parts look like layers that were never joined: it is not counted as a "
     "void, but limits allow for it; the next plane tells."},
    {VoidClass::kSmear, "smear", "Smear",
     " Material drawn over the edge by blade or polishing may hide the bore's true edge there; "
     "polish again, or let the next plane tell."},
    {VoidClass::kPottingGap, "potting gap", "Potting gap",
     " The filling has drawn back; the polymer's edge is what is measured, and the gap is none of "
     "the part."},
};
constexpr VoidWords kOtherPlace = {VoidClass::kDoubtful, "void", "Doubtful place", kNextPlane};

const VoidWords& WordsOf(VoidClass kind) {
  for (const VoidWords& words : kVoidWords) {
    if (words.kind == kind) return words;
  }
  return kOtherPlace;
}

}  // namespace

void FindVoids(const Reader& reader, std::vector<Finding>& out) {
  for (const Void& hole : reader.section.voids) {
    if (hole.kind == VoidClass::kOutsideBubble || hole.of == "outside")
      continue;  // not of the part
    // Gaps of bonds and liners have findings of their own, but for voids that only lie there.
    const bool gap = hole.kind == VoidClass::kBondGap || hole.kind == VoidClass::kLinerGap;
    if (gap && hole.numbers.count("by_place") == 0) continue;
    const bool counts = gap || hole.kind == VoidClass::kVoid;
    const VoidWords& words = WordsOf(hole.kind);
    Finding f;
    f.kind = words.finding;
    // On the filling's side of an edge: whatever it is, it is no void of the part.
    if (hole.kind == VoidClass::kDoubtful && hole.numbers.count("beyond_edge") > 0)
      f.kind = "potting gap";
    f.where = {hole.of.empty() ? std::string("voids") : hole.of};
    if (f.kind == "void" || f.kind == "debris") f.where = {"voids"};
    const bool parted = hole.kind == VoidClass::kDelamination;
    f.severity = counts || parted ? Severity::kMedium : Severity::kLow;
    const double diameter = 2 * std::sqrt(hole.area_um2 / std::numbers::pi);
    f.evidence = hole.numbers;
    f.evidence["no"] = hole.no;
    f.evidence["area_um2"] = hole.area_um2;
    f.evidence["equivalent_diameter_um"] = diameter;
    f.evidence["counted"] = counts ? 1 : 0;
    f.at = {hole.centroid};
    f.text = fmt::format("{} {}: equal-area diameter {}{}{}.{}", words.title, hole.no,
                         reader.Length(diameter), hole.evidence.empty() ? "" : "; ", hole.evidence,
                         words.note);
    out.push_back(std::move(f));
  }
}

void FindPattern(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane == nullptr || reader.design == nullptr) return;
  const DatumDesign& datum = reader.plane->datum;
  if (!datum.centre.empty() && datum.centre != "outline") return;
  const PointUm origin = Centroid<FrameUm>(reader.plane->outline.contour);
  PointUm shift;
  double walls = 0;
  int count = 0;
  for (const LumenDesign& lumen : reader.plane->lumens) {
    const Measurement* offset = reader.Find({lumen.name}, "offset");
    const Measurement* wall = reader.Find({lumen.name}, "wall");
    if (offset == nullptr || wall == nullptr) continue;
    const auto nominal_wall = reader.NominalSolid(lumen.name, "outline");
    if (!nominal_wall) continue;
    const Measurement* clock = reader.Find({lumen.name}, "clock");
    const double angle = clock != nullptr ? clock->value * std::numbers::pi / 180 : 0;
    const PointUm at = offset->value * PointUm{std::sin(angle), -std::cos(angle)};
    shift = shift + at - (Centroid<FrameUm>(lumen.shape.contour) - origin);
    walls += *nominal_wall;
    ++count;
  }
  if (count == 0) return;
  const double mean_shift = Norm((1.0 / count) * shift), mean_wall = walls / count;
  const double share = reader.design->limits.off_centre_share;
  if (!(mean_shift > share * mean_wall)) return;
  Finding f;
  f.kind = "off-centre lumens";
  for (const LumenDesign& lumen : reader.plane->lumens) f.where.push_back(lumen.name);
  f.severity = mean_shift > 2 * share * mean_wall ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{"pattern_offset_um", mean_shift},
                {"nominal_wall_um", mean_wall},
                {"threshold_um", share * mean_wall}};
  f.text = fmt::format(
      "The lumens together sit {} off the outline's centre, more than {:.0f} % of the nominal wall "
      "of {}.",
      reader.Length(mean_shift), 100 * share, reader.Length(mean_wall));
  out.push_back(std::move(f));
}

}  // namespace cutface::analyse
