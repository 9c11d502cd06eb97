// Outline, lumens, clock and names. What is built in: marks.cpp; ligaments and findings:
// ligaments.cpp; the panel's text: caption.cpp.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "cutface/picture.h"
#include "picture/build.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;

// The name's free circle is wanted to a part of a pixel at most; a coarse search is quick.
constexpr double kNameToleranceUm = 1.0;

std::vector<const Finding*> FindingsOn(const SectionResult& result, const std::string& feature) {
  std::vector<const Finding*> found;
  for (const Finding& finding : result.findings) {
    // A region beside an edge has a mark of its own; the rest of the edge is none.
    const bool region = finding.evidence.count("no") > 0;
    if (!region && finding.where.size() == 1 && finding.where.front() == feature)
      found.push_back(&finding);
  }
  return found;
}

// Angle of 12 o'clock in the picture, as a rotation of the design's "up" (x right, y down, positive
// from +x to +y). The measured clock angles carry the datum frame; the pose only gives names, so it
// is used where no clock was measured or the lumens disagree about the centre.
double ClockRotation(const SectionResult& result, PointUm centre) {
  const Placement& placement = result.section.placement;
  const double sense = placement.mirrored ? -1 : 1;
  double c = 0, s = 0;
  int n = 0;
  for (const Measurement& m : result.measurements) {
    if (m.quantity != "clock" || m.state != Measurement::State::kMeasured || m.of.empty()) continue;
    const LumenTrace* lumen = result.section.FindLumen(m.of.front());
    if (lumen == nullptr || lumen->bore.vertices.size() < 3) continue;
    const ContourUm points = lumen->bore.Points();
    const PointUm d = Centroid<FrameUm>(points) - centre;
    const double up = std::atan2(d.x, -d.y) - sense * m.value * std::numbers::pi / 180;
    c += std::cos(up);
    s += std::sin(up);
    ++n;
  }
  constexpr double kAgreement = 0.999;  // mean resultant length: about 2.5 degrees of spread
  if (n == 0 || std::hypot(c, s) < kAgreement * n) return placement.rotation_rad;
  return std::atan2(s, c);
}

double ReachAlong(const ContourUm& outline, PointUm centre, PointUm direction) {
  double reach = 0;
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const PointUm a = outline[i] - centre, b = outline[(i + 1) % outline.size()] - centre;
    const double side_a = Cross(direction, a), side_b = Cross(direction, b);
    if ((side_a > 0) == (side_b > 0)) continue;
    const double t = side_a / (side_a - side_b);
    reach = std::max(reach, Dot(direction, a + t * (b - a)));
  }
  return reach;
}

}  // namespace

std::string FeatureKey(const std::vector<std::string>& of) {
  std::string key;
  for (const std::string& name : of) key += (key.empty() ? "" : "|") + name;
  return key;
}

void AddContours(const SectionResult& result, DisplayList& list) {
  const auto stroke = [&](Ink ink, LineStyle style, const std::string& feature, const char* key,
                          const TracedContour& contour) {
    Stroke s{ink, style, 1, key};
    // What the cut or the potting did beside a feature is marked at its place, not all along it.
    const std::vector<const Finding*> on = FindingsOn(result, feature);
    if (std::any_of(on.begin(), on.end(),
                    [](const Finding* f) { return f->severity != Severity::kLow; }))
      s = {Ink::kFinding, LineStyle::kDashDot, 1.5, "finding"};
    if (!contour.doubt.empty() && s.ink != Ink::kFinding && style == LineStyle::kSolid) {
      s.style = LineStyle::kDashed;
      s.key = "doubtful edge";
    }
    return s;
  };
  const Section& section = result.section;
  if (section.outline) {
    AddTraced(list, *section.outline,
              stroke(Ink::kOutline, LineStyle::kSolid, "outline", "outline", *section.outline),
              "outline");
  }
  for (const RingTrace& ring : section.rings) {
    AddTraced(list, ring.inner,
              stroke(Ink::kRing, LineStyle::kDashed, ring.name, "ring", ring.inner), ring.name);
  }
  AddLiners(result, list);
  AddWires(result, list);
  AddFibres(result, list);
  for (const LumenTrace& lumen : section.lumens) {
    AddTraced(list, lumen.bore,
              stroke(Ink::kLumen, LineStyle::kSolid, lumen.Key(), "lumen", lumen.bore),
              lumen.Key());
  }
  AddVoids(result, list);
}

void AddClock(const SectionResult& result, DisplayList& list) {
  if (!result.section.outline || result.section.outline->vertices.size() < 3) return;
  const ContourUm outline = result.section.outline->Points();
  const PointUm centre = Centroid<FrameUm>(outline);
  const double size = std::sqrt(Area<FrameUm>(outline) / std::numbers::pi);
  const double rotation = ClockRotation(result, centre);
  const double sense = result.section.placement.mirrored ? -1 : 1;
  for (int hour = 1; hour <= 12; ++hour) {
    const double angle = hour * std::numbers::pi / 6;
    const PointUm direction = Rotated(PointUm{sense * std::sin(angle), -std::cos(angle)}, rotation);
    const double reach = ReachAlong(outline, centre, direction);
    if (reach <= 0) continue;
    const double from = reach + 0.035 * size;
    const double length = size * (hour == 12 ? 0.075 : hour % 3 == 0 ? 0.045 : 0.022);
    AddItem(list, Kind::kPath,
            Stroke{Ink::kNeutral, LineStyle::kSolid, hour % 3 == 0 ? 1.0 : 0.7, ""},
            {centre + from * direction, centre + (from + length) * direction}, "clock");
    if (hour % 3 != 0) continue;
    DisplayItem text;
    text.kind = Kind::kText;
    text.ink = Ink::kNeutral;
    text.text = std::to_string(hour);
    text.points = {centre + (from + length + 0.05 * size) * direction};
    text.feature = "clock";
    text.rank = 3;
    list.items.push_back(std::move(text));
  }
}

void AddLumenNames(const SectionResult& result, DisplayList& list) {
  for (const LumenTrace& lumen : result.section.lumens) {
    if (lumen.bore.vertices.size() < 3) continue;
    const ContourUm points = lumen.bore.Points();
    DisplayItem text;
    text.kind = Kind::kText;
    text.ink = Ink::kLumen;
    for (const std::string& name : lumen.names) {
      text.text += (text.text.empty() ? "" : " + ") + name;
    }
    if (lumen.state != LumenState::kOpen) {
      text.text += "\n" + std::string(LumenStateName(lumen.state));
    }
    if (!lumen.bore.doubt.empty()) text.text += "\ndoubtful";
    const auto free = InscribedCircle<FrameUm>(points, kNameToleranceUm);
    text.points = {free ? free->centre : Centroid<FrameUm>(points)};
    text.radius_um = free ? free->radius : 0;
    text.feature = lumen.Key();
    text.rank = 0;
    list.items.push_back(std::move(text));
  }
}

DisplayList BuildDisplayList(const SectionResult& result) {
  DisplayList list;
  list.verdict = result.verdict;
  AddContours(result, list);
  AddClock(result, list);
  AddLigaments(result, list);
  AddBarriers(result, list);
  AddFindings(result, list);
  AddLumenNames(result, list);
  AddLayerNames(result, list);
  AddCaption(result, list);
  return list;
}

}  // namespace cutface
