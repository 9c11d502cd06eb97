#include "identify/trace.h"

#include "cutface/stats.h"
#include "identify/ribbon.h"

namespace cutface {
namespace {

constexpr double kStandsOut = 4;  // times what the search finds in white noise; in texture, 2.6
constexpr double kClearShare = 0.75;

int Places(std::span<const PointPx> contour) {
  return std::clamp(static_cast<int>(Perimeter(contour) / 1.5), 24, 4000);
}

}  // namespace

ContourPx Retraced(const Micrograph& micrograph, const ContourPx& coarse, double reach_px,
                   int sign) {
  const double inner = 0.8 * std::sqrt(Area(std::span<const PointPx>(coarse)) / M_PI);
  const Ribbon ribbon =
      Unroll(micrograph, coarse, Places(coarse), std::min(reach_px, inner), reach_px, 0.5);
  RibbonTraceOptions options;
  options.sign = sign;
  options.reach_px = 2;
  options.along = 2;
  options.prior_px = reach_px;
  options.prior_weight = 0.25;
  options.step_cost = 0.04f;
  return TracedPoints(ribbon, TraceEdge(ribbon, options));
}

std::optional<GuidedTrace> TraceByDrawing(const Micrograph& micrograph, const FaceTones& tones,
                                          const ContourPx& nominal) {
  const double size = std::sqrt(Area(std::span<const PointPx>(nominal)) / M_PI);
  const double inward = 0.4 * size, outward = std::min(0.25 * size, 30.0);
  const double step = std::max(0.5, size / 60);
  const Ribbon ribbon = Unroll(micrograph, nominal, Places(nominal), inward, outward, step);
  RibbonTraceOptions options;
  options.reach_px = std::clamp(0.05 * size, 2.0, 5.0);
  options.along = 4;
  options.prior_px = 0.5 * size;
  options.prior_weight = 0.3;
  const RibbonTrace trace = TraceEdge(ribbon, options);
  // What a closed path collects from texture alone: about the noise of one averaged step, times a
  // factor for having chosen the best path.
  const double noise =
      tones.fine_noise * tones.body_tone / std::sqrt((2.0 * options.along + 1) * options.reach_px);
  GuidedTrace found;
  found.strength = trace.mean_step / std::max(1e-6, 3.0 * noise);
  found.contour = TracedPoints(ribbon, trace);
  found.step = -trace.sign * trace.mean_step / tones.body_tone;
  if (found.strength < kStandsOut || trace.share_clear < kClearShare) return std::nullopt;
  if (!IsSimple(std::span<const PointPx>(found.contour))) return std::nullopt;
  return found;
}

}  // namespace cutface
