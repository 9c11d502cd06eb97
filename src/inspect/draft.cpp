#include "inspect/draft.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/geometry.h"

namespace cutface::inspect {
namespace {

constexpr double kLikeShare = 0.02;  // of the mean radius: a shape follows the contour
constexpr double kLikePx = 1.0;
constexpr double kPathPx = 0.5;
constexpr double kRoundPx = 0.2;
constexpr double kPathRoundPx = 0.05;
constexpr double kSmallPartUm = 500;
constexpr double kClockArm = 0.05;  // of the outline's radius: a direction that can be trusted
constexpr double kSameSize = 0.03;  // two lumens of like area: the clock would be ambiguous
constexpr double kPathCalmPx = 4;   // ripple of the contour that a drawing leaves out
constexpr std::size_t kPathStart = 6, kPathMost = 160;

// The largest of 1, 2, 5 x 10^n that is not above `um`, in the drawing's unit.
double Quantum(double um, LengthUnit units) {
  const double value = um / UmPer(units);
  const double decade = std::pow(10.0, std::floor(std::log10(value)));
  for (const double digit : {5.0, 2.0}) {
    if (digit * decade <= value * (1 + 1e-9)) return digit * decade;
  }
  return decade;
}

double RoundedUm(double um, double quantum, LengthUnit units) {
  return std::round(um / UmPer(units) / quantum) * quantum * UmPer(units);
}

// Greatest distance of one contour's vertices from the other contour, both ways.
double Deviation(const ContourUm& a, const ContourUm& b) {
  const ContourIndex<FrameUm> on_a(View(a)), on_b(View(b));
  double most = 0;
  for (const auto& n : on_b.NearestToEach(View(a))) most = std::max(most, n.distance);
  for (const auto& n : on_a.NearestToEach(View(b))) most = std::max(most, n.distance);
  return most;
}

struct Fitter {
  ContourUm contour;  // relative to the origin
  double pitch = 1;
  LengthUnit units = LengthUnit::kMillimetre;
  double quantum = 0, like = 0;

  Fitter(const ContourUm& points, PointUm origin, double pitch_um, LengthUnit unit)
      : pitch(pitch_um), units(unit), quantum(Quantum(kRoundPx * pitch_um, unit)) {
    for (const PointUm p : points) contour.push_back(p - origin);
    like = std::max(kLikeShare * std::sqrt(Area(contour) / M_PI), kLikePx * pitch);
  }
  double Rounded(double um) const { return RoundedUm(um, quantum, units); }
  PointUm Rounded(PointUm p) const { return {Rounded(p.x), Rounded(p.y)}; }
  bool Follows(Shape& shape) const {
    return FlattenShape(shape, UmPer(units)).has_value() &&
           Deviation(Resampled(contour, 2 * pitch), Resampled(shape.contour, 2 * pitch)) <= like;
  }

  bool AsCircle(Shape& shape) const {
    const auto circle = FitCircle(contour);
    if (!circle) return false;
    shape.kind = Shape::Kind::kCircle;
    shape.centre = Rounded(circle->centre);
    shape.diameter_um = Rounded(2 * circle->radius);
    return shape.diameter_um > 0 && Follows(shape);
  }
  bool AsEllipse(Shape& shape) const {
    const auto ellipse = FitEllipse(contour);
    if (!ellipse) return false;
    shape.kind = Shape::Kind::kEllipse;
    shape.centre = Rounded(ellipse->centre);
    shape.size_x_um = Rounded(2 * ellipse->semi_major);
    shape.size_y_um = Rounded(2 * ellipse->semi_minor);
    shape.angle_rad = std::round(ellipse->angle * 1800 / M_PI) * M_PI / 1800;
    return shape.size_x_um > 0 && shape.size_y_um > 0 && Follows(shape);
  }
  // The box of least area about the contour (one edge lies on the hull), its corners rounded so
  // that the area is the contour's.
  bool AsRectangle(Shape& shape) const {
    const ContourUm hull = ConvexHull(contour);
    double least = 1e300;
    for (std::size_t i = 0; i < hull.size(); ++i) {
      const PointUm edge = hull[(i + 1) % hull.size()] - hull[i];
      const double angle = std::atan2(edge.y, edge.x);
      ContourUm turned;
      for (const PointUm p : hull) turned.push_back(Rotated(p, -angle));
      const Box<FrameUm> box = BoundingBox(turned);
      const PointUm size = box.greatest - box.least;
      if (size.x * size.y >= least) continue;
      least = size.x * size.y;
      shape.size_x_um = Rounded(size.x);
      shape.size_y_um = Rounded(size.y);
      shape.centre = Rounded(Rotated(0.5 * (box.least + box.greatest), angle));
      shape.angle_rad = std::round(std::remainder(angle, M_PI) * 1800 / M_PI) * M_PI / 1800;
    }
    shape.kind = Shape::Kind::kRectangle;
    const double missing = std::max(0.0, least - Area(contour)) / (4 - M_PI);
    const double most = 0.5 * std::min(shape.size_x_um, shape.size_y_um);
    shape.corner_radius_um = std::min(Rounded(std::sqrt(missing)), most);
    return shape.size_x_um > 0 && shape.size_y_um > 0 && Follows(shape);
  }

  // Smooth cubic pieces through the dense contour's vertices `at`; tangents are the contour's own,
  // and a third of the arc long.
  std::string PathThrough(const ContourUm& dense, const std::vector<std::size_t>& at) const {
    const double q = Quantum(kPathRoundPx * pitch, units);
    const int digits = std::max(0, static_cast<int>(std::ceil(-std::log10(q) - 1e-9)));
    const auto word = [&](PointUm p) {
      const double x = std::round(p.x / UmPer(units) / q) * q;
      const double y = std::round(p.y / UmPer(units) / q) * q;
      return fmt::format("{:.{}f},{:.{}f}", x + 0.0, digits, y + 0.0, digits);
    };
    const std::size_t n = dense.size();
    const double step = Perimeter(dense) / static_cast<double>(n);
    const auto tangent = [&](std::size_t i) {
      const PointUm d = dense[(i + 2) % n] - dense[(i + n - 2) % n];
      return (1 / std::max(1e-9, Norm(d))) * d;
    };
    std::string path = "M" + word(dense[at[0]]);
    for (std::size_t k = 0; k < at.size(); ++k) {
      const std::size_t a = at[k], b = at[(k + 1) % at.size()];
      const double third = step * static_cast<double>((b + n - a) % n) / 3;
      path += " C" + word(dense[a] + third * tangent(a)) + " " +
              word(dense[b] - third * tangent(b)) + " " + word(dense[b]);
    }
    return path + " Z";
  }
  // Starts with few pieces and halves, at its worst place, each one that is too far off.
  void AsPath(Shape& shape) const {
    const ContourUm dense = Smoothed(Resampled(contour, pitch), kPathCalmPx * pitch);
    const std::size_t n = dense.size();
    std::vector<std::size_t> at;
    for (std::size_t k = 0; k < kPathStart; ++k) at.push_back(k * n / kPathStart);
    double least = 1e300;
    while (at.size() <= kPathMost) {
      Shape trial;
      trial.kind = Shape::Kind::kPath;
      trial.path = PathThrough(dense, at);
      auto flat = FlattenSvgPath(trial.path, UmPer(units));
      if (!flat) break;
      trial.contour = std::move(*flat);
      const auto off = ContourIndex<FrameUm>(View(trial.contour)).NearestToEach(View(dense));
      std::vector<std::size_t> finer;
      double most = 0;
      for (std::size_t k = 0; k < at.size(); ++k) {
        const std::size_t length = (at[(k + 1) % at.size()] + n - at[k]) % n;
        std::size_t worst = 0;
        double here = 0;
        for (std::size_t i = 1; i < length; ++i) {
          const double d = off[(at[k] + i) % n].distance;
          if (d > here) here = d, worst = i;
        }
        finer.push_back(at[k]);
        most = std::max(most, here);
        // The middle half: a piece must not come out too short to carry a tangent.
        worst = std::clamp(worst, length / 4, length - length / 4);
        if (here > kPathPx * pitch && length >= 4) finer.push_back((at[k] + worst) % n);
      }
      if (most < least && IsSimple(trial.contour)) {
        least = most;
        shape = trial;
      }
      if (most <= kPathPx * pitch || finer.size() == at.size()) break;
      at = std::move(finer);
    }
  }
};

bool Overlap(const ContourUm& a, const ContourUm& b) {
  return LeastDistance(a, b).distance <= 0 || Contains(a, b.front()) || Contains(b, a.front());
}

// The part of a contour that was seen.
ContourUm SeenPoints(const TracedContour& traced) {
  ContourUm points;
  for (const ContourVertex& v : traced.vertices) {
    if (v.state != VertexState::kCutOff) points.push_back(v.at);
  }
  return points;
}

// The outline's shape and the origin that makes its centre (0, 0).
Shape OutlineShape(const TracedContour& outline, double pitch_um, LengthUnit units, PointUm& origin,
                   std::vector<std::string>& warnings) {
  const ContourUm seen = SeenPoints(outline);
  if (!outline.whole) {
    warnings.push_back("the frame cuts the outline: its drafted shape is a guess beyond the frame");
    if (const auto circle = FitCircle(seen)) {
      double off = 0;
      for (const PointUm p : seen) {
        off = std::max(off, std::abs(Distance(p, circle->centre) - circle->radius));
      }
      if (off <= std::max(kLikeShare * circle->radius, kLikePx * pitch_um)) {
        origin = circle->centre;
        Shape shape;
        shape.diameter_um =
            RoundedUm(2 * circle->radius, Quantum(kRoundPx * pitch_um, units), units);
        if (FlattenShape(shape, UmPer(units))) return shape;
      }
    }
  }
  const ContourUm all = outline.Points();
  const auto circle = FitCircle(all);
  origin = circle ? circle->centre : Centroid(all);
  Shape shape = FittedShape(all, origin, pitch_um, units);
  if (shape.kind != Shape::Kind::kCircle) {
    origin = shape.kind == Shape::Kind::kPath ? Centroid(all) : origin + shape.centre;
    shape = FittedShape(all, origin, pitch_um, units);
  }
  return shape;
}

// l1 shows the clock when its direction is clear and no other lumen looks the same.
std::string ClockOf(const SectionDesign& plane) {
  if (plane.lumens.empty()) return "";
  const double radius = std::sqrt(Area(plane.outline.contour) / M_PI);
  const ContourUm& first = plane.lumens.front().shape.contour;
  if (Distance(Centroid(first), Centroid(plane.outline.contour)) < kClockArm * radius) return "";
  for (std::size_t k = 1; k < plane.lumens.size(); ++k) {
    const double ratio = Area(plane.lumens[k].shape.contour) / Area(first);
    if (std::abs(ratio - 1) < kSameSize) return "";
  }
  return plane.lumens.front().name;
}

}  // namespace

Shape FittedShape(const ContourUm& contour, PointUm origin, double pitch_um, LengthUnit units,
                  bool path_only) {
  const Fitter fitter(contour, origin, pitch_um, units);
  if (!path_only) {
    Shape shape;
    if (fitter.AsCircle(shape)) return shape;
    shape = Shape{};
    if (fitter.AsEllipse(shape)) return shape;
    shape = Shape{};
    if (fitter.AsRectangle(shape)) return shape;
  }
  Shape shape;
  fitter.AsPath(shape);
  return shape;
}

Design DraftDesign(const Section& section, double pitch_um, std::vector<std::string>& warnings) {
  Design draft;
  draft.part_number = "draft";
  draft.revision = "0";
  draft.title = "drafted from a sample; limits are for the drawing's owner to set";
  const ContourUm all = section.outline->Points();
  draft.units = 2 * std::sqrt(Area(all) / M_PI) < kSmallPartUm ? LengthUnit::kMicrometre
                                                               : LengthUnit::kMillimetre;
  SectionDesign plane;
  plane.name = "draft";
  PointUm origin;
  plane.outline = OutlineShape(*section.outline, pitch_um, draft.units, origin, warnings);
  for (const LumenTrace& lumen : section.lumens) {
    if (lumen.state == LumenState::kCutOff || lumen.bore.vertices.size() < 6) {
      warnings.push_back(lumen.Key() + " is not in the draft: the frame cuts it off");
      continue;
    }
    LumenDesign drawn;
    drawn.name = lumen.Key();
    bool fits = false;
    for (const bool path_only : {false, true}) {
      drawn.shape = FittedShape(lumen.bore.Points(), origin, pitch_um, draft.units, path_only);
      if (drawn.shape.contour.size() < 3) continue;
      fits = LeastDistance(drawn.shape.contour, plane.outline.contour).distance > 0 &&
             Contains(plane.outline.contour, drawn.shape.contour.front()) &&
             std::none_of(plane.lumens.begin(), plane.lumens.end(), [&](const LumenDesign& other) {
               return Overlap(other.shape.contour, drawn.shape.contour);
             });
      if (fits) break;
    }
    if (fits) {
      plane.lumens.push_back(std::move(drawn));
    } else {
      warnings.push_back(lumen.Key() + " is not in the draft: it touches another contour");
    }
  }
  plane.datum.clock = ClockOf(plane);
  draft.sections.push_back(std::move(plane));
  return draft;
}

}  // namespace cutface::inspect
