#include "edge/finish.h"

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

constexpr double kMostDrift = 9;         // px: the widest line that is looked for
constexpr double kLeastStep = 0.008;     // relative tone that may pass for an edge
constexpr double kHiddenDoubt = 0.3;     // of a rim's width
constexpr double kRimDoubt = 0.28;       // of depth x blur; from rendered faces
constexpr double kMostDoubt = 4;         // px
constexpr double kMostSmoothing = 0.12;  // px
// No real edge has exactly the shape of any model in the family. What the models doubt among
// themselves is therefore scaled by the ratio of the errors found to the doubt stated (Birge 1932,
// Phys. Rev. 40, 207: scatter beyond the stated uncertainty), on rendered faces of other seeds than
// those that the bench reports.
constexpr double kBirgeRatio = 1.5;
constexpr double kBoreRatio = 1.2;      // of what the optics leave open, likewise
constexpr double kOutlineRatio = 1.55;  // of an outline: potting may hide a gap of the body's tone
constexpr double kGapDoubt_px = 0.4;
constexpr double kLeastCommon = 0.05;  // px: what is common to all places and no model tells
constexpr double kArcDoubt = 0.05, kLineDoubt = 0.15;  // px, of a stretch; with lines about

double Encoded(const Work& w, const Finishing& with, double s) {
  return std::pow(std::max(1e-6, w.fit.Linear(with.shape, s)), 1 / with.optics.gamma);
}
double ToneStep(const Work& w, const Finishing& with) {
  return std::abs(Encoded(w, with, 10) - Encoded(w, with, -10));
}

EdgeModel ModelWord(bool mostly_lines, RimKind kind) {
  if (mostly_lines) return EdgeModel::kGap;
  switch (kind) {
    case RimKind::kStep:
      return EdgeModel::kStep;
    case RimKind::kRim:
    case RimKind::kGlow:
      return EdgeModel::kRim;
    case RimKind::kBand:
      return EdgeModel::kBand;
  }
  return EdgeModel::kStep;
}

// To the roughness cut-off; what is smoothed is the place, not the uncertainty. Corners are kept:
// no place moves further than its noise explains.
ContourPx SmoothedPlaces(const Work& w, double smoothing_px) {
  const ContourPx& at = w.track.at;
  if (!(smoothing_px > w.track.spacing)) return at;
  ContourPx smooth = Smoothed(std::span<const PointPx>(at), smoothing_px);
  if (smooth.size() != at.size()) return smooth;
  for (std::size_t i = 0; i < smooth.size(); ++i) {
    const PointPx move = smooth[i] - at[i];
    const double most = std::max(kMostSmoothing, 2.5 * std::min(1.0, w.sigma[i])),
                 length = Norm(move);
    if (length > most) smooth[i] = at[i] + (most / length) * move;
  }
  return smooth;
}

void AddPlaces(const Work& w, const Finishing& with, SettledContour& c) {
  const ContourPx smooth = SmoothedPlaces(w, with.smoothing_px);
  const ContourPx normals = OutwardNormals(std::span<const PointPx>(smooth));
  const std::size_t n = smooth.size();
  const ContourIndex<FramePx> started{std::span<const PointPx>(w.input.start)};
  // Independent samples per window, before and after smoothing.
  const double window = kPlaceWindow_px * 2 * std::sqrt(M_PI);
  c.noise_length_px = std::hypot(window, 0.66 * with.smoothing_px);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t j = std::min(w.sigma.size() - 1, i * w.sigma.size() / n);
    const std::size_t arc = std::min(w.arcs.size() - 1, j * w.arcs.size() / w.sigma.size());
    SettledPlace place;
    place.at = smooth[i];
    place.normal = normals[i];
    place.sigma_px = w.sigma[j] * std::sqrt(window / c.noise_length_px);
    place.doubt_px = std::min(kMostDoubt, std::hypot(kBirgeRatio * w.arcs[arc].doubt,
                                                     CornerDoubt(CurvedAt(w, with.optics, j))));
    // An edge this far from where tracing saw one is another edge.
    const bool drifted = !started.NearestTo(smooth[i], kMostDrift).has_value();
    if (drifted) place.sigma_px = std::max(place.sigma_px, 0.5 * kMostDrift);
    place.state = w.band.outside_frame[j]       ? PlaceState::kOutside
                  : drifted || w.sigma[j] > 1.0 ? PlaceState::kBridged
                                                : PlaceState::kMeasured;
    c.places.push_back(place);
  }
}

// What all places of a contour may be off by together, px. No real rim has exactly a model's shape:
// the deeper and softer it is, the less its start is known.
double CommonDoubt(const Work& w, const Finishing& with, const SettledContour& c) {
  const bool plain = with.optics.state.kind == RimKind::kStep || w.input.inner_boundary;
  const double depth = plain ? 0 : with.optics.state.depth;
  // A rim as dark as the void hides where the polymer begins.
  const double seen =
      std::abs(w.fit.p * (1 - depth) - w.fit.v) / std::max(1e-3, std::abs(w.fit.p - w.fit.v));
  const double hidden = depth > 0 ? kHiddenDoubt * c.width_px * std::max(0.0, 1 - seen / 0.6) : 0;
  const double rim = std::hypot(hidden, kRimDoubt * depth * c.blur_px);
  const double ratio = w.track.side > 0 ? kBoreRatio : kOutlineRatio;
  return std::hypot(ratio * std::hypot(w.u_optics, w.u_gap, rim), kLeastCommon);
}

}  // namespace

CurvedPlace CurvedAt(const Work& w, const Optics& optics, std::size_t place) {
  const double perimeter = w.track.spacing * static_cast<double>(w.track.at.size());
  return {optics.state.blur * w.blur_factor, w.track.curvature[place], 2 * M_PI / perimeter};
}

double StoredNoise(const Work& w, const Optics& optics) {
  return std::sqrt(w.law.Variance(1)) / optics.gamma;
}

SettledContour Unsettled(const Work& w, const char* why) {
  SettledContour c;
  for (PointPx p : w.input.start) c.places.push_back({p, {1, 0}, 9, PlaceState::kBridged});
  c.doubt = why;
  return c;
}

SettledContour FinishContour(const Work& w, const Finishing& with) {
  if (ToneStep(w, with) < std::max(kLeastStep, 0.3 * StoredNoise(w, with.optics)))
    return Unsettled(w, "no edge to be seen");
  SettledContour c;
  AddPlaces(w, with, c);
  const auto lines = static_cast<std::size_t>(std::count_if(
      w.arcs.begin(), w.arcs.end(), [](const Arc& arc) { return arc.fit.line != 0; }));
  c.model = w.input.inner_boundary ? EdgeModel::kStep
                                   : ModelWord(2 * lines > w.arcs.size(), with.optics.state.kind);
  c.blur_px = with.optics.state.blur * w.blur_factor;
  c.width_px = with.optics.state.kind == RimKind::kStep ? 0 : with.optics.state.width;
  c.void_level = w.fit.v;
  c.polymer_level = w.beside;
  c.contrast = ToneStep(w, with);
  const double step = std::abs(w.fit.p - w.fit.v);
  c.misfit = step > 0 ? w.rms / step : 1;
  if (w.u_gap > kGapDoubt_px)
    c.doubt = "along a part of it the potting may have drawn back, and the edge be the gap's";
  c.u_common_px = CommonDoubt(w, with, c);
  c.arc_length_px =
      w.track.spacing * static_cast<double>(c.places.size()) / static_cast<double>(w.arcs.size());
  c.u_arc_px = kBirgeRatio * (kArcDoubt + (lines > 0 ? kLineDoubt : 0.0));
  return c;
}

std::string_view EdgeModelName(EdgeModel model) {
  switch (model) {
    case EdgeModel::kStep:
      return "step";
    case EdgeModel::kRim:
      return "rim";
    case EdgeModel::kBand:
      return "band";
    case EdgeModel::kGap:
      return "gap";
  }
  return "step";
}

}  // namespace cutface
