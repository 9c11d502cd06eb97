#include "measure/extremes.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace cutface::measure {
namespace {

constexpr double kUnbounded = std::numeric_limits<double>::infinity();
constexpr int kMostExchanges = 60;
constexpr double kEnclosingToleranceUm = 1e-6;

// Solves the symmetric 3 x 3 system; false when singular.
bool Solve3(const std::array<double, 9>& m, const std::array<double, 3>& b,
            std::array<double, 3>& x) {
  const double c0 = m[4] * m[8] - m[5] * m[7], c1 = m[5] * m[6] - m[3] * m[8],
               c2 = m[3] * m[7] - m[4] * m[6];
  const double det = m[0] * c0 + m[1] * c1 + m[2] * c2;
  if (std::abs(det) < 1e-300) return false;
  x[0] =
      (b[0] * c0 + m[1] * (m[5] * b[2] - b[1] * m[8]) + m[2] * (b[1] * m[7] - m[4] * b[2])) / det;
  x[1] =
      (m[0] * (b[1] * m[8] - m[5] * b[2]) + b[0] * c1 + m[2] * (m[3] * b[2] - b[1] * m[6])) / det;
  x[2] =
      (m[0] * (m[4] * b[2] - b[1] * m[7]) + m[1] * (b[1] * m[6] - m[3] * b[2]) + b[0] * c2) / det;
  return true;
}

// One contact of a linearised circle problem: distance from the centre and its direction.
struct Contact {
  double r = 0;
  PointUm n;
};

// Levelled error of four contacts: Chebyshev approximation of r by a + n.delta.
struct Level {
  double h = -1;
  double a = 0;
  PointUm delta;
};

Level LevelOf(const std::array<Contact, 4>& c) {
  // Null vector of the 3 x 4 matrix with columns (1, n): cofactors.
  std::array<double, 4> lambda{};
  for (std::size_t i = 0; i < 4; ++i) {
    const Contact &p = c[(i + 1) % 4], &q = c[(i + 2) % 4], &s = c[(i + 3) % 4];
    const double det = Cross(q.n - p.n, s.n - p.n);
    lambda[i] = i % 2 == 0 ? det : -det;
  }
  double sum = 0, level = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    sum += std::abs(lambda[i]);
    level += lambda[i] * c[i].r;
  }
  Level out;
  if (sum < 1e-14) return out;
  const double sign = level < 0 ? -1 : 1;
  out.h = std::abs(level) / sum;
  // The three contacts other than the one with the least |lambda| fix a and delta best.
  std::size_t leave = 0;
  for (std::size_t i = 1; i < 4; ++i) {
    if (std::abs(lambda[i]) < std::abs(lambda[leave])) leave = i;
  }
  std::array<double, 9> m{};
  std::array<double, 3> b{}, x{};
  std::size_t row = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    if (i == leave) continue;
    m[3 * row] = 1, m[3 * row + 1] = c[i].n.x, m[3 * row + 2] = c[i].n.y;
    b[row] = c[i].r - (lambda[i] * sign > 0 ? out.h : -out.h);
    ++row;
  }
  if (!Solve3(m, b, x)) {
    out.h = -1;
    return out;
  }
  out.a = x[0];
  out.delta = {x[1], x[2]};
  return out;
}

// r = sum lambda r_i with lambda >= 0, sum lambda = 1, sum lambda n_i = 0: the bound that three
// contacts put on an inscribed circle; infinite when they do not hold the centre between them.
double BoundOf(const std::array<Contact, 3>& c, PointUm& delta) {
  std::array<double, 3> lambda{Cross(c[1].n, c[2].n), Cross(c[2].n, c[0].n), Cross(c[0].n, c[1].n)};
  const double sum = lambda[0] + lambda[1] + lambda[2];
  if (std::abs(sum) < 1e-12) return kUnbounded;
  double bound = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    lambda[i] /= sum;
    if (lambda[i] < -1e-9) return kUnbounded;
    bound += lambda[i] * c[i].r;
  }
  // delta: r_i - n_i.delta = bound for the two contacts whose directions differ most.
  const PointUm e1 = c[1].n - c[0].n, e2 = c[2].n - c[0].n;
  const double det = Cross(e1, e2);
  if (std::abs(det) < 1e-12) return kUnbounded;
  const double f1 = c[1].r - c[0].r, f2 = c[2].r - c[0].r;
  delta = {(f1 * e2.y - f2 * e1.y) / det, (e1.x * f2 - e2.x * f1) / det};
  return bound;
}

// Distances and directions of all vertices from the centre; least and greatest distance.
std::pair<double, double> Linearise(PointsUm contour, PointUm centre, std::vector<Contact>& all) {
  all.resize(contour.size());
  double inner = kUnbounded, outer = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointUm d = contour[i] - centre;
    const double r = std::sqrt(Dot(d, d));
    all[i] = {r, r > 0 ? (1 / r) * d : PointUm{1, 0}};
    inner = std::min(inner, r);
    outer = std::max(outer, r);
  }
  return {inner, outer};
}

Circle<FrameUm> CircleOf(PointUm a, PointUm b) { return {0.5 * (a + b), 0.5 * Distance(a, b)}; }

Circle<FrameUm> CircleOf(PointUm a, PointUm b, PointUm c) {
  const PointUm u = b - a, v = c - a;
  const double det = 2 * Cross(u, v);
  if (std::abs(det) < 1e-300) return {a, kUnbounded};
  const double uu = Dot(u, u), vv = Dot(v, v);
  const PointUm d{(v.y * uu - u.y * vv) / det, (u.x * vv - v.x * uu) / det};
  return {a + d, Norm(d)};
}

}  // namespace

Circle<FrameUm> FitArcCircle(PointsUm contour, Circle<FrameUm> start, int iterations) {
  Circle<FrameUm> circle = start;
  const std::size_t n = contour.size();
  for (int round = 0; round < iterations; ++round) {
    std::array<double, 9> m{};
    std::array<double, 3> b{}, x{};
    double previous = Distance(contour[n - 1], contour[0]);
    for (std::size_t i = 0; i < n; ++i) {
      const double next = Distance(contour[i], contour[i + 1 == n ? 0 : i + 1]);
      const double w = previous + next;
      previous = next;
      const PointUm d = contour[i] - circle.centre;
      const double r = std::sqrt(Dot(d, d));
      if (r == 0) continue;
      const double nx = d.x / r, ny = d.y / r, e = r - circle.radius;
      m[0] += w * nx * nx, m[1] += w * nx * ny, m[2] += w * nx;
      m[4] += w * ny * ny, m[5] += w * ny, m[8] += w;
      b[0] += w * nx * e, b[1] += w * ny * e, b[2] += w * e;
    }
    m[3] = m[1], m[6] = m[2], m[7] = m[5];
    if (!Solve3(m, b, x)) break;
    circle.centre = circle.centre + PointUm{x[0], x[1]};
    circle.radius += x[2];
    if (std::abs(x[0]) + std::abs(x[1]) + std::abs(x[2]) < 1e-10 * circle.radius) break;
  }
  return circle;
}

void OrderedHull(PointsUm contour, ContourUm& hull) {
  const std::size_t n = contour.size();
  if (n < 3) {
    hull.assign(contour.begin(), contour.end());
    return;
  }
  const auto left = [](PointUm a, PointUm b, PointUm p) { return Cross(b - a, p - a); };
  const auto at = [&](std::size_t i) { return contour[i < n ? i : i - n]; };
  std::size_t start = 0;  // of three corners that make a triangle
  while (start < n && left(at(start), at(start + 1), at(start + 2)) == 0) ++start;
  hull.clear();
  if (start == n) return;
  // Deque in the middle of a buffer: both ends grow.
  thread_local std::vector<PointUm> deque;
  deque.resize(2 * n + 4);
  std::size_t bottom = n, top = n;
  const PointUm first = at(start), second = at(start + 1), third = at(start + 2);
  const bool counter = left(first, second, third) > 0;
  deque[bottom] = third;
  deque[++top] = counter ? first : second;
  deque[++top] = counter ? second : first;
  deque[++top] = third;
  for (std::size_t k = 3; k < n; ++k) {
    const PointUm p = at(start + k);
    if (left(deque[bottom], deque[bottom + 1], p) > 0 && left(deque[top - 1], deque[top], p) > 0) {
      continue;
    }
    while (top > bottom + 1 && left(deque[top - 1], deque[top], p) <= 0) --top;
    deque[++top] = p;
    while (top > bottom + 1 && left(deque[bottom], deque[bottom + 1], p) <= 0) ++bottom;
    deque[--bottom] = p;
  }
  hull.assign(deque.begin() + static_cast<std::ptrdiff_t>(bottom),
              deque.begin() + static_cast<std::ptrdiff_t>(top));
}

WidthPair HullWidths(PointsUm hull) {
  const std::size_t n = hull.size();
  WidthPair widths;
  if (n < 3) {
    if (n == 2) widths.greatest = Distance(hull[0], hull[1]);
    return widths;
  }
  double least = kUnbounded, greatest = 0;
  std::size_t j = 1;
  for (std::size_t i = 0; i < n; ++i) {
    const PointUm a = hull[i], b = hull[(i + 1) % n], e = b - a;
    while (Cross(e, hull[(j + 1) % n] - a) > Cross(e, hull[j] - a)) j = (j + 1) % n;
    greatest = std::max({greatest, Dot(hull[j] - a, hull[j] - a), Dot(hull[j] - b, hull[j] - b)});
    const double length = Norm(e);
    if (length > 0) least = std::min(least, Cross(e, hull[j] - a) / length);
  }
  widths.least = least;
  widths.greatest = std::sqrt(greatest);
  return widths;
}

ZoneFit FitZone(PointsUm contour, PointUm centre, const Effort& effort, Contacts& contacts) {
  const std::size_t n = contour.size();
  thread_local std::vector<Contact> all;
  ZoneFit best{centre, kUnbounded};
  std::array<std::size_t, 4> reference{0, n / 4, n / 2, 3 * n / 4};
  if (contacts.known) reference = contacts.at;
  for (int round = 0; round <= effort.rounds; ++round) {
    const auto [inner, outer] = Linearise(contour, centre, all);
    if (outer - inner < best.width) best = {centre, outer - inner};
    if (round == effort.rounds) break;
    const auto level_of = [&](const std::array<std::size_t, 4>& at) {
      return LevelOf({all[at[0]], all[at[1]], all[at[2]], all[at[3]]});
    };
    Level level = level_of(reference);
    if (level.h < 0) {
      reference = {0, n / 4, n / 2, 3 * n / 4};
      level = level_of(reference);
    }
    for (int exchange = 0; exchange < kMostExchanges && level.h >= 0; ++exchange) {
      double most = -1;
      std::size_t worst = 0;
      for (std::size_t i = 0; i < n; ++i) {
        const double e = std::abs(all[i].r - level.a - Dot(all[i].n, level.delta));
        if (e > most) most = e, worst = i;
      }
      if (most <= level.h + effort.tolerance) break;
      // The minimax error of five points is the greatest levelled error of their fours.
      Level next;
      std::array<std::size_t, 4> chosen = reference;
      for (std::size_t leave = 0; leave < 4; ++leave) {
        std::array<std::size_t, 4> trial = reference;
        trial[leave] = worst;
        const Level candidate = level_of(trial);
        if (candidate.h > next.h) next = candidate, chosen = trial;
      }
      if (next.h <= level.h) break;
      level = next;
      reference = chosen;
    }
    if (level.h < 0) break;
    centre = centre + level.delta;
    // What the linearised radii leave out.
    if (Dot(level.delta, level.delta) < 2 * inner * effort.tolerance) {
      if (2 * level.h < best.width) best = {centre, 2 * level.h};
      break;
    }
  }
  contacts = {reference, true};
  return best;
}

Circle<FrameUm> FitEnclosing(PointsUm hull, PointUm centre) {
  std::vector<PointUm> support;
  Circle<FrameUm> circle{centre, 0};
  for (int exchange = 0; exchange < kMostExchanges; ++exchange) {
    double most = -1;
    PointUm farthest;
    for (const PointUm p : hull) {
      const PointUm d = p - circle.centre;
      const double square = Dot(d, d);
      if (square > most) most = square, farthest = p;
    }
    if (std::sqrt(most) <= circle.radius + kEnclosingToleranceUm) break;
    support.push_back(farthest);
    // Smallest circle of at most four points: pairs, then triples, that hold all of them.
    Circle<FrameUm> smallest{farthest, support.size() == 1 ? 0 : kUnbounded};
    std::vector<PointUm> kept{farthest};
    const auto consider = [&](Circle<FrameUm> trial, std::vector<PointUm> points) {
      if (!(trial.radius < smallest.radius)) return;
      for (const PointUm p : support) {
        if (Distance(p, trial.centre) > trial.radius * (1 + 1e-12) + 1e-12) return;
      }
      smallest = trial;
      kept = std::move(points);
    };
    for (std::size_t i = 0; i < support.size(); ++i) {
      for (std::size_t j = i + 1; j < support.size(); ++j) {
        consider(CircleOf(support[i], support[j]), {support[i], support[j]});
        for (std::size_t k = j + 1; k < support.size(); ++k) {
          consider(CircleOf(support[i], support[j], support[k]),
                   {support[i], support[j], support[k]});
        }
      }
    }
    if (!std::isfinite(smallest.radius)) break;
    circle = smallest;
    support = kept;
  }
  double most = 0;
  for (const PointUm p : hull) most = std::max(most, Distance(p, circle.centre));
  circle.radius = most;
  return circle;
}

Circle<FrameUm> FitInscribed(PointsUm contour, PointUm centre, const Effort& effort,
                             Contacts& contacts) {
  const std::size_t n = contour.size();
  thread_local std::vector<Contact> all;
  Circle<FrameUm> best{centre, 0};
  // Three far walls behind the contour's own contacts, which any real contact replaces.
  constexpr double kFar = 1e7, kHalfRoot3 = 0.86602540378443865;
  const std::array<std::size_t, 3> far{n, n + 1, n + 2};
  std::array<std::size_t, 3> reference = far;
  if (contacts.known) reference = {contacts.at[0], contacts.at[1], contacts.at[2]};
  for (int round = 0; round <= effort.rounds; ++round) {
    const double clear = Linearise(contour, centre, all).first;
    all.push_back({kFar, {1, 0}});
    all.push_back({kFar, {-0.5, kHalfRoot3}});
    all.push_back({kFar, {-0.5, -kHalfRoot3}});
    if (clear > best.radius) best = {centre, clear};
    if (round == effort.rounds) break;
    PointUm delta;
    const auto bound_of = [&](const std::array<std::size_t, 3>& at, PointUm& step) {
      return BoundOf({all[at[0]], all[at[1]], all[at[2]]}, step);
    };
    double bound = bound_of(reference, delta);
    if (!std::isfinite(bound)) {
      reference = far;
      bound = bound_of(reference, delta);
    }
    for (int exchange = 0; exchange < kMostExchanges; ++exchange) {
      double least = kUnbounded;
      std::size_t worst = 0;
      for (std::size_t i = 0; i < n; ++i) {
        const double r = all[i].r - Dot(all[i].n, delta);
        if (r < least) least = r, worst = i;
      }
      if (least >= bound - effort.tolerance) break;
      double next = kUnbounded;
      PointUm next_delta;
      std::array<std::size_t, 3> chosen = reference;
      for (std::size_t leave = 0; leave < 3; ++leave) {
        std::array<std::size_t, 3> trial = reference;
        trial[leave] = worst;
        PointUm trial_delta;
        const double candidate = bound_of(trial, trial_delta);
        if (candidate < next) next = candidate, next_delta = trial_delta, chosen = trial;
      }
      if (!(next < bound)) break;
      bound = next;
      delta = next_delta;
      reference = chosen;
    }
    // A long step leaves the range where distances are linear (slots, wedges): go part of the way.
    const double step = Norm(delta), reach = 0.15 * clear;
    if (step * step < 2 * clear * effort.tolerance) {
      if (bound > best.radius) best = {centre + delta, bound};
      break;
    }
    centre = centre + std::min(1.0, reach / step) * delta;
  }
  contacts.at = {reference[0], reference[1], reference[2], 0};
  contacts.known = std::max({reference[0], reference[1], reference[2]}) < n;
  return best;
}

}  // namespace cutface::measure
