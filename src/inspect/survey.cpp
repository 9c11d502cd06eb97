// The pipeline without a drawing.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/analyse.h"
#include "cutface/edge.h"
#include "cutface/inspect.h"
#include "cutface/segment.h"
#include "inspect/draft.h"
#include "inspect/shared.h"

namespace cutface {
namespace {

constexpr double kLumenAreaShare = 0.002;  // of the body's area: such a hole is a lumen
constexpr double kLumenDiameterPx = 20;    // or one this wide, when the part's lumens are not
constexpr double kLumenSizeShare = 0.25;   // more than four times as wide (else it is a void)
constexpr double kLumenClear = 0.6;        // share of its edge that must be clear
constexpr double kPottingShare = 0.35;     // of the outline's step: tone like the potting's
constexpr double kLeastVoidPx = 4.5;
constexpr double kDoubtfulVoidPx = 6;
constexpr double kFilledShare = 0.45;  // of the main step: paler holes are filled
constexpr double kUnsharpBlurPx = 4.5, kUnsharpBlurShare = 0.04;
constexpr double kEdgeCutoffUm = 10;  // as a drawing's default

double EqualAreaDiameter(double area) { return 2 * std::sqrt(area / M_PI); }

std::vector<EdgeInput> EdgesOf(const FaceProposal& face) {
  std::vector<EdgeInput> inputs;
  EdgeInput outline;
  outline.start = face.outline;
  outline.polymer_outside = false;
  outline.expected_step = -face.outline_step;
  inputs.push_back(std::move(outline));
  for (const ProposedHole& hole : face.holes) {
    EdgeInput input;
    input.start = hole.contour;
    input.expected_step = -hole.step;
    inputs.push_back(std::move(input));
  }
  return inputs;
}

// Proposed contours are right to a pixel or two of the reduced picture. Where texture drew a
// settled one further off, the proposed place stays, as one without an edge of its own.
void HoldToStart(const ContourPx& start, double limit, SettledContour& settled) {
  if (start.size() < 6 || settled.places.empty()) return;
  const ContourIndex<FramePx> index(View(start));
  ContourPx points;
  for (const SettledPlace& place : settled.places) points.push_back(place.at);
  const auto nearest = index.NearestToEach(View(points));
  std::size_t held = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    SettledPlace& place = settled.places[i];
    if (nearest[i].distance <= limit || place.state == PlaceState::kOutside) continue;
    place.at = nearest[i].on_second;
    place.state = PlaceState::kBridged;
    place.sigma_px = std::max(place.sigma_px, 0.3 * limit);
    ++held;
  }
  const double share = static_cast<double>(held) / static_cast<double>(points.size());
  settled.u_common_px = std::max(settled.u_common_px, 0.3 * limit * std::min(1.0, 2 * share));
}

bool IsLumen(const ProposedHole& hole, const FaceProposal& face, double area_px2) {
  const double body = Area(face.outline);
  const double largest = face.holes.empty() ? 0 : EqualAreaDiameter(face.holes.front().area_px2);
  const double least = std::max(kLumenDiameterPx, kLumenSizeShare * largest);
  if (EqualAreaDiameter(area_px2) < least && area_px2 < kLumenAreaShare * body) return false;
  if (hole.clear_share < kLumenClear) return false;
  if (hole.main_tone) return true;
  // Of the other tone: a lumen that holds the potting, else a void or debris.
  return std::abs(hole.step - face.outline_step) < kPottingShare * std::abs(face.outline_step) &&
         area_px2 > kLumenAreaShare * body;
}

void AddVoid(TracedContour contour, const ProposedHole& hole, const FaceProposal& face,
             const SettledFace& settled, double pitch, Section& section) {
  const ContourUm points = contour.Points();
  if (points.size() < 6) return;
  Void v;
  v.area_um2 = Area(points);
  v.centroid = Centroid(points);
  v.u_area_um2 = Perimeter(points) * std::hypot(contour.u_common_um, 0.1 * pitch);
  const double diameter = EqualAreaDiameter(v.area_um2) / pitch;
  if (diameter < kLeastVoidPx) return;
  const double share = face.main_step != 0 ? hole.step / face.main_step : 1;
  v.evidence = fmt::format("{:.1f} px across, {:.0f} % of a lumen's contrast", diameter,
                           100 * std::abs(share));
  if (share < 0 && 1 + hole.step > 0.55) {
    v.kind = VoidClass::kDebris;
    v.evidence = "its tone lies on the other side of the body's than the lumens'";
  } else if (contour.edge_blur_px > 1.7 * settled.blur_px + 0.3) {
    v.kind = VoidClass::kDoubtful;
    v.evidence =
        fmt::format("edge blur {:.1f} px against {:.1f} px of the picture: out of the plane",
                    contour.edge_blur_px, settled.blur_px);
  } else if (diameter < kDoubtfulVoidPx || std::abs(share) < 0.5 ||
             hole.clear_share < kLumenClear) {
    v.kind = VoidClass::kDoubtful;
  }
  v.no = static_cast<int>(section.voids.size()) + 1;
  v.contour = std::move(contour);
  section.voids.push_back(std::move(v));
}

void FillPicture(const SettledFace& settled, const FaceProposal& face, PictureQuality& q) {
  const double step = std::abs(face.main_step != 0 ? face.main_step : face.outline_step);
  q.noise = settled.noise * face.body_tone;
  q.blur_px = settled.blur_px;
  q.contrast = step * face.body_tone;
  q.gamma = settled.gamma;
  q.u_gamma = settled.u_gamma;
  const double ratio = step > 0 ? settled.noise / step : 1;
  q.smallest_void_px = std::max(6.0, 2.2 * settled.blur_px * (1 + 4 * ratio));
  if (settled.blur_px > 3) {
    q.grade = "doubtful";
    q.reasons.push_back(fmt::format("edges {:.1f} px soft", settled.blur_px));
  }
  if (ratio > 0.35) {
    q.grade = "doubtful";
    q.reasons.push_back(fmt::format("noise is {:.0f} % of the contrast", 100 * ratio));
  }
}

// Names l1, l2 ... by clock: the largest whole lumen is l1, the others follow by increasing angle
// about the outline's centre, +x towards +y (clockwise on the screen).
void NameByClock(PointUm centre, std::vector<LumenTrace>& lumens) {
  if (lumens.empty()) return;
  struct Place {
    double turn, area;
    std::size_t index;
  };
  std::vector<Place> places;
  for (std::size_t k = 0; k < lumens.size(); ++k) {
    const ContourUm points = lumens[k].bore.Points();
    const PointUm arm = Centroid(points) - centre;
    const double area = lumens[k].bore.whole ? Area(points) : 0;
    places.push_back({std::atan2(arm.y, arm.x), area, k});
  }
  const Place first = *std::max_element(places.begin(), places.end(),
                                        [](auto a, auto b) { return a.area < b.area; });
  for (Place& p : places) {
    p.turn = std::fmod(p.turn - first.turn + 4 * M_PI, 2 * M_PI);
    if (p.index == first.index) p.turn = -1;
  }
  std::sort(places.begin(), places.end(), [](auto a, auto b) { return a.turn < b.turn; });
  std::vector<LumenTrace> ordered;
  for (const Place& p : places) {
    ordered.push_back(std::move(lumens[p.index]));
    ordered.back().names = {fmt::format("l{}", ordered.size())};
  }
  lumens = std::move(ordered);
}

Section AssembleFace(const FaceProposal& face, const SettledFace& settled, const Scale& scale) {
  Section section;
  const double pitch = scale.mean_pitch_um();
  section.outline = TracedFrom(settled.contours.front(), scale);
  if (face.cut_by_frame) section.outline->whole = false;
  for (std::size_t k = 0; k < face.holes.size(); ++k) {
    const ProposedHole& hole = face.holes[k];
    TracedContour contour = TracedFrom(settled.contours[1 + k], scale);
    if (contour.vertices.size() < 6) continue;
    const double area_px2 = Area(contour.Points()) / (pitch * pitch);
    if (!IsLumen(hole, face, area_px2)) {
      AddVoid(std::move(contour), hole, face, settled, pitch, section);
      continue;
    }
    LumenTrace lumen;
    lumen.bore = std::move(contour);
    if (hole.step / face.main_step < kFilledShare) lumen.state = LumenState::kFilled;
    if (hole.cut_by_frame || !lumen.bore.whole) {
      lumen.bore.whole = false;
      lumen.state = LumenState::kCutOff;
    }
    section.lumens.push_back(std::move(lumen));
  }
  const ContourUm outline = section.outline->Points();
  const PointUm centre = Centroid(outline);
  NameByClock(centre, section.lumens);
  section.placement.centre_px = scale.ToPx(centre);
  FillPicture(settled, face, section.picture);
  return section;
}

}  // namespace

Result<Survey> SurveySection(const Micrograph& micrograph, const CalibrationRecord& calibration,
                             const Scale& scale, const InspectOptions& options) {
  if (!Going(options, 0.1, "finding the face")) return Stopped();
  const auto face = ProposeFace(micrograph);
  if (!face) return tl::unexpected(face.error());

  if (!Going(options, 0.3, "settling edges")) return Stopped();
  EdgeOptions edge;
  edge.gamma = calibration.gamma;
  edge.u_gamma = calibration.gamma_u.value_or(0);
  edge.smoothing_px = kEdgeCutoffUm / scale.mean_pitch_um();
  const std::vector<EdgeInput> inputs = EdgesOf(*face);
  SettledFace settled = SettleEdges(micrograph, face->light, inputs, edge);
  for (std::size_t k = 0; k < inputs.size(); ++k) {
    HoldToStart(inputs[k].start, 3.0 + micrograph.reduction, settled.contours[k]);
  }
  const double radius = std::sqrt(Area(face->outline) / M_PI);
  if (settled.blur_px > std::min(kUnsharpBlurPx, kUnsharpBlurShare * radius)) {
    return Fail(Code::kOutOfFocus, fmt::format("edges are {:.1f} px soft, too soft to measure; "
                                               "refocus and take the picture again",
                                               settled.blur_px));
  }

  if (!Going(options, 0.5, "measuring")) return Stopped();
  Survey survey;
  FillIdentity(micrograph, calibration, scale, options, survey.result);
  survey.result.section_name = "survey";
  survey.result.section = AssembleFace(*face, settled, scale);
  survey.draft =
      inspect::DraftDesign(survey.result.section, scale.mean_pitch_um(), survey.result.warnings);
  survey.result.units = survey.draft.units;
  survey.result.measurements =
      MeasureSection(survey.result.section, nullptr, nullptr, scale, options.measure);

  if (!Going(options, 0.9, "looking for findings")) return Stopped();
  survey.result.findings =
      Analyse(survey.result.section, nullptr, nullptr, survey.result.measurements);
  AttachHints(options.hints ? *options.hints : BuiltInHints(), survey.result.findings);
  return survey;
}

}  // namespace cutface
