// What the picture and the cut themselves say: frame, light, tilt, mirror, and whether the part is
// the one that was drawn.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "analyse/reader.h"

namespace cutface::analyse {
namespace {

// Tilts in degrees (common practice): lengths along the tilt are over-read by 1 / cos - 1, which
// is 0.4, 1.5 and 6.4 %.
constexpr double kTiltSeenDeg = 5, kTiltMuchDeg = 10, kTiltTooMuchDeg = 20;
// Squashes in percent, long against short; the same lengths are at stake (common practice).
constexpr double kSquashMuch = 1.5, kSquashTooMuch = 6;
// An outline this far off its nominal width belongs to another part or another scale (common
// practice).
constexpr double kOtherSize = 0.15;

std::string List(const Names& names) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    text += (i == 0 ? "" : i + 1 == names.size() ? " and " : ", ") + names[i];
  }
  return text;
}

void FindTilt(const Reader& reader, std::vector<Finding>& out) {
  const Placement& placement = reader.section.placement;
  constexpr double kDegrees = 180 / std::numbers::pi;
  const double tilt = placement.oblique_rad * kDegrees;
  if (!(tilt >= kTiltSeenDeg)) return;
  const bool either = placement.stretch_kind == StretchKind::kEither;
  const double stretch = 1 / std::cos(placement.oblique_rad) - 1;
  Finding f;
  f.kind = "oblique cut";
  f.severity = tilt >= kTiltTooMuchDeg ? Severity::kHigh
               : tilt >= kTiltMuchDeg  ? Severity::kMedium
                                       : Severity::kLow;
  f.evidence = {{"tilt_deg", tilt}, {"stretch_percent", 100 * stretch}};
  if (placement.u_oblique_rad > 0) f.evidence["u_tilt_deg"] = placement.u_oblique_rad * kDegrees;
  if (placement.oblique_corrected) {
    if (f.severity == Severity::kHigh) f.severity = Severity::kMedium;
    f.text = fmt::format(
        "The cut is oblique by {:.1f} degrees (u {:.1f}); all values are corrected for it, with "
        "its uncertainty. As seen, lengths along the tilt read up to {:.1f} % longer.",
        tilt, placement.u_oblique_rad * kDegrees, 100 * stretch);
  } else {
    f.text = fmt::format(
        "The cut is oblique by about {:.0f} degrees: lengths along the tilt read up to {:.1f} % "
        "too long, septa and walls too; the lower limits allow for it.{}",
        tilt, 100 * stretch,
        either ? " A slice squashed by the blade would look alike: the sizes do not tell." : "");
  }
  out.push_back(std::move(f));
  if (!either) return;
  Finding squash;
  squash.kind = "squashed";
  squash.severity = Severity::kLow;
  squash.evidence = {{"stretch_percent", 100 * stretch}};
  squash.text =
      "Perhaps squashed instead of cut obliquely: the face is stretched alike, and the sizes do "
      "not "
      "tell which.";
  out.push_back(std::move(squash));
}

// Squashed by the blade (or oval as a whole: a second section tells).
void FindSquash(const Reader& reader, std::vector<Finding>& out) {
  const Placement& placement = reader.section.placement;
  if (placement.stretch_kind != StretchKind::kSquashed) return;
  const double percent = 100 * (placement.stretch - 1);
  Finding f;
  f.kind = "squashed";
  f.severity = percent >= kSquashTooMuch ? Severity::kHigh
               : percent >= kSquashMuch  ? Severity::kMedium
                                         : Severity::kLow;
  f.evidence = {{"stretch_percent", percent},
                {"axis_deg", placement.oblique_axis_rad * 180 / std::numbers::pi}};
  f.text = fmt::format(
      "Outline and lumens are longer along one direction by {:.1f} % alike while their areas are "
      "kept: the slice was squashed by the blade, or the whole part is oval. The limits of lengths "
      "allow for it; a second section tells.",
      percent);
  out.push_back(std::move(f));
}

void FindMirror(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane == nullptr || !reader.section.placement.mirrored) return;
  Finding f;
  f.kind = "mirrored";
  const std::string& seen = reader.plane->seen_from;
  f.severity = seen.empty() ? Severity::kLow : Severity::kMedium;
  f.text = fmt::format(
      "The face is the mirror image of the drawing{}: it was seen from the other side, or the "
      "picture was flipped. Clock angles are given in the drawing's sense.",
      seen.empty() ? "" : fmt::format(", which is seen from {}", seen));
  out.push_back(std::move(f));
}

void FindFrame(const Reader& reader, std::vector<Finding>& out) {
  Names cut;
  if (reader.section.outline && !reader.section.outline->whole) cut.push_back("outline");
  for (const LumenTrace& lumen : reader.section.lumens) {
    const bool traced = lumen.state != LumenState::kNotFound && !lumen.bore.vertices.empty();
    if (lumen.state == LumenState::kCutOff || (traced && !lumen.bore.whole)) {
      cut.insert(cut.end(), lumen.names.begin(), lumen.names.end());
    }
  }
  if (cut.empty()) return;
  Finding f;
  f.kind = "cut off by the frame";
  f.where = cut;
  f.severity = Severity::kMedium;
  f.evidence = {{"features", static_cast<double>(cut.size())}};
  f.text = fmt::format("{} {} not wholly inside the picture; what is cut off was not measured.",
                       List(cut), cut.size() == 1 ? "is" : "are");
  out.push_back(std::move(f));
}

void FindPoorImage(const Reader& reader, std::vector<Finding>& out) {
  const PictureQuality& picture = reader.section.picture;
  if (picture.grade == "clean") return;
  Finding f;
  f.kind = "poor image";
  const bool unusable = picture.grade == "unusable";
  f.severity = unusable ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{"noise", picture.noise},
                {"blur_px", picture.blur_px},
                {"contrast", picture.contrast},
                {"saturated_share", picture.saturated_share}};
  f.text = fmt::format("The picture is {}", picture.grade);
  for (std::size_t i = 0; i < picture.reasons.size(); ++i) {
    f.text += (i == 0 ? ": " : "; ") + picture.reasons[i];
  }
  f.text += ".";
  out.push_back(std::move(f));
}

// Nominal and measured width of the outline, by equal area: right for any shape.
void FindOtherSize(const Reader& reader, std::vector<Finding>& out) {
  const Measurement* measured = reader.Find({"outline"}, "equivalent_diameter");
  if (measured == nullptr || reader.plane->outline.contour.size() < 3) return;
  const double nominal =
      2 * std::sqrt(Area<FrameUm>(reader.plane->outline.contour) / std::numbers::pi);
  const double off = measured->value / nominal - 1;
  if (!(std::abs(off) > kOtherSize)) return;
  Finding f;
  f.kind = "wrong part";
  f.where = {"outline"};
  f.severity = Severity::kHigh;
  f.evidence = {{"equivalent_diameter_um", measured->value}, {"nominal_um", nominal}};
  f.text = fmt::format(
      "The outline is {:.0f} % {} than drawn ({} against {}): another part, or the calibration of "
      "another magnification.",
      100 * std::abs(off), off > 0 ? "larger" : "smaller", reader.Length(measured->value),
      reader.Length(nominal));
  out.push_back(std::move(f));
}

bool HardlySeen(const TracedContour& contour) {
  constexpr double kHardlySeen = 0.75;
  const auto bridged =
      std::count_if(contour.vertices.begin(), contour.vertices.end(),
                    [](const ContourVertex& v) { return v.state == VertexState::kBridged; });
  return static_cast<double>(bridged) > kHardlySeen * static_cast<double>(contour.vertices.size());
}

// An outline along which no edge shows: what lies in it may be anything, the part's own edge too.
void FindUnseenOutline(const Reader& reader, std::vector<Finding>& out) {
  const auto& outline = reader.section.outline;
  if (!outline || outline->vertices.empty() || !HardlySeen(*outline)) return;
  Finding f;
  f.kind = "wrong part";
  f.where = {"outline"};
  for (const LumenTrace& lumen : reader.section.lumens)
    f.where.insert(f.where.end(), lumen.names.begin(), lumen.names.end());
  f.severity = Severity::kHigh;
  f.evidence = {{"outline_without_edge", 1}};
  f.text =
      "No edge is to be seen where the outline should be: what was taken for a lumen may be the "
      "part's own edge. Another part, another scale, or potting of the body's tone.";
  out.push_back(std::move(f));
}

// An open bore along which no edge shows, but where it was expected: filled in the body's tone,
// or not there.
void FindEdgeless(const Reader& reader, std::vector<Finding>& out) {
  Names unseen;
  for (const LumenTrace& lumen : reader.section.lumens) {
    if (lumen.state != LumenState::kOpen || lumen.bore.vertices.empty()) continue;
    if (HardlySeen(lumen.bore)) unseen.insert(unseen.end(), lumen.names.begin(), lumen.names.end());
  }
  if (unseen.empty()) return;
  Finding f;
  f.kind = "wrong part";
  f.where = unseen;
  f.severity = unseen.size() == reader.plane->lumens.size() ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{"lumens_without_edge", static_cast<double>(unseen.size())}};
  f.text = fmt::format(
      "No edge is to be seen around {}: filled with something of the body's tone, not there, or "
      "another part.",
      List(unseen));
  out.push_back(std::move(f));
}

void FindWrongPart(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane == nullptr) return;
  FindOtherSize(reader, out);
  FindUnseenOutline(reader, out);
  FindEdgeless(reader, out);
  Names missing;
  for (const LumenTrace& lumen : reader.section.lumens) {
    if (lumen.state == LumenState::kNotFound) {
      missing.insert(missing.end(), lumen.names.begin(), lumen.names.end());
    }
  }
  if (!missing.empty()) {
    const bool several = missing.size() >= 2 || missing.size() == reader.plane->lumens.size();
    Finding f;
    f.kind = "wrong part";
    f.where = missing;
    f.severity = several ? Severity::kHigh : Severity::kMedium;
    f.evidence = {{"lumens_not_found", static_cast<double>(missing.size())},
                  {"lumens_drawn", static_cast<double>(reader.plane->lumens.size())}};
    f.text = fmt::format(
        "{} of {} drawn lumens {} not found ({}): closed or filled so that no edge shows, or "
        "another part.",
        missing.size(), reader.plane->lumens.size(), missing.size() == 1 ? "was" : "were",
        List(missing));
    out.push_back(std::move(f));
  }
  if (!reader.section.placement.names_proven) {
    Finding f;
    f.kind = "wrong part";
    f.severity = Severity::kMedium;
    f.text =
        "The names of the lumens are not proven: the drawing fits this face nearly as well in "
        "another rotation or mirrored. Check the part, the drawing and the names.";
    out.push_back(std::move(f));
  }
}

// Notes, no defects: a mandrel or resin in a bore is often wanted.
Finding MandrelIn(const LumenTrace& lumen) {
  Finding f;
  f.kind = "mandrel left in";
  f.where = lumen.names;
  f.severity = Severity::kLow;
  f.at = {lumen.mandrel->centre};
  const bool told = lumen.bore.doubt.empty() && !lumen.bore.vertices.empty();
  f.text = fmt::format(
      "A disc of metal lies in {}, a mandrel or a wire left in: the bore is supported, {}.",
      List(lumen.names),
      told ? "its edge was measured around the disc" : "but its own edge was not told beside it");
  if (told) {
    const double bore = 2 * std::sqrt(Area(lumen.bore.Points()) / M_PI);
    f.evidence["share_of_diameter_percent"] =
        100 * std::sqrt(lumen.mandrel->long_um * lumen.mandrel->short_um) / bore;
  }
  return f;
}

void FindFilled(const Reader& reader, std::vector<Finding>& out) {
  for (const LumenTrace& lumen : reader.section.lumens) {
    if (lumen.mandrel) {
      out.push_back(MandrelIn(lumen));
      continue;
    }
    if (lumen.state != LumenState::kFilled) continue;
    Finding f;
    f.kind = "filled lumen";
    f.where = lumen.names;
    f.severity = Severity::kLow;
    f.text =
        fmt::format("{} is filled; its edge was measured against the filling.", List(lumen.names));
    out.push_back(std::move(f));
  }
}

}  // namespace

void FindPicture(const Reader& reader, std::vector<Finding>& out) {
  FindPoorImage(reader, out);
  FindWrongPart(reader, out);
  FindFrame(reader, out);
  FindTilt(reader, out);
  FindSquash(reader, out);
  FindMirror(reader, out);
  FindFilled(reader, out);
}

}  // namespace cutface::analyse
