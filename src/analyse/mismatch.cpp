// Signs that drawing, calibration and picture do not belong together: lumens that have each
// other's size, a face that is larger or smaller as a whole, one that is laid out otherwise.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "analyse/reader.h"
#include "cutface/stats.h"

namespace cutface::analyse {
namespace {

double DrawnWidth(const Shape& shape) {
  return 2 * std::sqrt(std::abs(Area<FrameUm>(shape.contour)) / std::numbers::pi);
}

struct Sized {
  std::string name;
  double measured = 0, drawn = 0;  // equal-area diameters, um
  double Off() const { return std::log(measured / drawn); }
};

std::vector<Sized> SizedLumens(const Reader& reader) {
  std::vector<Sized> all;
  for (const LumenDesign& lumen : reader.plane->lumens) {
    const Measurement* m = reader.Find({lumen.name}, "equivalent_diameter");
    if (m == nullptr || lumen.shape.contour.size() < 3 || !(m->value > 0)) continue;
    all.push_back({lumen.name, m->value, DrawnWidth(lumen.shape)});
  }
  return all;
}

// Two lumens drawn at least this far apart in size (logarithm), each of which has the other's size
// within this share of that difference. Parts scatter by 1 to 2 %: neither gets there by chance.
constexpr double kUnlike = 0.06, kEachOthers = 0.45;

void FindExchanged(const Reader& reader, std::vector<Finding>& out) {
  const std::vector<Sized> all = SizedLumens(reader);
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (std::size_t j = i + 1; j < all.size(); ++j) {
      const Sized &a = all[i], &b = all[j];
      const double apart = std::abs(std::log(a.drawn / b.drawn));
      if (apart < kUnlike) continue;
      const double off = std::max(std::abs(std::log(a.measured / b.drawn)),
                                  std::abs(std::log(b.measured / a.drawn)));
      if (!(off < kEachOthers * apart)) continue;
      Finding f;
      f.kind = "wrong part";
      f.where = {a.name, b.name};
      f.severity = Severity::kHigh;
      f.evidence = {{"exchanged", 1},
                    {"drawn_ratio", a.drawn / b.drawn},
                    {"measured_ratio", a.measured / b.measured}};
      f.text = fmt::format(
          "{} and {} have each other's size ({} and {}, drawn {} and {}): they have changed places "
          "on the part, or on the drawing, or this is another part.",
          a.name, b.name, reader.Length(a.measured), reader.Length(b.measured),
          reader.Length(a.drawn), reader.Length(b.drawn));
      out.push_back(std::move(f));
    }
  }
}

// All sizes off alike by at least this much (logarithm); alike: within this much of one another.
// What a part as a whole is off its drawing is mostly below 3 % (common practice).
constexpr double kOffAsAWhole = 0.045, kAlike = 0.025, kToldByOutline = 0.15;

void FindOtherScale(const Reader& reader, std::vector<Finding>& out) {
  std::vector<double> off;
  bool by_outline = false;
  const Measurement* m = reader.Find({"outline"}, "equivalent_diameter");
  if (m != nullptr && reader.plane->outline.contour.size() >= 3 && m->value > 0) {
    off.push_back(std::log(m->value / DrawnWidth(reader.plane->outline)));
    by_outline = std::abs(std::expm1(off.back())) > kToldByOutline;
  }
  if (by_outline) return;  // told by its size already
  for (const Sized& lumen : SizedLumens(reader)) off.push_back(lumen.Off());
  if (off.size() < 2) return;
  // A tilt that was told stretches every width of one direction: what it explains is no scale.
  const Placement& placement = reader.section.placement;
  const bool tilted = placement.stretch_kind == StretchKind::kOblique ||
                      placement.stretch_kind == StretchKind::kEither;
  if (tilted && !placement.oblique_corrected) {
    for (double& o : off) o -= 0.5 * std::log(std::max(1.0, placement.stretch));
  }
  const double usual = Median(off);
  if (std::abs(usual) < kOffAsAWhole) return;
  const auto alike =
      std::count_if(off.begin(), off.end(), [&](double o) { return std::abs(o - usual) < kAlike; });
  // The outline must be among them where it was measured, and all but one of the others.
  const bool outline = m == nullptr || std::abs(off.front() - usual) < kAlike;
  const auto n = static_cast<std::ptrdiff_t>(off.size());
  if (!outline || alike < std::max<std::ptrdiff_t>(2, n - 1)) return;
  Finding f;
  f.kind = "wrong scale";
  f.severity = Severity::kMedium;
  const double percent = 100 * std::expm1(usual);
  f.evidence = {{"larger_percent", percent}, {"features", static_cast<double>(alike)}};
  f.text = fmt::format(
      "Outline and lumens are {:.1f} % {} than drawn, all alike: the calibration of another zoom "
      "stop or objective, or a part of another size.",
      std::abs(percent), percent > 0 ? "larger" : "smaller");
  out.push_back(std::move(f));
}

// Areas against the drawing's beyond which a lumen is not the one drawn; a collapse goes further
// down for one lumen at most (common practice).
constexpr double kLeastArea = 0.70, kMostArea = 1.40;
// A breach this wide, of the narrowest member's drawn width, is no breach.
constexpr double kNoBreach = 0.6;
// A hole of this share of the smallest drawn lumen's area, and of the outline's width, is one more
// lumen.
constexpr double kLumenLike = 0.5, kOfOutline = 0.06;

// Lumens that are there but not as drawn, by name.
Names NotAsDrawn(const Reader& reader) {
  Names names;
  for (const LumenTrace& lumen : reader.section.lumens) {
    double narrowest = 1e300;
    for (const std::string& name : lumen.names) {
      if (const LumenDesign* d = reader.plane->FindLumen(name))
        narrowest = std::min(narrowest, DrawnWidth(d->shape));
    }
    bool other = false;
    if (lumen.state == LumenState::kMerged && lumen.breach) {
      other = lumen.names.size() > 2 ||
              Distance(lumen.breach->a, lumen.breach->b) > kNoBreach * narrowest;
    } else if (lumen.names.size() == 1) {
      const Measurement* m = reader.Find(lumen.names, "area_ratio");
      other = m != nullptr && (m->value < kLeastArea || m->value > kMostArea);
    }
    if (other) names.insert(names.end(), lumen.names.begin(), lumen.names.end());
  }
  return names;
}

int HolesLikeLumens(const Reader& reader) {
  double smallest = 1e300;
  for (const LumenDesign& lumen : reader.plane->lumens)
    smallest = std::min(smallest, DrawnWidth(lumen.shape));
  const double least =
      std::max(std::sqrt(kLumenLike) * smallest, kOfOutline * DrawnWidth(reader.plane->outline));
  return static_cast<int>(
      std::count_if(reader.section.voids.begin(), reader.section.voids.end(), [&](const Void& v) {
        const bool hole = v.kind == VoidClass::kVoid || v.kind == VoidClass::kDoubtful;
        return hole && v.of != "outside" && 2 * std::sqrt(v.area_um2 / std::numbers::pi) > least;
      }));
}

void FindOtherPlane(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane->lumens.empty() || reader.plane->kind == "lengthwise") return;
  const Names other = NotAsDrawn(reader);
  const int holes = HolesLikeLumens(reader);
  const std::size_t unlike = other.size() + static_cast<std::size_t>(holes);
  if (unlike < 2 || 2 * unlike < reader.plane->lumens.size() + 1) return;
  Finding f;
  f.kind = "wrong part";
  f.where = other;
  f.severity = Severity::kHigh;
  f.evidence = {{"lumens_not_as_drawn", static_cast<double>(other.size())},
                {"holes_like_lumens", static_cast<double>(holes)},
                {"lumens_drawn", static_cast<double>(reader.plane->lumens.size())}};
  f.text = fmt::format(
      "The face is laid out otherwise than drawn: {} of {} lumens are far off their drawn size or "
      "run together all across, and {} holes as large as lumens are not drawn. Another plane of "
      "the part, or another part.",
      other.size(), reader.plane->lumens.size(), holes);
  out.push_back(std::move(f));
}

// So many specks of metal's kind all around the part are a layer of wires (the least braid has 8
// carriers), where they leave no arc free and keep to a band.
constexpr std::size_t kLeastLayer = 7;
constexpr double kFreeArc = std::numbers::pi / 2, kBand = 0.25;  // of the outline's radius

// A drawing without wires, or without one layer of them, of a part that has it: no slot speaks of
// them, they look like debris. Where a drawn layer was not told they may be its own, which is a
// finding already.
void FindUndrawnWires(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane->kind == "lengthwise" || !reader.plane->fibres.empty()) return;
  for (const WireLayerDesign& drawn : reader.plane->wires) {
    const auto& wires = reader.section.wires;
    if (std::none_of(wires.begin(), wires.end(), [&](const WireTrace& wire) {
          return wire.layer == drawn.name && wire.state != WireState::kMissing;
        }))
      return;
  }
  if (!reader.section.outline || reader.section.outline->vertices.size() < 12) return;
  const ContourUm outline = reader.section.outline->Points();
  const PointUm centre = Centroid(std::span<const PointUm>(outline));
  std::vector<double> radius, angle;
  for (const Void& v : reader.section.voids) {
    if (v.kind != VoidClass::kDebris || v.of == "outside" || !Contains(outline, v.centroid))
      continue;
    radius.push_back(Norm(v.centroid - centre));
    angle.push_back(std::atan2(v.centroid.y - centre.y, v.centroid.x - centre.x));
  }
  if (radius.size() < kLeastLayer) return;
  const double around = std::sqrt(std::abs(Area<FrameUm>(outline)) / std::numbers::pi);
  if (Quantile(radius, 0.9) - Quantile(radius, 0.1) > kBand * around) return;
  std::sort(angle.begin(), angle.end());
  double widest = angle.front() + 2 * std::numbers::pi - angle.back();
  for (std::size_t i = 1; i < angle.size(); ++i) widest = std::max(widest, angle[i] - angle[i - 1]);
  if (widest > kFreeArc) return;
  Finding f;
  f.kind = "extra wire";
  f.severity = Severity::kHigh;
  f.evidence = {{"places", static_cast<double>(radius.size())},
                {"layers_drawn", static_cast<double>(reader.plane->wires.size())}};
  f.text = fmt::format(
      "{} specks that are no holes lie all around the part, as wires of a layer do; the drawing "
      "has none there. Another plane or revision, or another part.",
      radius.size());
  out.push_back(std::move(f));
}

}  // namespace

void FindMismatch(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane == nullptr) return;
  FindExchanged(reader, out);
  FindOtherScale(reader, out);
  FindOtherPlane(reader, out);
  FindUndrawnWires(reader, out);
}

}  // namespace cutface::analyse
