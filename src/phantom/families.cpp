#include "phantom/families.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>

#include "phantom/pen.h"
#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

constexpr double kLeastLumenRadius = 10.5;  // px: lumens are at least about 20 px across

constexpr std::array<const char*, 8> kNames = {"wash",  "return",   "scope", "cuff",
                                               "guide", "pressure", "feed",  "vent"};

struct Draft {
  const NominalLimits& limits;
  Random& random;
  double radius = 0;  // half the outline's greatest width
  double wall = 0, septum = 0;
  Nominal nominal;

  void Add(NominalShape shape, bool round) {
    const std::size_t i = nominal.lumens.size();
    nominal.lumens.push_back({kNames[i], std::move(shape), round});
  }
  void AddCircle(PointPx centre, double r) { Add(CircleShape(centre, r, limits.mm_per_px), true); }
  Pen NewPen() const { return Pen(limits.mm_per_px); }
};

double LogUniform(Random& random, double least, double greatest) {
  return least * std::pow(greatest / least, random.Uniform());
}

PointPx OnCircle(double r, double angle) { return {r * std::cos(angle), r * std::sin(angle)}; }

// Lumen between two rays from the centre, the sides moved in by half a septum, the outer side an
// arc.
NominalShape Sector(const Draft& d, double a0, double a1, double half_web, double r) {
  const auto on_arc = [&](double angle, double side) {
    const double t = std::sqrt(r * r - half_web * half_web);
    return OnCircle(t, angle) + side * OnCircle(half_web, angle + kPi / 2);
  };
  const PointPx start = on_arc(a0, 1), end = on_arc(a1, -1);
  // Apex: on the bisector, half_web from both rays.
  const double half = 0.5 * (a1 - a0);
  const PointPx apex = OnCircle(half_web / std::sin(half), 0.5 * (a0 + a1));
  Pen pen = d.NewPen();
  pen.MoveTo(apex);
  pen.LineTo(start);
  const double b0 = std::atan2(start.y, start.x);
  double b1 = std::atan2(end.y, end.x);
  while (b1 < b0) b1 += 2 * kPi;
  pen.Arc({0, 0}, r, b0, b1);
  return pen.Close();
}

void Rounds(Draft& d) {
  const int n = d.random.Integer(2, 7);
  const double start = std::max(kLeastLumenRadius, (n > 5 ? 0.055 : 0.065) * 2 * d.radius);
  std::vector<PointPx> centres;
  std::vector<double> radii, wanted;
  for (int tries = 0; tries < 4000 && static_cast<int>(centres.size()) < n; ++tries) {
    const double reach = d.radius - d.wall - start;
    const PointPx c{d.random.Uniform(-reach, reach), d.random.Uniform(-reach, reach)};
    bool fits = Norm(c) <= reach;
    for (const PointPx other : centres) fits = fits && Distance(c, other) >= 2 * start + d.septum;
    if (!fits) continue;
    centres.push_back(c);
    radii.push_back(start);
    wanted.push_back(d.random.Uniform(0.08, n <= 3 ? 0.56 : 0.40) * d.radius);
  }
  for (int round = 0; round < 80; ++round) {
    for (std::size_t i = 0; i < centres.size(); ++i) {
      double most = std::min(wanted[i], d.radius - d.wall - Norm(centres[i]));
      for (std::size_t j = 0; j < centres.size(); ++j) {
        if (j != i) most = std::min(most, Distance(centres[i], centres[j]) - d.septum - radii[j]);
      }
      radii[i] = std::max(radii[i], std::min(most, radii[i] * 1.05));
    }
  }
  for (std::size_t i = 0; i < centres.size(); ++i) d.AddCircle(centres[i], radii[i]);
}

void DoubleD(Draft& d) {
  const double r = d.radius - d.wall, middle = d.random.Uniform(-0.3, 0.3) * d.radius;
  for (const double side : {-1.0, 1.0}) {
    const double y = middle + side * 0.5 * d.septum;
    const double x = std::sqrt(r * r - y * y);
    Pen pen = d.NewPen();
    const PointPx from{-side * -x, y}, to{-side * x, y};
    pen.MoveTo(from);
    const double a0 = std::atan2(from.y, from.x);
    double a1 = std::atan2(to.y, to.x);
    while (a1 < a0) a1 += 2 * kPi;
    pen.Arc({0, 0}, r, a0, a1);
    d.Add(pen.Close(), false);
  }
  if (d.random.Chance(0.3)) d.nominal.symmetric = std::abs(middle) < 1;
}

void Crescent(Draft& d) {
  const double r = d.radius - d.wall;
  const double hole = d.random.Uniform(0.52, 0.66) * r;
  const double x0 = r - hole, q = hole + d.septum;
  const auto inner = [&](double phi) {
    return x0 * std::cos(phi) + std::sqrt(q * q - std::pow(x0 * std::sin(phi), 2));
  };
  double tip = d.random.Uniform(0.5, 1.1);
  while (tip < 2.4 && r - inner(tip) < std::max(0.10 * r, 12.0)) tip += 0.02;
  d.AddCircle({x0, 0}, hole);
  Pen pen = d.NewPen();
  pen.MoveTo(OnCircle(r, tip));
  pen.Arc({0, 0}, r, tip, 2 * kPi - tip);
  const PointPx back = OnCircle(inner(tip), 2 * kPi - tip), end = OnCircle(inner(tip), tip);
  pen.LineTo(back);
  const PointPx c{x0, 0};
  double a0 = std::atan2(back.y, back.x - x0), a1 = std::atan2(end.y, end.x - x0);
  while (a1 > a0) a1 -= 2 * kPi;
  pen.Arc(c, q, a0, a1);
  d.Add(pen.Close(), false);
  if (d.random.Chance(0.35)) {  // a small round one in the crescent's horn
    const double gap = r - inner(0) < 0 ? 0 : r - inner(0);
    if (gap > 2 * kLeastLumenRadius + 2 * d.septum)
      d.AddCircle({r - 0.5 * gap, 0}, 0.5 * gap - d.septum);
  }
}

void Wedges(Draft& d) {
  const int n = d.random.Integer(3, 4);
  const double r = d.radius - d.wall;
  const bool equal = d.random.Chance(0.4);
  std::vector<double> span;
  double sum = 0;
  for (int i = 0; i < n; ++i) {
    span.push_back(equal ? 1.0 : d.random.Uniform(0.65, 1.5));
    sum += span.back();
  }
  double at = d.random.Uniform(0, 2 * kPi);
  for (int i = 0; i < n; ++i) {
    const double next = at + span[static_cast<std::size_t>(i)] / sum * 2 * kPi;
    // A half angle of pi/2 or more has no apex; spans are limited so that this cannot happen.
    d.Add(Sector(d, at, next, 0.5 * d.septum, r), false);
    at = next;
  }
  d.nominal.symmetric = equal;
}

void Satellites(Draft& d) {
  const double large = d.random.Uniform(0.42, 0.58) * d.radius;
  const PointPx centre{-(d.radius - d.wall - large) * d.random.Uniform(0.5, 1.0), 0};
  d.AddCircle(centre, large);
  const int n = d.random.Integer(1, 4);
  std::vector<Disc> placed{{centre, large}};
  for (int tries = 0; tries < 3000 && static_cast<int>(placed.size()) <= n; ++tries) {
    const double r = std::max(kLeastLumenRadius, d.random.Uniform(0.05, 0.16) * d.radius);
    const double gap = d.septum * d.random.Uniform(1.0, 1.6);
    const PointPx c = centre + OnCircle(large + gap + r, d.random.Uniform(-1.9, 1.9));
    bool fits = Norm(c) + r + d.wall <= d.radius;
    for (const Disc& other : placed) {
      fits = fits && Distance(c, other.centre) >= r + other.radius + d.septum * 0.999;
    }
    if (!fits) continue;
    placed.push_back({c, r});
    d.AddCircle(c, r);
  }
}

// Part of a ring with round ends.
NominalShape RingSlot(const Draft& d, double middle, double half_width, double a0, double a1) {
  const double ro = middle + half_width, ri = middle - half_width;
  Pen pen = d.NewPen();
  pen.MoveTo(OnCircle(ro, a0));
  pen.Arc({0, 0}, ro, a0, a1);
  pen.Arc(OnCircle(middle, a1), half_width, a1, a1 + kPi);
  pen.Arc({0, 0}, ri, a1, a0);
  pen.Arc(OnCircle(middle, a0), half_width, a0 + kPi, a0 + 2 * kPi);
  return pen.Close();
}

// Closed smooth curve through points (Catmull-Rom spans written as cubic Beziers).
NominalShape SmoothThrough(const Draft& d, const std::vector<PointPx>& points) {
  const std::size_t n = points.size();
  Pen pen = d.NewPen();
  pen.MoveTo(points[0]);
  for (std::size_t i = 0; i < n; ++i) {
    const PointPx p0 = points[(i + n - 1) % n], p1 = points[i];
    const PointPx p2 = points[(i + 1) % n], p3 = points[(i + 2) % n];
    pen.Cubic(p1 + (1.0 / 6) * (p2 - p0), p2 - (1.0 / 6) * (p3 - p1), p2);
  }
  return pen.Close();
}

NominalShape Blob(const Draft& d, PointPx centre, double reach) {
  std::vector<PointPx> points;
  const double phase = d.random.Uniform(0, 2 * kPi);
  for (int i = 0; i < 8; ++i) {
    points.push_back(centre + OnCircle(reach * d.random.Uniform(0.68, 0.97), phase + i * kPi / 4));
  }
  return SmoothThrough(d, points);
}

void Slots(Draft& d) {
  const int n = d.random.Integer(2, 4);
  const double ring = d.random.Uniform(0.5, 0.6) * d.radius;
  const double room = d.radius - d.wall - ring;
  const double turn = d.random.Uniform(0, 2 * kPi), step = 2 * kPi / n;
  double inner = ring - room;
  for (int i = 0; i < n; ++i) {
    const double at = turn + i * step;
    const double side = ring * std::sin(0.5 * step) - 0.5 * d.septum;
    if (d.random.Chance(0.5)) {
      const double half = room * d.random.Uniform(0.55, 0.98);
      const double free = 0.5 * step - (half + 0.5 * d.septum) / (ring - 0.3 * half);
      const double reach = std::max(0.05, free * d.random.Uniform(0.6, 1.0));
      d.Add(RingSlot(d, ring, half, at - reach, at + reach), false);
    } else {
      d.Add(Blob(d, OnCircle(ring, at), std::min(room, side)), false);
    }
  }
  inner -= d.septum;
  if (inner > kLeastLumenRadius + 1 && d.random.Chance(0.5)) {
    d.AddCircle({0, 0}, std::max(kLeastLumenRadius, inner));
  }
}

void FourLumen(Draft& d) {
  const double r = d.radius - d.wall, big = d.random.Uniform(0.34, 0.40) * d.radius;
  const double y = r - big - d.random.Uniform(0.0, 0.05) * d.radius;
  d.nominal.lumens.clear();
  const auto add = [&](const char* name, NominalShape shape, bool round) {
    d.nominal.lumens.push_back({name, std::move(shape), round});
  };
  const double top = y - big - d.septum;  // the shaped lumens end above this
  const double cuff = std::max(kLeastLumenRadius, d.random.Uniform(0.09, 0.13) * d.radius);
  add("scope", CircleShape({0, y}, big, d.limits.mm_per_px), true);
  const double low = std::min(top, 0.12 * d.radius), half_web = 0.5 * d.septum;
  for (const double side : {-1.0, 1.0}) {
    Pen pen = d.NewPen();
    const PointPx inner_low{side * half_web, low};
    const PointPx outer_low{side * std::sqrt(r * r - low * low), low};
    const PointPx inner_high{side * half_web, -std::sqrt(r * r - half_web * half_web)};
    if (side > 0) {
      pen.MoveTo(inner_low);
      pen.LineTo(inner_high);
      const double a0 = std::atan2(inner_high.y, inner_high.x);
      pen.Arc({0, 0}, r, a0, std::atan2(outer_low.y, outer_low.x));
    } else {
      pen.MoveTo(inner_low);
      pen.LineTo(outer_low);
      double a0 = std::atan2(outer_low.y, outer_low.x), a1 = std::atan2(inner_high.y, inner_high.x);
      while (a1 < a0) a1 += 2 * kPi;
      pen.Arc({0, 0}, r, a0, a1);
    }
    add(side < 0 ? "wash" : "return", pen.Close(), false);
  }
  // The cuff's lumen lies beside the scope's, below the right shaped one.
  for (double angle = 0.35; angle < 1.0; angle += 0.02) {
    const PointPx c = OnCircle(r - cuff, angle);
    if (c.y - cuff - d.septum < low) continue;
    if (Distance(c, {0, y}) < big + cuff + d.septum) continue;
    add("cuff", CircleShape(c, cuff, d.limits.mm_per_px), true);
    break;
  }
}

void NonRound(Draft& d) {
  const int kind = d.random.Integer(0, 3);
  const double a = d.radius, mm = d.limits.mm_per_px;
  d.nominal.outline_round = false;
  const double b = d.random.Uniform(0.55, 0.85) * a;
  if (kind == 0) {
    d.nominal.outline = EllipseShape({0, 0}, 2 * a, 2 * b, mm);
  } else if (kind == 1) {
    d.nominal.outline = RectangleShape({0, 0}, 2 * a, 2 * b, d.random.Uniform(0.2, 0.7) * b, mm);
  } else if (kind == 2) {
    const double c = d.random.Uniform(0.25, 0.5) * a, r = a, x = std::sqrt(r * r - c * c);
    Pen pen = d.NewPen();
    pen.MoveTo({-x, c});
    pen.Arc({0, 0}, r, std::atan2(c, -x), std::atan2(c, x) + 2 * kPi);
    d.nominal.outline = pen.Close();
    const double ri = r - d.wall, low = c - d.wall, h = 0.5 * d.septum;
    const double xl = std::sqrt(ri * ri - low * low), yt = -std::sqrt(ri * ri - h * h);
    Pen right = d.NewPen();
    right.MoveTo({h, yt});
    right.Arc({0, 0}, ri, std::atan2(yt, h), std::atan2(low, xl));
    right.LineTo({h, low});
    d.Add(right.Close(), false);
    Pen left = d.NewPen();
    left.MoveTo({-h, low});
    left.LineTo({-xl, low});
    left.Arc({0, 0}, ri, std::atan2(low, -xl), std::atan2(yt, -h) + 2 * kPi);
    d.Add(left.Close(), false);
    return;
  } else {
    std::vector<PointPx> points;
    const double waist = d.random.Uniform(0.16, 0.28), mean = a / (1 + waist);
    for (int i = 0; i < 24; ++i) {
      const double t = i * kPi / 12;
      const double low = 0.92 + 0.08 * std::cos(2 * t);
      points.push_back(OnCircle(mean * (1 + waist * std::cos(2 * t)) * low, t));
    }
    d.nominal.outline = SmoothThrough(d, points);
  }
  // Round lumens in a row along the long axis, each as large as walls and septa allow.
  const int n = kind == 3 ? 2 : d.random.Integer(2, 4);
  double from = -a + d.wall;
  const double pitch = (2 * a - 2 * d.wall + d.septum) / n;
  for (int i = 0; i < n; ++i) {
    const PointPx c{from + 0.5 * (pitch - d.septum), 0};
    const double room = LeastGap(c, d.nominal.outline.contour).distance - d.wall;
    const double r = std::min(0.5 * (pitch - d.septum), room) * d.random.Uniform(0.75, 1.0);
    d.AddCircle(c, r);
    from += pitch;
  }
}

bool Usable(const Nominal& nominal, const NominalLimits& limits) {
  if (nominal.lumens.size() < 2) return false;
  constexpr std::size_t kCoarse = 400;  // enough to tell what fits
  const ContourPx outline = EqualSteps(nominal.outline.contour, kCoarse);
  std::vector<ContourPx> lumens;
  for (const NominalLumen& lumen : nominal.lumens) {
    ContourPx c = EqualSteps(lumen.shape.contour, kCoarse);
    if (!Inside(outline, c[0]) || WidthsOf(c).least < 19) return false;
    if (LeastGap(c, outline).distance < 0.7 * limits.least_wall_px) return false;
    for (const ContourPx& other : lumens) {
      if (LeastGap(c, other).distance < 0.95 * limits.least_septum_px) return false;
      if (Inside(other, c[0]) || Inside(c, other[0])) return false;
    }
    lumens.push_back(std::move(c));
  }
  return true;
}

}  // namespace

Nominal DrawNominal(int family, const NominalLimits& limits, Random& random) {
  static constexpr std::array<const char*, kFamilies> kFamilyNames = {
      "rounds", "double D", "crescent", "wedges", "satellites", "slots", "four-lumen", "non-round"};
  using Maker = void (*)(Draft&);
  static constexpr std::array<Maker, kFamilies> kMakers = {
      Rounds, DoubleD, Crescent, Wedges, Satellites, Slots, FourLumen, NonRound};
  for (int tries = 0; tries < 1000; ++tries) {
    Draft draft{limits, random, 0.5 * limits.diameter_px, 0, 0, {}};
    const double greatest = std::min(limits.greatest_septum_px, 0.07 * limits.diameter_px);
    draft.septum = LogUniform(random, limits.least_septum_px, greatest);
    draft.wall = LogUniform(random, limits.least_wall_px,
                            std::max(0.09 * limits.diameter_px, limits.least_wall_px * 1.5));
    draft.nominal.family = kFamilyNames[static_cast<std::size_t>(family)];
    draft.nominal.outline = CircleShape({0, 0}, draft.radius, limits.mm_per_px);
    kMakers[static_cast<std::size_t>(family)](draft);
    if (Usable(draft.nominal, limits)) return draft.nominal;
  }
  CheckFailed("a family that cannot be drawn within its limits", __FILE__, __LINE__);
}

}  // namespace cutface::phantom
