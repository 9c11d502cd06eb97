// Values of a square cut from an oblique one.
#include <algorithm>
#include <cmath>

#include "cutface/measure.h"

namespace cutface {
namespace {

constexpr double kTiltCovers95 = 1.96;

// Compresses (cos) or stretches (1 / cos) along one direction, about the frame's origin.
class Squeeze {
 public:
  Squeeze(double factor, double axis_rad)
      : factor_(factor), along_{std::cos(axis_rad), std::sin(axis_rad)} {}

  PointUm operator()(PointUm p) const {
    const double part = (factor_ - 1) * Dot(p, along_);
    return p + part * along_;
  }
  void Contour(TracedContour& contour) const {
    for (ContourVertex& v : contour.vertices) {
      v.at = (*this)(v.at);
      // A normal goes with the inverse transpose; a shift along it shrinks by what of it lies along
      // the axis.
      const double part = Dot(v.normal, along_);
      PointUm normal = v.normal + ((1 / factor_ - 1) * part) * along_;
      const double length = std::hypot(normal.x, normal.y);
      if (!(length > 0)) continue;
      v.normal = (1 / length) * normal;
      v.sigma_um /= length;
      v.doubt_um /= length;
    }
  }
  void Wire(WireTrace& wire) const {
    wire.centroid = (*this)(wire.centroid);
    Contour(wire.contour);
    if (wire.contour.vertices.size() < 6) return;
    const ContourUm points = wire.contour.Points();
    const Ellipse<FrameUm> axes = MomentEllipse(std::span<const PointUm>(points));
    wire.long_um = 2 * axes.semi_major;
    wire.short_um = 2 * axes.semi_minor;
    wire.axis_rad = axes.angle;
  }
  void Hole(Void& hole) const {
    Contour(hole.contour);
    hole.centroid = (*this)(hole.centroid);
    hole.area_um2 *= factor_;
    hole.u_area_um2 *= factor_;
  }

 private:
  static double Dot(PointUm a, PointUm b) { return a.x * b.x + a.y * b.y; }
  double factor_;
  PointUm along_;
};

Section Squared(Section section, double tilt_rad) {
  const Squeeze squeeze(std::cos(tilt_rad), section.placement.oblique_axis_rad);
  if (section.outline) squeeze.Contour(*section.outline);
  for (RingTrace& ring : section.rings) squeeze.Contour(ring.inner);
  for (LinerTrace& liner : section.liners) squeeze.Contour(liner.outer);
  for (LumenTrace& lumen : section.lumens) {
    squeeze.Contour(lumen.bore);
    if (lumen.breach) lumen.breach = {squeeze(lumen.breach->a), squeeze(lumen.breach->b)};
  }
  for (WireTrace& wire : section.wires) squeeze.Wire(wire);
  for (WireLayerTrace& layer : section.wire_layers) layer.centre = squeeze(layer.centre);
  for (FibreTrace& fibre : section.fibres) {
    fibre.centre = squeeze(fibre.centre);
    for (PointUm& p : fibre.at) p = squeeze(p);
  }
  for (Void& hole : section.voids) squeeze.Hole(hole);
  section.placement.oblique_rad = 0;
  section.placement.stretch_kind = StretchKind::kNone;
  return section;
}

const Measurement* Same(const std::vector<Measurement>& all, const Measurement& m) {
  for (const Measurement& other : all) {
    if (other.quantity == m.quantity && other.of == m.of)
      return other.state == Measurement::State::kMeasured ? &other : nullptr;
  }
  return nullptr;
}

}  // namespace

std::vector<Measurement> MeasureTiltCorrected(const Section& section, const Design* design,
                                              const SectionDesign* plane, const Scale& scale,
                                              const MeasureOptions& options) {
  const double tilt = section.placement.oblique_rad, u = section.placement.u_oblique_rad;
  CF_CHECK(tilt > 0);
  MeasureOptions values_only = options;
  values_only.draws = 0;
  const auto at = [&](double angle, const MeasureOptions& how) {
    return MeasureSection(Squared(section, angle), design, plane, scale, how);
  };
  std::vector<Measurement> out = at(tilt, options);
  const std::vector<Measurement> seen = MeasureSection(section, design, plane, scale, values_only);
  const std::vector<Measurement> more = at(tilt + u, values_only);
  const std::vector<Measurement> less = at(std::max(0.0, tilt - u), values_only);
  const Squeeze back(1 / std::cos(tilt), section.placement.oblique_axis_rad);
  for (Measurement& m : out) {
    for (PointUm& p : m.at) p = back(p);
    if (m.state != Measurement::State::kMeasured) continue;
    const Measurement *as_seen = Same(seen, m), *a = Same(more, m), *b = Same(less, m);
    if (as_seen != nullptr) m.uncorrected = as_seen->value;
    // Where a step of the angle changes what can be measured at all, the whole correction is doubt.
    const double whole = as_seen != nullptr ? std::abs(m.raw - as_seen->raw) : 0;
    double own = a != nullptr && b != nullptr ? 0.5 * std::abs(a->raw - b->raw) : whole;
    // A squash explains the face as well: then half of the stretch belongs to the part.
    if (section.placement.stretch_kind == StretchKind::kEither) own = std::hypot(own, 0.5 * whole);
    if (!(own > 0)) continue;
    const bool positive = m.lo >= 0;
    m.u = std::hypot(m.u, own);
    m.lo = m.value - std::hypot(m.value - m.lo, kTiltCovers95 * own);
    m.hi = m.value + std::hypot(m.hi - m.value, kTiltCovers95 * own);
    if (positive) m.lo = std::max(0.0, m.lo);
    m.budget.push_back({"correction of the tilt", own});
  }
  return out;
}

}  // namespace cutface
