#include "identify/lengthwise_halo.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"
#include "identify/lengthwise_drawn.h"
#include "identify/lengthwise_wires.h"

namespace cutface {
namespace {

constexpr double kSizeKnown = 0.01;  // of a drawn wire: its own tolerance (common practice)
constexpr std::size_t kFewFree = 5;  // wires: fewer tell no halo
constexpr double kMostHalo = 0.35;   // of the wire: more is no halo but another wire
constexpr double kMostHalo_px = 4;
constexpr double kMostShrink_px = 1;  // metal never looks much smaller than it is

// Sizes that all wires should show as drawn, one each. Round wires: along the direction in which
// they are smallest together, because a tilted cut or an angle to the axis only stretches them.
std::vector<double> Sizes(const std::vector<ContourUm>& free, const WireLayerDesign& layer,
                          PointUm axis, double along) {
  std::vector<double> sizes;
  std::vector<Ellipse<FrameUm>> ellipses;
  double c = 0, s = 0;
  for (const ContourUm& edge : free) {
    if (layer.flat_um) {
      sizes.push_back(FlatAcross(edge, axis, along));
      continue;
    }
    const Ellipse<FrameUm>& e = ellipses.emplace_back(MomentEllipse(edge));
    const double d = e.semi_major * e.semi_major - e.semi_minor * e.semi_minor;
    c += d * std::cos(2 * e.angle);
    s += d * std::sin(2 * e.angle);
  }
  const double across = 0.5 * std::atan2(s, c) + M_PI / 2;
  for (const Ellipse<FrameUm>& e : ellipses)
    sizes.push_back(2 * std::hypot(e.semi_major * std::cos(across - e.angle),
                                   e.semi_minor * std::sin(across - e.angle)));
  return sizes;
}

}  // namespace

TurnHalo TellTurnHalo(const std::vector<ContourUm>& free, const WireLayerDesign& layer,
                      PointUm axis, double pitch_um, bool bright) {
  const DrawnWire drawn = SizeOf(layer);
  const double known = 0.5 * kSizeKnown * drawn.across;
  std::vector<double> halos;
  for (double size : Sizes(free, layer, axis, drawn.along))
    halos.push_back(0.5 * (size - drawn.across));
  TurnHalo told;
  if (halos.size() < kFewFree) {
    told.u_um = std::hypot(known, bright ? pitch_um : 0.3 * pitch_um);
    told.doubt = "too few wires stand free: by how much metal looks larger is not known";
    return told;
  }
  const double halo = Median(halos), n = static_cast<double>(halos.size());
  told.scatter_um = RobustSigma(std::move(halos));
  const double most = bright ? std::max(kMostHalo * drawn.across, kMostHalo_px * pitch_um)
                             : std::max(0.5 * kMostHalo * drawn.across, 1.5 * pitch_um);
  if (halo > most || halo < -kMostShrink_px * pitch_um) {
    told.u_um = std::abs(halo);
    told.doubt = fmt::format("the wires look {:.1f} um {} than drawn: their size is doubtful",
                             2 * std::abs(halo), halo > 0 ? "larger" : "smaller");
    return told;
  }
  told.halo_um = halo;
  told.u_um = std::hypot(known, told.scatter_um / std::sqrt(n));
  return told;
}

}  // namespace cutface
