// What two planes tell together: braid angle from the turn of the combs, tilt of a bond.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "planes/frame.h"

namespace cutface::planes {
namespace {

constexpr double kDegPerRad = 180 / std::numbers::pi;
constexpr double kSteepestDeg = 85;
constexpr double kApart = 3;  // standard uncertainties between the best candidate and the next

const WireLayerTrace* Layer(const PlaneFace& face, const std::string& name) {
  for (const WireLayerTrace& layer : face.result->section.wire_layers) {
    if (layer.name == name) return &layer;
  }
  return nullptr;
}

double Wrapped(double value, double period) { return value - period * std::floor(value / period); }

// Phases of both combs in the drawing's frame, rad; a mirrored picture turns the other way and
// swaps the hands.
std::array<double, 2> Phases(const PlaneFace& face, const WireLayerTrace& layer) {
  const Placement& placement = face.result->section.placement;
  std::array<double, 2> phase;
  for (std::size_t f = 0; f < 2; ++f) {
    const double turned = layer.phase_rad[f] - placement.rotation_rad;
    phase[f] = placement.mirrored ? std::numbers::pi - turned : turned;
  }
  if (placement.mirrored) std::swap(phase[0], phase[1]);
  return phase;
}

PlanePairFigure Braid(std::span<const PlaneFace> faces, std::size_t first, std::size_t second,
                      const WireLayerTrace& a, const PlaneOptions& options) {
  PlanePairFigure figure;
  figure.of = a.name;
  figure.first = first;
  figure.second = second;
  const WireLayerTrace* b = Layer(faces[second], a.name);
  if (b == nullptr) return figure.reason = "the layer was not found in both planes", figure;
  if (!a.families_told || !b->families_told)
    return figure.reason = "which wire is of which hand is not told in both planes", figure;
  const int carriers = options.carriers > 0 ? options.carriers : a.expected;
  const Measurement* diameters[2] = {Find(*faces[first].result, {a.name}, "layer_diameter"),
                                     Find(*faces[second].result, {a.name}, "layer_diameter")};
  for (const Measurement* d : diameters) {
    if (d == nullptr || d->state != Measurement::State::kMeasured)
      return figure.reason = "the layer's diameter was not measured in both planes", figure;
  }
  if (carriers < 2) return figure.reason = "the number of carriers is not known", figure;
  const double d = 0.5 * (diameters[0]->value + diameters[1]->value);
  const double z = faces[second].station_um - faces[first].station_um;
  const double period = 4 * std::numbers::pi / carriers;
  const auto p = Phases(faces[first], a), q = Phases(faces[second], *b);
  const double turn = Wrapped((q[0] - p[0]) - (q[1] - p[1]), period);
  double square = 0;
  for (std::size_t f = 0; f < 2; ++f)
    square += a.u_phase_rad[f] * a.u_phase_rad[f] + b->u_phase_rad[f] * b->u_phase_rad[f];
  const double u_turn = std::sqrt(square);
  const auto angle = [&](double two_psi) { return std::atan(two_psi * d / (4 * z)) * kDegPerRad; };
  // Which hand turns which way is a matter of naming: both signs.
  for (const double start : {turn, period - turn}) {
    for (double x = start; angle(x) < kSteepestDeg; x += period)
      figure.candidates_deg.push_back(angle(x));
  }
  std::sort(figure.candidates_deg.begin(), figure.candidates_deg.end());
  const Measurement* single = nullptr;
  for (const std::size_t plane : {first, second}) {
    const Measurement* m = Find(*faces[plane].result, {a.name}, "braid_angle");
    if (m != nullptr && m->state == Measurement::State::kMeasured &&
        (single == nullptr || m->u < single->u))
      single = m;
  }
  if (single == nullptr)
    return figure.reason =
               "no single face tells the angle well enough to choose among the candidates",
           figure;
  const auto off = [&](double x) { return std::abs(x - single->value); };
  std::vector<double> near = figure.candidates_deg;
  std::sort(near.begin(), near.end(), [&](double x, double y) { return off(x) < off(y); });
  if (near.empty()) return figure.reason = "no angle fits", figure;
  if (off(near[0]) > kApart * single->u) {
    return figure.reason = fmt::format(
               "no candidate is near the {:.1f} degrees of a single face: the nearest is {:.1f}",
               single->value, near[0]),
           figure;
  }
  if (near.size() > 1 && off(near[1]) < kApart * single->u) {
    return figure.reason = fmt::format(
               "{:.1f} and {:.1f} degrees both fit a single face's {:.1f} (u {:.1f}); planes "
               "closer together tell",
               near[0], near[1], single->value, single->u),
           figure;
  }
  figure.told = true;
  figure.angle_deg = near[0];
  const double tangent = std::tan(near[0] / kDegPerRad), two_psi = 4 * z * tangent / d;
  const double u_d = 0.5 * std::hypot(diameters[0]->u, diameters[1]->u);
  const double share = std::sqrt(std::pow(u_turn / two_psi, 2) + std::pow(u_d / d, 2) +
                                 std::pow(options.u_station_um / z, 2));
  const double u_tangent = tangent * share;
  figure.u_angle_deg = u_tangent / (1 + tangent * tangent) * kDegPerRad;
  const double picks = 1000 * carriers / (2 * std::numbers::pi * d);
  figure.picks_per_mm = picks * tangent;
  // Diameter cancels in the picks: carriers / (2 pi) * two_psi / (4 z).
  figure.u_picks_per_mm =
      figure.picks_per_mm * std::hypot(u_turn / two_psi, options.u_station_um / z);
  return figure;
}

}  // namespace

void CompareBraids(std::span<const PlaneFace> faces, const PlaneOptions& options,
                   PlaneStack& stack) {
  for (std::size_t p = 0; p + 1 < faces.size(); ++p) {
    for (const WireLayerTrace& layer : faces[p].result->section.wire_layers) {
      if (layer.turns > 0) continue;  // lengthwise
      stack.braids.push_back(Braid(faces, p, p + 1, layer, options));
    }
  }
}

void CompareBonds(std::span<const PlaneFace> faces, const PlaneOptions& options,
                  PlaneStack& stack) {
  const auto offset = [](const PlaneFace& face) -> const Measurement* {
    const Measurement* m = Find(*face.result, {"bond"}, "offset");
    const bool told =
        m != nullptr && m->state == Measurement::State::kMeasured && m->at.size() == 2;
    return told ? m : nullptr;
  };
  // First and last plane that show the bond: the longest base.
  std::size_t first = faces.size(), last = 0;
  for (std::size_t p = 0; p < faces.size(); ++p) {
    if (offset(faces[p]) == nullptr) continue;
    first = std::min(first, p);
    last = p;
  }
  if (first >= last) return;
  PlanePairFigure figure;
  figure.of = "bond";
  figure.first = first;
  figure.second = last;
  const Measurement *a = offset(faces[first]), *b = offset(faces[last]);
  // From the shaft's centre to the sleeve's.
  const PointUm va = faces[first].Vector(a->at[0] - a->at[1]),
                vb = faces[last].Vector(b->at[0] - b->at[1]);
  const double z = faces[last].station_um - faces[first].station_um, change = Distance(va, vb);
  const double u = std::hypot(a->u, b->u);
  figure.told = true;
  figure.angle_deg = std::atan(change / z) * kDegPerRad;
  figure.u_angle_deg = std::hypot(u / z, change / z * options.u_station_um / z) /
                       (1 + std::pow(change / z, 2)) * kDegPerRad;
  figure.direction_deg = ClockDeg(vb - va);
  if (change < 2 * u) figure.reason = "within its uncertainty: the direction means little";
  stack.tilts.push_back(std::move(figure));
}

}  // namespace cutface::planes
