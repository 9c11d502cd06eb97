#include "identify/assemble.h"

#include <fmt/format.h>

#include <opencv2/core.hpp>

#include "cutface/segment.h"
#include "cutface/stats.h"
#include "identify/mandrel.h"

namespace cutface {
namespace {

constexpr double kNotBody = 0.15;  // relative light; about bores in one body it is within 0.1
constexpr double kMetalInside = 1.6, kBeyondPotting = 1.25;  // relative light; of the potting's
constexpr double kDoubtfulVoid_px = 6;
constexpr double kFaintShare = 0.60;  // of what sharp voids show: less is doubtful
constexpr double kSoftShare = 0.75;   // the same for a soft edge
constexpr double kSoftFactor = 1.8;   // softer than the picture's edges by this lies out of plane
constexpr double kMisledArea = 1.8;   // a settled edge never changes the area of a void so much
constexpr double kSegmentedSigma_px = 0.7;
constexpr double kUnlikeOutline = 0.10;           // faces traced well stay below 0.07
constexpr double kNoisy = 0.35, kTooNoisy = 0.8;  // noise / contrast
constexpr double kClipped = 0.99;                 // of full scale
constexpr double kAtFrame_px = 1.0;  // nearer to the outermost pixels' middles: cut off
constexpr double kTouching_px = 2, kTouchingAlong_px = 8;
constexpr double kNarrowNeck = 0.5, kDrawnNeck = 0.8;  // of the size of what hangs on it
constexpr double kLeastLobe_px = 6;
constexpr double kThinRidge = 0.30;  // contrast of a septum that is hardly there

// The narrowest place of a merged bore: least distance of contour points that are far apart along
// it.
Segment<FrameUm> Breach(const ContourUm& contour) {
  const ContourUm thin = Resampled(std::span<const PointUm>(contour),
                                   Perimeter(std::span<const PointUm>(contour)) / 400);
  const std::size_t n = thin.size();
  Segment<FrameUm> best{thin[0], thin[n / 2]};
  double least = 1e300;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + n / 6; j < n && j - i <= n - n / 6; ++j) {
      const double d = Distance(thin[i], thin[j]);
      if (d < least) {
        least = d;
        best = {thin[i], thin[j]};
      }
    }
  }
  return best;
}

// A part of a bore that hangs on it by a neck: how wide the neck is, against the part's own size
// (of its equal area). 1: none.
double NeckShare(const ContourUm& contour, double least_size_um) {
  const ContourUm thin = Resampled(std::span<const PointUm>(contour),
                                   Perimeter(std::span<const PointUm>(contour)) / 240);
  const std::size_t n = thin.size();
  const double whole = std::abs(SignedArea(std::span<const PointUm>(thin)));
  const auto cross = [&](PointUm a, PointUm b) { return a.x * b.y - a.y * b.x; };
  std::vector<double> swept(n + 1, 0);
  for (std::size_t i = 0; i < n; ++i) swept[i + 1] = swept[i] + cross(thin[i], thin[(i + 1) % n]);
  double least = 1;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 2; j < n; ++j) {
      const double part = 0.5 * std::abs(swept[j] - swept[i] + cross(thin[j], thin[i]));
      const double size = 2 * std::sqrt(std::min(part, whole - part) / M_PI);
      if (!(size > least_size_um)) continue;
      least = std::min(least, Distance(thin[i], thin[j]) / size);
    }
  }
  return least;
}

// What hangs on a bore by a neck that the drawing does not have may be a void: a film between them
// thinner than the picture shows looks like none.
void DoubtNeck(const SectionDesign& plane, const Scale& scale, LumenTrace& lumen) {
  if (lumen.names.size() != 1 || lumen.state == LumenState::kCutOff) return;
  if (!lumen.bore.doubt.empty() || lumen.bore.vertices.size() < 12) return;
  const double least = kLeastLobe_px * scale.mean_pitch_um();
  if (NeckShare(lumen.bore.Points(), least) > kNarrowNeck) return;
  const LumenDesign* drawn = plane.FindLumen(lumen.names.front());
  if (drawn == nullptr || NeckShare(drawn->shape.contour, least) < kDrawnNeck) return;
  lumen.bore.doubt =
      "a part of it hangs on it by a narrow neck and may be a void behind a film that is not seen";
}

// The step that a place of this size would show without blur (a disc under a Gaussian).
double UnblurredStep(const CoarseVoid& coarse, double blur_px) {
  const double area = Area(std::span<const PointPx>(coarse.contour));
  const double share = 1 - std::exp(-area / (2 * M_PI * blur_px * blur_px));
  return coarse.step / std::max(0.3, share);
}

bool IsSoft(const CoarseVoid& coarse, double blur_px) {
  return coarse.blur_px > kSoftFactor * blur_px + 0.2;
}

// What sharp voids of this picture show: the strongest step to either side of the body's tone, and
// at least the lumens' own.
class VoidContrast {
 public:
  VoidContrast(const std::vector<CoarseVoid>& voids, double typical_step, double blur_px) {
    (typical_step > 0 ? brighter_ : darker_) = std::min(1.0, std::abs(typical_step));
    for (const CoarseVoid& v : voids) {
      double& side = v.step > 0 ? brighter_ : darker_;
      if (!IsSoft(v, blur_px)) side = std::max(side, std::abs(UnblurredStep(v, blur_px)));
    }
  }
  // Of a step: its share of what sharp voids on its side show.
  double Share(double step) const {
    return std::abs(step) / std::max(kLeastScale, step > 0 ? brighter_ : darker_);
  }

 private:
  static constexpr double kLeastScale = 0.6;  // holes are black, or as bright as the light behind
  double brighter_ = 0, darker_ = 0;
};

void Classify(const CoarseVoid& coarse, const SettledContour& c, double diameter, double blur_px,
              const VoidContrast& contrast, double typical_step, Void& v) {
  const double step = UnblurredStep(coarse, blur_px), share = contrast.Share(step);
  const bool soft = IsSoft(coarse, blur_px) || c.blur_px > 1.7 * blur_px + 0.3;
  const bool bright = coarse.step > 0;
  v.numbers["step_percent"] = 100 * coarse.step;
  v.evidence = fmt::format("{:.1f} px across, {:.0f} % {} than the body", diameter,
                           100 * std::abs(coarse.step), bright ? "brighter" : "darker");
  if (bright && typical_step < 0) {
    v.kind = VoidClass::kDebris;
    v.evidence = "its tone lies on the other side of the body's than an open lumen's";
  } else if (soft && (bright || share < kSoftShare)) {
    // A dark band around a void softens it too, but leaves it black.
    v.kind = VoidClass::kDoubtful;
    v.evidence =
        fmt::format("edge blur {:.1f} px against {:.1f} px of the picture: lies out of the plane",
                    std::max(coarse.blur_px, c.blur_px), blur_px);
  } else if (diameter < kDoubtfulVoid_px || share < kFaintShare) {
    v.kind = VoidClass::kDoubtful;
    v.evidence += fmt::format(", {:.0f} % of what voids show here", 100 * std::min(1.0, share));
  }
}

// A small place whose profile misled the edge model: what the tones showed, and a word about it.
SettledContour AsSegmented(const CoarseVoid& coarse, SettledContour c) {
  c.places.clear();
  const ContourPx normals = OutwardNormals(std::span<const PointPx>(coarse.contour));
  for (std::size_t i = 0; i < coarse.contour.size(); ++i) {
    c.places.push_back({coarse.contour[i], normals[i], kSegmentedSigma_px, PlaceState::kBridged});
  }
  c.u_common_px = kSegmentedSigma_px;
  c.doubt = "its edge could not be settled; the contour is at half of its contrast";
  return c;
}

void AddVoid(const SettledContour& traced, const CoarseVoid& coarse, const VoidContrast& contrast,
             double typical_step, double blur_px, const Scale& scale, Section& section) {
  const double coarse_area = Area(std::span<const PointPx>(coarse.contour));
  ContourPx places;
  for (const SettledPlace& p : traced.places) places.push_back(p.at);
  const double share = places.size() < 6 ? 0 : Area(std::span<const PointPx>(places)) / coarse_area;
  const bool misled = share < 1 / kMisledArea || share > kMisledArea;
  const SettledContour c = misled ? AsSegmented(coarse, traced) : traced;
  Void v;
  v.contour = TracedFrom(c, scale);
  const ContourUm points = v.contour.Points();
  if (points.size() < 6) return;
  v.centroid = Centroid(std::span<const PointUm>(points));
  v.area_um2 = Area(std::span<const PointUm>(points));
  const double pitch = scale.mean_pitch_um();
  const double diameter = 2 * std::sqrt(v.area_um2 / M_PI) / pitch;
  if (diameter < 4.5 || diameter > 2000) return;
  v.u_area_um2 =
      Perimeter(std::span<const PointUm>(points)) * std::hypot(v.contour.u_common_um, 0.1 * pitch);
  Classify(coarse, c, diameter, blur_px, contrast, typical_step, v);
  v.no = static_cast<int>(section.voids.size()) + 1;
  section.voids.push_back(std::move(v));
}

bool Lined(const CoarseLumen& coarse, const SectionDesign& plane) {
  return std::any_of(coarse.lumens.begin(), coarse.lumens.end(), [&](int index) {
    return plane.lumens[static_cast<std::size_t>(index)].liner_thickness_um.has_value();
  });
}

// A bore without a liner lies in the body. Where what lies about a settled edge is neither the
// body's tone nor what lies about the other bores, the edge is one within the bore: of a mandrel
// left in it, say.
void DoubtSurroundings(const SettledFace& settled, const std::vector<CoarseLumen>& lumens,
                       std::size_t k, const SectionDesign& plane, const Scale& scale,
                       LumenTrace& lumen) {
  const double here = settled.contours[1 + k].polymer_level;
  if (lumen.names.size() > 1 || Lined(lumens[k], plane) || !lumen.bore.doubt.empty()) return;
  std::vector<double> others;
  if (plane.rings.empty()) others.push_back(settled.contours.front().polymer_level);
  for (std::size_t j = 0; j < lumens.size(); ++j) {
    if (j != k && !Lined(lumens[j], plane)) others.push_back(settled.contours[1 + j].polymer_level);
  }
  const double usual = others.empty() ? 1.0 : Median(others);
  if (std::min(std::abs(here - 1), std::abs(here - usual)) < kNotBody) return;
  for (ContourVertex& v : lumen.bore.vertices) {
    if (v.state == VertexState::kMeasured) v.state = VertexState::kBridged;  // the bore's is unseen
  }
  lumen.bore.doubt = fmt::format(
      "what lies about its edge is {:.0f} % {} than the body, so the edge may be of something in "
      "the bore",
      100 * std::abs(here - 1), here > 1 ? "brighter" : "darker");
  const LumenDesign& drawn = plane.lumens[static_cast<std::size_t>(lumens[k].lumens.front())];
  if (const auto disc = MandrelAlong(settled.contours[1 + k], scale.mean_pitch_um(), drawn))
    lumen.mandrel = InUm(*disc, scale);
}

// What shines in a bore, but neither in the potting nor in the body, is metal: the edge is a
// mandrel's and need not be the bore's.
void DoubtShining(const SettledFace& settled, std::size_t k, const SectionDesign& plane,
                  const Scale& scale, const CoarseLumen& coarse, LumenTrace& lumen) {
  const double inside = settled.contours[1 + k].void_level;
  if (lumen.names.size() > 1 || !lumen.bore.doubt.empty()) return;
  if (inside < kMetalInside || inside < kBeyondPotting * settled.contours.front().void_level)
    return;
  const LumenDesign& drawn = plane.lumens[static_cast<std::size_t>(coarse.lumens.front())];
  const auto disc = MandrelAlong(settled.contours[1 + k], scale.mean_pitch_um(), drawn);
  if (!disc) return;
  for (ContourVertex& v : lumen.bore.vertices) {
    if (v.state == VertexState::kMeasured) v.state = VertexState::kBridged;  // the bore's is unseen
  }
  if (lumen.state == LumenState::kOpen) lumen.state = LumenState::kFilled;
  lumen.bore.doubt =
      "what fills it shines like metal: the edge may be that of a mandrel left in the bore";
  lumen.mandrel = InUm(*disc, scale);
}

// A tube cut along has an end wall between its bore and its own end. A bore that runs along the
// outline lies at a wrong place along the tube, a turn off say: no edge is where it ends, and no
// length of it can be told.
void DoubtBoreAtEnd(const TracedContour& outline, const Scale& scale, LumenTrace& lumen) {
  if (outline.vertices.size() < 3 || lumen.bore.vertices.size() < 3 || !lumen.bore.doubt.empty())
    return;
  const ContourUm end = outline.Points(), bore = lumen.bore.Points();
  const ContourIndex<FrameUm> index{std::span<const PointUm>(end)};
  double along = 0;
  for (std::size_t i = 0; i < bore.size(); ++i) {
    if (index.NearestTo(bore[i], kTouching_px * scale.mean_pitch_um()))
      along += Distance(bore[i], bore[(i + 1) % bore.size()]);
  }
  if (along < kTouchingAlong_px * scale.mean_pitch_um()) return;
  for (ContourVertex& v : lumen.bore.vertices) {
    if (v.state == VertexState::kMeasured) v.state = VertexState::kBridged;
  }
  lumen.bore.doubt = kEndNotKnown;
}

// A part that reaches the frame goes on beyond it, whatever was followed along the frame.
void CutAtFrame(const SettledContour& settled, const Micrograph& micrograph,
                TracedContour& contour) {
  const double right = micrograph.width() - 1 - kAtFrame_px;
  const double bottom = micrograph.height() - 1 - kAtFrame_px;
  for (std::size_t i = 0; i < settled.places.size(); ++i) {
    const PointPx p = settled.places[i].at;
    if (p.x > kAtFrame_px && p.y > kAtFrame_px && p.x < right && p.y < bottom) continue;
    contour.vertices[i].state = VertexState::kCutOff;
    contour.whole = false;
  }
}

void FillPicture(const SettledFace& settled, const FaceTones& tones, const Micrograph& micrograph,
                 Section& section) {
  PictureQuality& q = section.picture;
  q.noise = settled.noise * tones.body_tone;
  q.blur_px = settled.blur_px;
  q.contrast = std::abs(tones.typical_step) * tones.body_tone;
  q.gamma = settled.gamma;
  q.u_gamma = settled.u_gamma;
  const double ratio = q.contrast > 0 ? settled.noise / std::abs(tones.typical_step) : 1;
  // Seen when its dip, softened by blur, stands five noises out after smoothing.
  q.smallest_void_px = std::max(6.0, 2.2 * settled.blur_px * (1 + 4 * ratio));
  if (settled.blur_px > 3) {
    q.grade = "doubtful";
    q.reasons.push_back(fmt::format("edges {:.1f} px soft", settled.blur_px));
  }
  if (ratio > kNoisy) {
    q.grade = ratio > kTooNoisy ? "unusable" : "doubtful";
    q.reasons.push_back(fmt::format("noise is {:.0f} % of the contrast", 100 * ratio));
  }
  // A clipped bright side moves every edge towards it, and no model of the edge sees that.
  const double brightest = tones.body_tone * std::max({1.0, tones.outside, 1 + tones.typical_step});
  if (brightest > kClipped) {
    if (q.grade == "clean") q.grade = "doubtful";
    q.reasons.push_back("the bright side of the edges is at the camera's limit");
  }
  const cv::Mat full = cv::Mat(micrograph.reduced_mean >= kClipped);
  q.saturated_share = static_cast<double>(cv::countNonZero(full)) /
                      std::max(1.0, static_cast<double>(full.total()));
}

}  // namespace

Section AssembleSection(const SettledFace& settled, const std::vector<CoarseLumen>& lumens,
                        const std::vector<CoarseVoid>& voids, const std::vector<int>& missing,
                        const Pose& pose, const FaceTones& tones, const Scale& scale,
                        const Micrograph& micrograph, const SectionDesign& plane) {
  Section section;
  section.outline = TracedFrom(settled.contours.front(), scale);
  CutAtFrame(settled.contours.front(), micrograph, *section.outline);
  if (pose.outline_unlike > kUnlikeOutline && section.outline->doubt.empty()) {
    section.outline->doubt =
        fmt::format("the tones on its two sides are not the expected ones along {:.0f} % of it",
                    100 * pose.outline_unlike);
  }
  std::vector<LumenTrace> traces;
  for (std::size_t k = 0; k < lumens.size(); ++k) {
    const SettledContour& c = settled.contours[1 + k];
    LumenTrace lumen;
    lumen.bore = TracedFrom(c, scale);
    CutAtFrame(c, micrograph, lumen.bore);
    for (int index : lumens[k].lumens)
      lumen.names.push_back(plane.lumens[static_cast<std::size_t>(index)].name);
    lumen.state = LumenState::kOpen;
    if (tones.typical_step != 0 && lumens[k].step / tones.typical_step < 0.45)
      lumen.state = LumenState::kFilled;
    if (!lumen.bore.whole || lumens[k].cut_by_frame) {
      lumen.state = LumenState::kCutOff;
      lumen.bore.whole = false;
    }
    if (lumen.names.size() > 1) {
      lumen.state = LumenState::kMerged;
      lumen.breach = Breach(lumen.bore.Points());
    } else if (lumens[k].ridge_contrast < kThinRidge && lumen.bore.doubt.empty()) {
      lumen.bore.doubt = fmt::format("a septum beside it shows only {:.0f} % of its contrast",
                                     100 * lumens[k].ridge_contrast);
    }
    DoubtSurroundings(settled, lumens, k, plane, scale, lumen);
    DoubtShining(settled, k, plane, scale, lumens[k], lumen);
    DoubtNeck(plane, scale, lumen);
    traces.push_back(std::move(lumen));
  }
  for (int index : missing) {
    LumenTrace lumen;
    lumen.names = {plane.lumens[static_cast<std::size_t>(index)].name};
    // Not seen, and partly beyond the frame: nobody can say that it is missing.
    const ContourPx drawn = pose.warp(plane.lumens[static_cast<std::size_t>(index)].shape.contour);
    const bool off = std::any_of(drawn.begin(), drawn.end(), [&](PointPx at) {
      return at.x < 0 || at.y < 0 || at.x > micrograph.width() - 1 ||
             at.y > micrograph.height() - 1;
    });
    lumen.state = off ? LumenState::kCutOff : LumenState::kNotFound;
    lumen.bore.whole = false;
    traces.push_back(std::move(lumen));
  }
  if (plane.kind == "lengthwise") {
    for (LumenTrace& lumen : traces) DoubtBoreAtEnd(*section.outline, scale, lumen);
  }
  // In the drawing's order, merged ones where their first name stands.
  for (const LumenDesign& design : plane.lumens) {
    for (LumenTrace& lumen : traces) {
      if (!lumen.names.empty() && lumen.names.front() == design.name)
        section.lumens.push_back(std::move(lumen));
    }
  }
  const VoidContrast contrast(voids, tones.typical_step, settled.blur_px);
  for (std::size_t k = 0; k < voids.size(); ++k) {
    AddVoid(settled.contours[1 + lumens.size() + k], voids[k], contrast, tones.typical_step,
            settled.blur_px, scale, section);
  }
  FillPicture(settled, tones, micrograph, section);
  return section;
}

}  // namespace cutface
