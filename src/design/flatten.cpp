#include "design/flatten.h"

#include <algorithm>
#include <numbers>

namespace cutface {
namespace {

constexpr double kMostTurnRad = 2 * kPi / 180;
// A cusp turns within no length at all: below this edge length the turn no longer counts.
constexpr double kLeastEdgeUm = 0.5;
constexpr int kMostHalvings = 14;
// Vertices nearer than this are one (a millionth of the roughness of any cut face).
constexpr double kSamePlaceUm = 1e-6;

PointUm Middle(PointUm a, PointUm b) { return 0.5 * (a + b); }

double TurnBetween(PointUm a, PointUm b) { return std::abs(std::atan2(Cross(a, b), Dot(a, b))); }

// Turn of the control polygon; parts of no length do not turn.
double ControlTurn(PointUm a, PointUm b, PointUm c, PointUm d) {
  double turn = 0;
  PointUm last;
  for (const PointUm leg : {b - a, c - b, d - c}) {
    if (Norm(leg) < kSamePlaceUm) continue;
    if (Norm(last) > 0) turn += TurnBetween(last, leg);
    last = leg;
  }
  return turn;
}

double SignedAreaOf(const ContourUm& contour) {
  double twice = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    // About vertex 0: no cancellation for shapes far from the origin.
    twice += Cross(contour[i] - contour[0], contour[(i + 1) % contour.size()] - contour[0]);
  }
  return twice / 2;
}

}  // namespace

bool TidyContour(ContourUm& contour) {
  ContourUm kept;
  kept.reserve(contour.size());
  for (const PointUm point : contour) {
    if (kept.empty() || Distance(kept.back(), point) > kSamePlaceUm) kept.push_back(point);
  }
  while (kept.size() > 1 && Distance(kept.back(), kept.front()) <= kSamePlaceUm) kept.pop_back();
  contour = std::move(kept);
  if (contour.size() < 3) return false;
  const double area = SignedAreaOf(contour);
  if (!(std::abs(area) > 1e-6)) return false;  // um2
  if (area < 0) std::reverse(contour.begin() + 1, contour.end());
  return true;
}

void PolylineBuilder::QuadraticTo(PointUm control, PointUm to) {
  const PointUm from = points_.back();
  // The same curve as a cubic.
  CubicTo(from + (2.0 / 3.0) * (control - from), to + (2.0 / 3.0) * (control - to), to);
}

void PolylineBuilder::CubicTo(PointUm first, PointUm second, PointUm to) {
  Cubic(points_.back(), first, second, to, 0);
}

void PolylineBuilder::Cubic(PointUm a, PointUm b, PointUm c, PointUm d, int depth) {
  // A cubic leaves its chord (run at even speed) by at most 3/4 of its greatest second difference.
  const double second = std::max(Norm(a - 2.0 * b + c), Norm(b - 2.0 * c + d));
  const double length = Distance(a, b) + Distance(b, c) + Distance(c, d);
  const bool flat = 0.75 * second <= tolerance_um_;
  const bool straight = ControlTurn(a, b, c, d) <= kMostTurnRad || length < kLeastEdgeUm;
  if ((flat && straight) || depth >= kMostHalvings || full()) {
    Push(d);
    return;
  }
  const PointUm ab = Middle(a, b), bc = Middle(b, c), cd = Middle(c, d);
  const PointUm abc = Middle(ab, bc), bcd = Middle(bc, cd);
  const PointUm middle = Middle(abc, bcd);
  Cubic(a, ab, abc, middle, depth + 1);
  Cubic(middle, bcd, cd, d, depth + 1);
}

void PolylineBuilder::ArcAbout(PointUm centre, double rx, double ry, double turn_rad,
                               double from_rad, double sweep_rad) {
  const double most = std::max(rx, ry);
  const double ratio = std::max(std::min(rx, ry) / most, 0.02);
  // sagitta of a step t on the larger radius: most * (1 - cos(t / 2))
  const double by_chord = 2 * std::acos(std::max(1 - tolerance_um_ / most, -1.0));
  const double step = std::min(by_chord, kMostTurnRad * ratio);
  const int count = std::max(static_cast<int>(std::ceil(std::abs(sweep_rad) / step - 1e-9)), 1);
  for (int i = 1; i <= count && !full(); ++i) {
    const double angle = from_rad + sweep_rad * i / count;
    Push(centre + Rotated(PointUm{rx * std::cos(angle), ry * std::sin(angle)}, turn_rad));
  }
}

void PolylineBuilder::ArcTo(double rx, double ry, double turn_rad, bool large, bool sweep,
                            PointUm to) {
  const PointUm from = points_.back();
  rx = std::abs(rx);
  ry = std::abs(ry);
  if (from == to) return;  // SVG: the arc is left out
  if (!(rx > kSamePlaceUm) || !(ry > kSamePlaceUm)) return LineTo(to);
  // SVG 1.1 F.6.5: to the frame of the ellipse, half-way between the ends.
  const PointUm half = Rotated(0.5 * (from - to), -turn_rad);
  const double reach = std::hypot(half.x / rx, half.y / ry);
  if (reach > 1) {  // F.6.6: radii that cannot reach are enlarged
    rx *= reach;
    ry *= reach;
  }
  const double share = std::pow(half.x / rx, 2) + std::pow(half.y / ry, 2);
  double factor = std::sqrt(std::max((1 - share) / std::max(share, 1e-300), 0.0));
  if (large == sweep) factor = -factor;
  const PointUm offset{factor * rx * half.y / ry, -factor * ry * half.x / rx};
  const PointUm centre = Middle(from, to) + Rotated(offset, turn_rad);
  const double start = std::atan2((half.y - offset.y) / ry, (half.x - offset.x) / rx);
  const double end = std::atan2((-half.y - offset.y) / ry, (-half.x - offset.x) / rx);
  double swept = end - start;
  if (sweep && swept < 0) swept += 2 * kPi;
  if (!sweep && swept > 0) swept -= 2 * kPi;
  // Radii up to what the ends need could still be astronomically larger than they are apart.
  if (std::max(rx, ry) > 1e9) return LineTo(to);
  ArcAbout(centre, rx, ry, turn_rad, start, swept);
  if (!points_.empty()) points_.back() = to;  // exactly, so that rounding does not add up
}

}  // namespace cutface
