#include "cutface/identify.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <opencv2/core.hpp>
#include <optional>
#include <utility>

#include "cutface/edge.h"
#include "cutface/stats.h"
#include "identify/assemble.h"
#include "identify/classes.h"
#include "identify/edge_marks.h"
#include "identify/fibres.h"
#include "identify/gaps.h"
#include "identify/layers.h"
#include "identify/lengthwise.h"
#include "identify/mandrel.h"
#include "identify/names.h"
#include "identify/oblique.h"
#include "identify/trace.h"
#include "identify/wires.h"

namespace cutface {
namespace {

constexpr double kExtremes[] = {0.03, 0.1};  // of the picture's blocks, on either side
constexpr double kPlainlyThere =
    0.45;  // share explained without them: more than else, for much was taken out
constexpr double kRoomAboutMandrel = 1.04;  // a bore's area against the disc in it
constexpr double kNameMargin = 3.0;         // log-likelihood by which names must win: 20 to 1
constexpr double kOthersShare = 0.25;       // of a guided trace beside what is already known
constexpr double kLayerNear_px = 2.5;       // of the reduced picture
constexpr double kLessOutline = 0.03;       // of the outline, likewise
constexpr double kLostOutline = 0.1;        // of it: beside another place of the drawing
constexpr double kUnseenShare = 0.6;        // beyond: nothing of the face is sharp
constexpr double kUnsharpBlurShare = 0.04;  // of the outline's radius: out of focus
constexpr double kUnsharpBlur_px = 4.5;

int SignOf(double value) { return value >= 0 ? 1 : -1; }

// Everything the edge room shall settle, in the order outline, lumens, voids.
struct Plan {
  std::vector<EdgeInput> inputs;
  std::vector<CoarseLumen> lumens;
  std::vector<CoarseVoid> voids;
  LayerPlan layers;
};

// A lumen that shows nothing of itself is easily traced along its neighbours' edges.
bool FollowsOthers(const ContourPx& contour, double near_px, const ContourPx& outline,
                   const Regions& regions) {
  std::vector<const ContourPx*> others{&outline};
  for (const CoarseLumen& lumen : regions.lumens) others.push_back(&lumen.contour);
  for (const CoarseVoid& v : regions.voids) others.push_back(&v.contour);
  std::size_t near = 0;
  for (PointPx p : contour) {
    const bool beside = std::any_of(others.begin(), others.end(), [&](const ContourPx* other) {
      return std::any_of(other->begin(), other->end(),
                         [&](PointPx q) { return Distance(p, q) < near_px; });
    });
    near += beside ? 1 : 0;
  }
  return static_cast<double>(near) > kOthersShare * static_cast<double>(contour.size());
}

Plan MakePlan(const Micrograph& micrograph, const FaceTones& tones, const Pose& pose,
              const SectionDesign& plane, LayerPlan layers, Regions& regions) {
  Plan plan;
  const double reach = 4 + 2.0 * micrograph.reduction;
  // contrast is signed outwards in the direction that the trace chose.
  const double outline_step = tones.outside - tones.skin;
  const int outline_sign = SignOf(outline_step);
  EdgeInput outline;
  outline.start = Retraced(micrograph, pose.outline, reach + 2, outline_sign);
  outline.polymer_outside = false;
  outline.expected_step = -outline_step;
  plan.inputs.push_back(std::move(outline));

  for (int k : std::vector<int>(regions.missing)) {
    const auto guided = TraceByDrawing(
        micrograph, tones, pose.warp(plane.lumens[static_cast<std::size_t>(k)].shape.contour));
    if (!guided || FollowsOthers(guided->contour, reach, pose.outline, regions)) continue;
    CoarseLumen lumen;
    lumen.lumens = {k};
    lumen.contour = guided->contour;
    lumen.step = guided->step;
    regions.lumens.push_back(std::move(lumen));
    regions.missing.erase(std::find(regions.missing.begin(), regions.missing.end(), k));
  }
  for (CoarseLumen& lumen : regions.lumens) {
    EdgeInput input;
    input.start = Retraced(micrograph, lumen.contour, reach, -SignOf(lumen.step));
    input.expected_step = -lumen.step;
    const bool lined = std::any_of(lumen.lumens.begin(), lumen.lumens.end(), [&](int k) {
      return plane.lumens[static_cast<std::size_t>(k)].liner_thickness_um.has_value();
    });
    // A liner that was traced is told apart as a neighbour; one that was not passes for a rim.
    input.layered = lined && layers.LinerOf(lumen) == nullptr;
    if (const LinerPath* liner = layers.LinerOf(lumen)) {
      input.start = liner->bore;
      input.expected_step = liner->bore_step;
    }
    plan.inputs.push_back(std::move(input));
    plan.lumens.push_back(std::move(lumen));
  }
  for (CoarseVoid& v : regions.voids) {
    EdgeInput input;
    input.start = v.contour;
    // It may be a wire: metal says nothing of how polished polymer looks.
    input.layered = !plane.wires.empty() || !plane.fibres.empty();
    input.expected_step = -v.step;
    plan.inputs.push_back(std::move(input));
    plan.voids.push_back(std::move(v));
  }
  layers.AddInputs(plan.inputs);
  plan.layers = std::move(layers);
  return plan;
}

// The oval through the middles of a layer's wires: drawn as a circle, stretched as all is. Its
// radius is fitted with the first two harmonics over the round, to which wires that lie over and
// under by turns add nothing.
std::optional<FeaturePair> WireRing(const WireLayerDesign& drawn, const WireLayerTrace& layer,
                                    const Section& section) {
  constexpr Eigen::Index kLeastWires = 12;
  constexpr int kVertices = 96;
  std::vector<PointUm> at;
  for (const WireTrace& wire : section.wires) {
    if (wire.layer == drawn.name && wire.state == WireState::kWire && wire.exposed_to.empty() &&
        !wire.displaced)
      at.push_back(wire.centroid - layer.centre);
  }
  const auto n = static_cast<Eigen::Index>(at.size());
  // A wire left out unbalances those that lie over and under.
  if (n < kLeastWires || n < layer.expected || drawn.on_diameters_um.empty()) return std::nullopt;
  Eigen::MatrixXd rows(n, 5);
  Eigen::VectorXd radii(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const PointUm p = at[static_cast<std::size_t>(i)];
    const double t = std::atan2(p.y, p.x);
    rows.row(i) << 1, std::cos(t), std::sin(t), std::cos(2 * t), std::sin(2 * t);
    radii(i) = Norm(p);
  }
  const Eigen::VectorXd k = rows.colPivHouseholderQr().solve(radii);
  const auto [least, most] =
      std::minmax_element(drawn.on_diameters_um.begin(), drawn.on_diameters_um.end());
  FeaturePair pair;
  pair.kind = FeatureKind::kWires;
  for (int i = 0; i < kVertices; ++i) {
    const double t = 2 * M_PI * i / kVertices, c = std::cos(t), s = std::sin(t);
    const double r = k(0) + k(1) * c + k(2) * s + k(3) * std::cos(2 * t) + k(4) * std::sin(2 * t);
    pair.nominal.push_back(0.25 * (*least + *most) * PointUm{c, s});
    pair.measured.push_back(layer.centre + r * PointUm{c, s});
  }
  return pair;
}

// A round outline that the frame cuts off, continued as the ellipse through what is seen of it.
std::optional<FeaturePair> PartOutline(const TracedContour& outline, const Shape& drawn) {
  constexpr double kLeastSeen = 0.55;  // of the drawn way round
  constexpr int kVertices = 180;
  if (drawn.kind != Shape::Kind::kCircle || !outline.doubt.empty()) return std::nullopt;
  ContourUm seen;
  double way = 0;
  for (std::size_t i = 0; i < outline.vertices.size(); ++i) {
    const ContourVertex& v = outline.vertices[i];
    const ContourVertex& next = outline.vertices[(i + 1) % outline.vertices.size()];
    if (v.state != VertexState::kMeasured) continue;
    seen.push_back(v.at);
    if (next.state == VertexState::kMeasured) way += Distance(v.at, next.at);
  }
  if (way < kLeastSeen * Perimeter(View(drawn.contour))) return std::nullopt;
  const auto ellipse = FitEllipse(seen);
  if (!ellipse) return std::nullopt;
  FeaturePair pair{FeatureKind::kPartOutline, {}, drawn.contour};
  for (int k = 0; k < kVertices; ++k) {
    const double t = 2 * M_PI * k / kVertices;
    pair.measured.push_back(ellipse->centre + Rotated(PointUm{ellipse->semi_major * std::cos(t),
                                                              ellipse->semi_minor * std::sin(t)},
                                                      ellipse->angle));
  }
  return pair;
}

void FillStretch(const Pose& pose, const Scale& scale, const SectionDesign& plane,
                 const Section& section, Placement& placement) {
  if (plane.kind == "lengthwise") return;  // its length is not shown
  std::vector<FeaturePair> features;
  const auto add = [&](FeatureKind kind, const TracedContour& contour, const Shape& shape) {
    if (contour.whole && contour.vertices.size() >= 6)
      features.push_back({kind, contour.Points(), shape.contour});
  };
  if (section.outline) add(FeatureKind::kOutline, *section.outline, plane.outline);
  if (section.outline && features.empty()) {
    if (auto part = PartOutline(*section.outline, plane.outline)) features.push_back(*part);
  }
  for (const RingTrace& ring : section.rings) {
    for (const RingDesign& drawn : plane.rings) {
      if (drawn.name == ring.name) add(FeatureKind::kRing, ring.inner, drawn.inner);
    }
  }
  for (const LumenTrace& lumen : section.lumens) {
    if (lumen.state != LumenState::kOpen && lumen.state != LumenState::kFilled) continue;
    if (const LumenDesign* d = plane.FindLumen(lumen.names.front()))
      add(FeatureKind::kLumen, lumen.bore, d->shape);
  }
  for (const WireLayerDesign& drawn : plane.wires) {
    const auto layer = std::find_if(section.wire_layers.begin(), section.wire_layers.end(),
                                    [&](const auto& l) { return l.name == drawn.name; });
    if (layer == section.wire_layers.end() || !layer->counted || features.empty()) continue;
    if (auto ring = WireRing(drawn, *layer, section)) features.push_back(std::move(*ring));
  }
  const CommonStretch stretch = FindCommonStretch(
      pose.rotation_rad, pose.mirrored, scale.mean_pitch_um(), features, PartSizeOf(plane));
  placement.stretch_kind = stretch.kind;
  placement.stretch = stretch.stretch;
  placement.oblique_rad = stretch.tilt_rad;
  placement.u_oblique_rad = stretch.u_tilt_rad;
  placement.oblique_most_rad = stretch.most_rad;
  placement.oblique_axis_rad = stretch.axis_rad;
}

void FillPlacement(const Pose& pose, double name_margin, const Scale& scale,
                   const SectionDesign& plane, const Section& section, Placement& placement) {
  const PointPx centre = pose.warp({0, 0});
  placement.centre_px = centre;
  placement.rotation_rad = pose.rotation_rad;
  placement.mirrored = pose.mirrored;
  placement.interchangeable = pose.interchangeable;
  placement.names_proven = name_margin > kNameMargin;
  FillStretch(pose, scale, plane, section, placement);
}

// All that is measured of a lumen hangs on its name.
void DoubtNames(const NameChoice& names, const SectionDesign& plane, Section& section) {
  if (names.margin > kNameMargin) return;
  for (LumenTrace& lumen : section.lumens) {
    for (const std::string& name : lumen.names) {
      const auto drawn = std::find_if(plane.lumens.begin(), plane.lumens.end(),
                                      [&](const LumenDesign& d) { return d.name == name; });
      const auto other = names.others.find(static_cast<int>(drawn - plane.lumens.begin()));
      if (other == names.others.end() || lumen.bore.vertices.empty()) continue;
      const std::string instead = other->second < 0
                                      ? "another lumen"
                                      : plane.lumens[static_cast<std::size_t>(other->second)].name;
      lumen.bore.doubt += fmt::format(
          "{}the name {} is not proven: turned or mirrored the drawing fits nearly as well, and "
          "this would be {}",
          lumen.bore.doubt.empty() ? "" : "; ", name, instead);
    }
  }
}

// Where half of the drawn lumens show no edge, the others may bear each other's names: a drawing
// that is turned finds some lumen in many a place.
void DoubtNamesOfFew(const SectionDesign& plane, Section& section) {
  std::size_t lost = 0;
  for (const LumenTrace& lumen : section.lumens)
    lost += lumen.state == LumenState::kNotFound ? lumen.names.size() : 0;
  if (plane.lumens.size() < 2 || 2 * lost < plane.lumens.size()) return;
  section.placement.names_proven = false;
  for (LumenTrace& lumen : section.lumens) {
    if (lumen.bore.vertices.empty()) continue;
    lumen.bore.doubt +=
        fmt::format("{}its name is not proven: {} of {} drawn lumens were not found",
                    lumen.bore.doubt.empty() ? "" : "; ", lost, plane.lumens.size());
  }
}

// Share of a contour along which no edge was to be seen: mean of the first `count` (outline,
// lumens).
double UnseenShare(const SettledFace& settled, std::size_t count) {
  double unseen = 0;
  for (std::size_t k = 0; k < count; ++k) {
    const auto& places = settled.contours[k].places;
    const auto bridged = std::count_if(places.begin(), places.end(), [](const SettledPlace& p) {
      return p.state == PlaceState::kBridged;
    });
    unseen += static_cast<double>(bridged) / std::max(1.0, static_cast<double>(places.size()));
  }
  return unseen / static_cast<double>(count);
}

// Metal and holes may hold most of the variance of a picture whose solids differ little, and no
// drawing of solids explains it. The same picture without its extremes.
cv::Mat1f WithoutExtremes(const cv::Mat1f& work, double share) {
  std::vector<double> tones;
  for (int y = 0; y < work.rows; y += 3) {
    for (int x = 0; x < work.cols; x += 3) tones.push_back(work(y, x));
  }
  if (tones.empty()) return work;
  const double low = Quantile(tones, share), high = Quantile(std::move(tones), 1 - share);
  cv::Mat1f out;
  cv::max(work, low, out);
  cv::min(out, high, out);
  return out;
}

// The drawing in the picture: where, what tones, how sure the names are.
struct Placed {
  Pose pose;
  FaceTones tones;
  NameChoice names;
};
Result<Placed> Place(const Micrograph& micrograph, const Scale& scale, const SectionDesign& plane,
                     bool detail) {
  const cv::Mat1f work = micrograph.reduced_mean;
  auto pose = FindPose(work, micrograph.reduction, scale.mean_pitch_um(), plane, detail);
  for (const double share : kExtremes) {
    const bool nothing = !pose && pose.error().code == Code::kNoSection;
    // What shines in a bore pulls the drawing along a tube's length, where little holds it.
    const bool beside = pose && plane.kind == "lengthwise" && pose->outline_unlike > kLostOutline;
    if (!nothing && !beside) break;
    auto again = FindPose(WithoutExtremes(work, share), micrograph.reduction, scale.mean_pitch_um(),
                          plane, detail, kPlainlyThere);
    if (again && (nothing || again->outline_unlike < pose->outline_unlike - kLostOutline))
      pose = std::move(again);
  }
  if (!pose) return tl::unexpected(pose.error());
  FaceTones tones = FindTones(work, micrograph.reduction, *pose, plane);
  NameChoice choice = ChooseNames(*pose, tones, micrograph.reduction, scale.mean_pitch_um(), plane);
  if (choice.warp) {
    *pose = WithWarp(*pose, *choice.warp);
    tones = FindTones(work, micrograph.reduction, *pose, plane);
  }
  return Placed{std::move(*pose), std::move(tones), std::move(choice)};
}

// What the part's place is looked for in: of a lengthwise section without its wires.
Micrograph FirstLook(const Micrograph& picture, const Scale& scale, const SectionDesign& plane) {
  Micrograph out = picture;
  if (plane.kind == "lengthwise") {
    out.reduced_mean =
        WithoutSpecks(picture.reduced_mean, scale.mean_pitch_um() * picture.reduction, plane);
  }
  return out;
}

// A lengthwise section with body in place of its turns, or nothing when none are seen: beside an
// edge they are followed instead of it, by every step from the coarsest on.
std::optional<Micrograph> WithoutTurns(const Micrograph& micrograph, const Scale& scale,
                                       const SectionDesign& plane, const Placed& placed,
                                       std::vector<WallMetal>& metal) {
  const Regions regions = FindRegions(placed.tones, micrograph.reduction, placed.pose, plane);
  metal = FindLengthwise(micrograph, placed.pose, placed.tones, scale, plane, regions);
  const bool any = std::any_of(metal.begin(), metal.end(),
                               [](const WallMetal& layer) { return !layer.wires.empty(); });
  if (!any) return std::nullopt;
  return WithoutMetal(micrograph, placed.tones.light, metal, placed.tones.fine_noise);
}

// The drawing in the picture without turns; where it would fit beside the outline, as before.
Result<Placed> PlacedAgain(const Micrograph& clean, const Scale& scale, const SectionDesign& plane,
                           bool detail, Placed before) {
  auto again = Place(clean, scale, plane, detail);
  if (!again || again->pose.outline_unlike <= before.pose.outline_unlike + kLessOutline)
    return again;
  before.tones = FindTones(clean.reduced_mean, clean.reduction, before.pose, plane);
  return before;
}

// A bore about a mandrel is filled, whatever lies between both.
void NoteMandrels(const std::vector<Mandrel>& mandrels, const Scale& scale, Section& section) {
  for (const Mandrel& mandrel : mandrels) {
    const PointUm at = scale.ToUm(mandrel.centre);
    for (LumenTrace& lumen : section.lumens) {
      if (lumen.bore.vertices.size() < 6 || !Contains(lumen.bore.Points(), at)) continue;
      if (lumen.state == LumenState::kOpen) lumen.state = LumenState::kFilled;
      lumen.mandrel = InUm(mandrel, scale);
    }
  }
}

Result<Section> IdentifyAround(const std::vector<Mandrel>& mandrels, const Micrograph& micrograph,
                               const Scale& scale, const SectionDesign& plane,
                               const IdentifyOptions& options) {
  // What is settled: the picture itself, or the one without mandrels, or without the metal of a
  // lengthwise section.
  Micrograph clean;
  if (!mandrels.empty()) clean = WithoutMandrels(micrograph, mandrels);
  auto placed = Place(FirstLook(clean.tone.empty() ? micrograph : clean, scale, plane), scale,
                      plane, options.detail);
  if (!placed) return tl::unexpected(placed.error());
  std::vector<WallMetal> metal;
  if (plane.kind == "lengthwise") {
    if (auto cleaned = WithoutTurns(micrograph, scale, plane, *placed, metal)) {
      clean = std::move(*cleaned);
      placed = PlacedAgain(clean, scale, plane, options.detail, std::move(*placed));
      if (!placed) return tl::unexpected(placed.error());
    }
  }
  const Micrograph& picture = clean.tone.empty() ? micrograph : clean;
  Pose& pose = placed->pose;
  FaceTones& tones = placed->tones;
  LayerPlan layers;
  layers.rings = TraceRings(picture, pose, plane, scale.mean_pitch_um(), tones);
  Regions regions = FindRegions(tones, micrograph.reduction, pose, plane);
  layers.liners = TraceLiners(picture, tones, plane, scale.mean_pitch_um(), regions);
  DropLayerVoids(layers.rings, layers.liners, kLayerNear_px * micrograph.reduction, regions);
  if (plane.kind == "lengthwise") {
    metal = FindLengthwise(micrograph, pose, tones, scale, plane, regions);
    DropWires(metal, regions);
  }
  const Plan plan = MakePlan(picture, tones, pose, plane, std::move(layers), regions);

  EdgeOptions edge;
  edge.gamma = options.gamma;
  edge.u_gamma = options.u_gamma;
  edge.smoothing_px = options.edge_cutoff_um / scale.mean_pitch_um();
  edge.joint_walls = options.joint_walls;
  const SettledFace settled = SettleEdges(picture, tones.light, plan.inputs, edge);

  Section section = AssembleSection(settled, plan.lumens, plan.voids, regions.missing, pose, tones,
                                    scale, micrograph, plane);
  AssembleLayers(settled, plan.layers, scale, plane, section);
  FindLayerGaps(micrograph, tones, scale, plane, plan.layers.rings, section);
  if (plane.kind == "lengthwise")
    TraceLengthwise(micrograph, pose, tones, scale, plane, std::move(metal), section);
  else
    TraceWires(picture, pose, tones, scale, plane, section);
  NoteMandrels(mandrels, scale, section);
  TraceFibres(micrograph, pose, tones, scale, plane, section);
  FillPlacement(pose, placed->names.margin, scale, plane, section, section.placement);
  ClassifyByPlace(plane, scale.mean_pitch_um(), scale.ToUm(section.placement.centre_px),
                  {tones.typical_step, tones.outside - 1}, section);
  FindEdgeMarks(picture, tones, scale, plane, section);
  DoubtHiddenGaps(tones, plane, section);
  DoubtBesideDebris(scale.mean_pitch_um(), section);
  FindOutside(tones, micrograph.reduction, scale, section);
  DoubtNames(placed->names, plane, section);
  DoubtNamesOfFew(plane, section);
  const double radius = std::sqrt(Area(std::span<const PointPx>(pose.outline)) / M_PI);
  if (settled.blur_px > kUnsharpBlur_px || settled.blur_px > kUnsharpBlurShare * radius) {
    return Fail(
        Code::kOutOfFocus,
        fmt::format(
            "edges are {:.1f} px soft, too soft to measure; refocus and take the picture again",
            settled.blur_px));
  }
  // Much softer than the band that is looked at: no edge is told at all.
  const double unseen = UnseenShare(settled, 1 + plan.lumens.size());
  if (unseen > kUnseenShare) {
    return Fail(Code::kOutOfFocus,
                fmt::format("no edge is to be seen along {:.0f} % of outline and lumens as drawn; "
                            "check that drawing and calibration belong to this picture, refocus or "
                            "mend the light and take it again",
                            100 * unseen));
  }
  return section;
}

// Discs that were taken for bores.
std::vector<Mandrel> TakenForBores(const Section& section, const Scale& scale) {
  std::vector<Mandrel> discs;
  for (const LumenTrace& lumen : section.lumens) {
    if (!lumen.mandrel || lumen.bore.doubt.empty()) continue;
    const Ellipse<FrameUm> e = MomentEllipse(lumen.bore.Points());
    const double pitch = scale.mean_pitch_um();
    discs.push_back({scale.ToPx(e.centre), e.semi_major / pitch, e.semi_minor / pitch, e.angle});
  }
  return discs;
}

// Whether the disc lies in a bore that is told without a doubt, and its liner with it.
bool ToldAround(const Mandrel& disc, const Scale& scale, const Section& section) {
  const PointUm at = scale.ToUm(disc.centre);
  return std::any_of(section.lumens.begin(), section.lumens.end(), [&](const LumenTrace& lumen) {
    if (lumen.bore.vertices.size() < 6 || !lumen.bore.doubt.empty()) return false;
    if (!Contains(lumen.bore.Points(), at)) return false;
    return std::all_of(section.liners.begin(), section.liners.end(), [&](const LinerTrace& liner) {
      return liner.lumen != lumen.names.front() ||
             (liner.outer.vertices.size() >= 6 && liner.outer.doubt.empty());
    });
  });
}

bool LiesWithin(const Mandrel& disc, const Scale& scale, const Section& section) {
  const double area = M_PI * disc.along * disc.across * std::pow(scale.mean_pitch_um(), 2);
  return std::any_of(section.lumens.begin(), section.lumens.end(), [&](const LumenTrace& lumen) {
    return lumen.bore.vertices.size() >= 6 &&
           Contains(lumen.bore.Points(), scale.ToUm(disc.centre)) &&
           Area(lumen.bore.Points()) > kRoomAboutMandrel * area;
  });
}

}  // namespace

Result<Section> IdentifySection(const Micrograph& micrograph, const Scale& scale,
                                const SectionDesign& plane, const IdentifyOptions& options) {
  if (plane.kind == "lengthwise") return IdentifyAround({}, micrograph, scale, plane, options);
  const double pitch = scale.mean_pitch_um();
  std::vector<Mandrel> mandrels = FindMandrels(micrograph, pitch, plane);
  Result<Section> section = IdentifyAround(mandrels, micrograph, scale, plane, options);
  std::vector<Mandrel> discs = FindOpaqueDiscs(micrograph, pitch, plane);
  if (section) {
    std::erase_if(discs, [&](const Mandrel& d) { return ToldAround(d, scale, *section); });
    if (discs.empty()) discs = TakenForBores(*section, scale);
  }
  if (discs.empty()) return section;
  std::vector<Mandrel> all = mandrels;
  all.insert(all.end(), discs.begin(), discs.end());
  Result<Section> anew = IdentifyAround(all, micrograph, scale, plane, options);
  const bool better = anew && std::all_of(discs.begin(), discs.end(), [&](const Mandrel& disc) {
                        return ToldAround(disc, scale, *anew) && LiesWithin(disc, scale, *anew);
                      });
  if (better) return anew;
  if (section) {
    for (LumenTrace& lumen : section->lumens) lumen.mandrel.reset();  // no more than suspected
    NoteMandrels(mandrels, scale, *section);
  }
  return section;
}

}  // namespace cutface
