#include "phantom/shapes.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <polyclipping/clipper.hpp>
#include <queue>

namespace cutface::phantom {
namespace {

// Clipper works on integers; 1e-6 px keeps 1600 px far from its 2^62 range.
constexpr double kClipperPerPx = 1e6;

double SquaredToSegment(PointPx p, PointPx a, PointPx b, PointPx& nearest) {
  const PointPx ab = b - a;
  const double length2 = Dot(ab, ab);
  double t = length2 > 0 ? Dot(p - a, ab) / length2 : 0.0;
  t = std::clamp(t, 0.0, 1.0);
  nearest = a + t * ab;
  const PointPx d = p - nearest;
  return Dot(d, d);
}

bool SegmentsCross(PointPx a, PointPx b, PointPx c, PointPx d) {
  const double o1 = Cross(b - a, c - a), o2 = Cross(b - a, d - a);
  const double o3 = Cross(d - c, a - c), o4 = Cross(d - c, b - c);
  return ((o1 > 0) != (o2 > 0)) && ((o3 > 0) != (o4 > 0));
}

// Blocks of consecutive edges with their boxes: cuts the pairs that must be looked at.
struct Block {
  std::size_t begin = 0, end = 0;
  PointPx least, greatest;
};

std::vector<Block> BlocksOf(const ContourPx& contour) {
  constexpr std::size_t kEdges = 16;
  std::vector<Block> blocks;
  for (std::size_t i = 0; i < contour.size(); i += kEdges) {
    Block block{i, std::min(i + kEdges, contour.size()), contour[i], contour[i]};
    for (std::size_t k = i; k <= block.end; ++k) {
      const PointPx p = contour[k % contour.size()];
      block.least = {std::min(block.least.x, p.x), std::min(block.least.y, p.y)};
      block.greatest = {std::max(block.greatest.x, p.x), std::max(block.greatest.y, p.y)};
    }
    blocks.push_back(block);
  }
  return blocks;
}

// Least distance to a contour, asked for many points: whole blocks that cannot hold it are skipped.
class DistanceTo {
 public:
  explicit DistanceTo(const ContourPx& contour) : contour_(contour), blocks_(BlocksOf(contour)) {}

  double operator()(PointPx p) const {
    double best = std::numeric_limits<double>::infinity();
    std::size_t start = 0;  // the block whose box is nearest comes first
    double nearest = best;
    for (std::size_t k = 0; k < blocks_.size(); ++k) {
      const double d = ToBox(p, blocks_[k]);
      if (d < nearest) {
        nearest = d;
        start = k;
      }
    }
    for (std::size_t k = 0; k < blocks_.size(); ++k) {
      const Block& block = blocks_[(start + k) % blocks_.size()];
      if (ToBox(p, block) >= best) continue;
      for (std::size_t i = block.begin; i < block.end; ++i) {
        PointPx near;
        best = std::min(
            best, SquaredToSegment(p, contour_[i], contour_[(i + 1) % contour_.size()], near));
      }
    }
    return std::sqrt(best);
  }

 private:
  static double ToBox(PointPx p, const Block& b) {
    const double dx = std::max({0.0, b.least.x - p.x, p.x - b.greatest.x});
    const double dy = std::max({0.0, b.least.y - p.y, p.y - b.greatest.y});
    return dx * dx + dy * dy;
  }
  const ContourPx& contour_;
  std::vector<Block> blocks_;
};

double BoxGap(const Block& a, const Block& b) {
  const double dx = std::max({0.0, a.least.x - b.greatest.x, b.least.x - a.greatest.x});
  const double dy = std::max({0.0, a.least.y - b.greatest.y, b.least.y - a.greatest.y});
  return dx * dx + dy * dy;
}

void CompareEdges(PointPx a, PointPx b, PointPx c, PointPx d, double& best, Gap& gap) {
  if (SegmentsCross(a, b, c, d)) {
    best = 0;
    gap = {0, a, a};
    return;
  }
  const auto keep = [&](double squared, PointPx on_first, PointPx on_second) {
    if (squared < best) {
      best = squared;
      gap = {0, on_first, on_second};
    }
  };
  PointPx near;
  double s = SquaredToSegment(a, c, d, near);
  keep(s, a, near);
  s = SquaredToSegment(b, c, d, near);
  keep(s, b, near);
  s = SquaredToSegment(c, a, b, near);
  keep(s, near, c);
  s = SquaredToSegment(d, a, b, near);
  keep(s, near, d);
}

std::vector<PointPx> HullOf(const ContourPx& contour) {
  ContourPx points = contour;
  std::sort(points.begin(), points.end(),
            [](PointPx a, PointPx b) { return a.x < b.x || (a.x == b.x && a.y < b.y); });
  std::vector<PointPx> hull;
  for (int pass = 0; pass < 2; ++pass) {
    const std::size_t start = hull.size();
    for (const PointPx p : points) {
      while (hull.size() >= start + 2 &&
             Cross(hull.back() - hull[hull.size() - 2], p - hull.back()) <= 0) {
        hull.pop_back();
      }
      hull.push_back(p);
    }
    hull.pop_back();
    std::reverse(points.begin(), points.end());
  }
  return hull;
}

}  // namespace

Affine Compose(const Affine& o, const Affine& i) {
  return {o.a * i.a + o.b * i.c, o.a * i.b + o.b * i.d,          o.c * i.a + o.d * i.c,
          o.c * i.b + o.d * i.d, o.a * i.tx + o.b * i.ty + o.tx, o.c * i.tx + o.d * i.ty + o.ty};
}

Affine RotationMap(double radians) {
  const double c = std::cos(radians), s = std::sin(radians);
  return {c, -s, s, c, 0, 0};
}

Affine StretchMap(double factor, double radians) {
  const Affine stretch{factor, 0, 0, 1, 0, 0};
  return Compose(RotationMap(radians), Compose(stretch, RotationMap(-radians)));
}

ContourPx Mapped(const ContourPx& contour, const Affine& map) {
  ContourPx out;
  out.reserve(contour.size());
  for (const PointPx p : contour) out.push_back(map(p));
  return out;
}

Affine About(PointPx centre, const Affine& map) {
  const Affine away{1, 0, 0, 1, -centre.x, -centre.y}, back{1, 0, 0, 1, centre.x, centre.y};
  return Compose(back, Compose(map, away));
}

double AreaOf(const ContourPx& contour) {
  double twice = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    twice += Cross(contour[i] - contour[0], contour[(i + 1) % contour.size()] - contour[0]);
  }
  return 0.5 * twice;
}

double LengthOf(const ContourPx& contour) {
  double length = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    length += Distance(contour[i], contour[(i + 1) % contour.size()]);
  }
  return length;
}

PointPx CentroidOf(const ContourPx& contour) {
  const PointPx origin = contour[0];
  double twice = 0;
  PointPx sum;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i] - origin, b = contour[(i + 1) % contour.size()] - origin;
    const double cross = Cross(a, b);
    twice += cross;
    sum = sum + cross * (a + b);
  }
  return origin + (1.0 / (3.0 * twice)) * sum;
}

bool Inside(const ContourPx& contour, PointPx p) {
  bool inside = false;
  for (std::size_t i = 0, j = contour.size() - 1; i < contour.size(); j = i++) {
    const PointPx a = contour[i], b = contour[j];
    if ((a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x) {
      inside = !inside;
    }
  }
  return inside;
}

std::pair<PointPx, PointPx> BoundsOf(const ContourPx& contour) {
  PointPx least = contour[0], greatest = contour[0];
  for (const PointPx p : contour) {
    least = {std::min(least.x, p.x), std::min(least.y, p.y)};
    greatest = {std::max(greatest.x, p.x), std::max(greatest.y, p.y)};
  }
  return {least, greatest};
}

PointPx OutwardNormalAt(const ContourPx& contour, std::size_t vertex) {
  const std::size_t n = contour.size();
  const PointPx t = contour[(vertex + 1) % n] - contour[(vertex + n - 1) % n];
  const double length = std::max(Norm(t), 1e-300);
  // Contours here turn +x towards +y, so the outside lies at (t.y, -t.x).
  return {t.y / length, -t.x / length};
}

ContourPx EqualSteps(const ContourPx& contour, std::size_t count) {
  const std::size_t n = contour.size();
  std::vector<double> at(n + 1, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    at[i + 1] = at[i] + Distance(contour[i], contour[(i + 1) % n]);
  }
  ContourPx out;
  out.reserve(count);
  std::size_t edge = 0;
  for (std::size_t k = 0; k < count; ++k) {
    const double s = at[n] * static_cast<double>(k) / static_cast<double>(count);
    while (edge + 1 < n && at[edge + 1] <= s) ++edge;
    const double span = at[edge + 1] - at[edge];
    const double t = span > 0 ? (s - at[edge]) / span : 0.0;
    out.push_back(contour[edge] + t * (contour[(edge + 1) % n] - contour[edge]));
  }
  return out;
}

ContourPx ArcSmoothed(const ContourPx& contour, double sigma) {
  const std::size_t n = contour.size();
  const double step = LengthOf(contour) / static_cast<double>(n);
  const std::size_t most = n / 2 - 1;
  const auto reach =
      static_cast<std::ptrdiff_t>(std::min(std::ceil(4 * sigma / step), static_cast<double>(most)));
  std::vector<double> weight;
  double sum = 0;
  for (std::ptrdiff_t k = -reach; k <= reach; ++k) {
    const double u = static_cast<double>(k) * step / std::max(sigma, 1e-9);
    weight.push_back(std::exp(-0.5 * u * u));
    sum += weight.back();
  }
  ContourPx out(n);
  const auto count = static_cast<std::ptrdiff_t>(n);
  for (std::ptrdiff_t i = 0; i < count; ++i) {
    PointPx mean;
    for (std::ptrdiff_t k = -reach; k <= reach; ++k) {
      const std::ptrdiff_t j = ((i + k) % count + count) % count;
      mean = mean + (weight[static_cast<std::size_t>(k + reach)] / sum) *
                        contour[static_cast<std::size_t>(j)];
    }
    out[static_cast<std::size_t>(i)] = mean;
  }
  return out;
}

ContourPx Rounded(const ContourPx& contour) {
  ContourPx out;
  out.reserve(contour.size());
  for (const PointPx p : contour) {
    const PointPx r{std::round(p.x * 1000) / 1000, std::round(p.y * 1000) / 1000};
    if (out.empty() || !(r == out.back())) out.push_back(r);
  }
  if (out.size() > 1 && out.front() == out.back()) out.pop_back();
  return out;
}

Gap LeastGap(const ContourPx& first, const ContourPx& second) {
  const std::vector<Block> a = BlocksOf(first), b = BlocksOf(second);
  // Some distance between vertices is a first upper bound; blocks farther apart need no look.
  double best = std::numeric_limits<double>::infinity();
  for (const Block& p : a) {
    for (const Block& q : b) {
      const PointPx d = first[p.begin] - second[q.begin];
      best = std::min(best, Dot(d, d));
    }
  }
  best *= 1 + 1e-9;
  std::vector<std::pair<double, std::pair<std::size_t, std::size_t>>> pairs;
  for (std::size_t i = 0; i < a.size(); ++i) {
    for (std::size_t j = 0; j < b.size(); ++j) {
      const double least = BoxGap(a[i], b[j]);
      if (least < best) pairs.push_back({least, {i, j}});
    }
  }
  std::sort(pairs.begin(), pairs.end());
  Gap gap;
  for (const auto& [least, ij] : pairs) {
    if (least >= best) break;
    for (std::size_t i = a[ij.first].begin; i < a[ij.first].end; ++i) {
      const PointPx p = first[i], q = first[(i + 1) % first.size()];
      const Block edge{
          0, 0, {std::min(p.x, q.x), std::min(p.y, q.y)}, {std::max(p.x, q.x), std::max(p.y, q.y)}};
      if (BoxGap(edge, b[ij.second]) >= best) continue;
      for (std::size_t j = b[ij.second].begin; j < b[ij.second].end; ++j) {
        CompareEdges(p, q, second[j], second[(j + 1) % second.size()], best, gap);
      }
    }
  }
  gap.distance = std::sqrt(best);
  return gap;
}

Gap LeastGap(PointPx p, const ContourPx& contour) {
  double best = std::numeric_limits<double>::infinity();
  Gap gap{0, p, p};
  for (std::size_t i = 0; i < contour.size(); ++i) {
    PointPx near;
    const double squared = SquaredToSegment(p, contour[i], contour[(i + 1) % contour.size()], near);
    if (squared < best) {
      best = squared;
      gap.on_second = near;
    }
  }
  gap.distance = std::sqrt(best);
  return gap;
}

WidthPair WidthsOf(const ContourPx& contour) {
  // Rotating calipers: the least width has one side on a hull edge, the greatest lies between two
  // vertices that face each other. `j` is the vertex farthest from edge i.
  const std::vector<PointPx> hull = HullOf(contour);
  const std::size_t n = hull.size();
  WidthPair widths{std::numeric_limits<double>::infinity(), 0};
  std::size_t j = 1;
  for (std::size_t i = 0; i < n; ++i) {
    const PointPx a = hull[i], b = hull[(i + 1) % n];
    const auto height = [&](std::size_t k) { return std::abs(Cross(b - a, hull[k % n] - a)); };
    const auto reach = [&](std::size_t k) {
      widths.greatest =
          std::max({widths.greatest, Distance(a, hull[k % n]), Distance(b, hull[k % n])});
    };
    reach(j);
    while (height(j + 1) > height(j)) reach(++j);
    reach(j + 1);  // the next one is as far when two hull edges are parallel
    widths.least = std::min(widths.least, height(j) / Distance(a, b));
  }
  return widths;
}

Disc LeastSquaresDisc(const ContourPx& contour) {
  // The integral over the arc by Simpson's rule: both ends and the middle of each edge.
  ContourPx at;
  std::vector<double> weight;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i], b = contour[(i + 1) % contour.size()];
    const double length = Distance(a, b);
    at.insert(at.end(), {a, 0.5 * (a + b), b});
    weight.insert(weight.end(), {length / 6, 4 * length / 6, length / 6});
  }
  Disc disc{CentroidOf(contour), std::sqrt(std::abs(AreaOf(contour)) / std::numbers::pi)};
  for (int round = 0; round < 300; ++round) {
    // Gauss-Newton on sum w (|p - c| - r)^2.
    double m[3][4] = {}, squares = 0, arc = 0;
    for (std::size_t i = 0; i < at.size(); ++i) {
      const PointPx d = at[i] - disc.centre;
      const double rho = std::max(Norm(d), 1e-12);
      const double row[3] = {-d.x / rho, -d.y / rho, -1.0};
      const double residual = rho - disc.radius;
      squares += weight[i] * residual * residual;
      arc += weight[i];
      for (int a = 0; a < 3; ++a) {
        for (int b = 0; b < 3; ++b) m[a][b] += weight[i] * row[a] * row[b];
        m[a][3] -= weight[i] * row[a] * residual;
      }
    }
    for (int a = 0; a < 3; ++a) {
      for (int b = a + 1; b < 3; ++b) {
        const double f = m[b][a] / m[a][a];
        for (int k = a; k < 4; ++k) m[b][k] -= f * m[a][k];
      }
    }
    const double dr = m[2][3] / m[2][2];
    const double dy = (m[1][3] - m[1][2] * dr) / m[1][1];
    const double dx = (m[0][3] - m[0][1] * dy - m[0][2] * dr) / m[0][0];
    disc.centre = disc.centre + PointPx{dx, dy};
    disc.radius += dr;
    disc.rms = std::sqrt(squares / arc);
    if (std::hypot(dx, dy, dr) < 1e-10) break;
  }
  return disc;
}

Disc InscribedDisc(const ContourPx& contour) {
  // Branch and bound over squares: a square's best possible radius is the distance at its centre
  // plus half its diagonal.
  struct Cell {
    PointPx centre;
    double half, distance, bound;
    bool operator<(const Cell& other) const { return bound < other.bound; }
  };
  constexpr double kTolerance =
      5e-4;  // px of the radius; finer costs much where sides are parallel
  const DistanceTo to_edge(contour);
  const auto make = [&](PointPx centre, double half) {
    const double d = to_edge(centre);
    const double distance = Inside(contour, centre) ? d : -d;
    return Cell{centre, half, distance, distance + half * std::numbers::sqrt2};
  };
  const auto [least, greatest] = BoundsOf(contour);
  const double half = 0.25 * std::max(greatest.x - least.x, greatest.y - least.y);
  std::priority_queue<Cell> open;
  const PointPx middle{0.5 * (least.x + greatest.x), 0.5 * (least.y + greatest.y)};
  Cell best = make(CentroidOf(contour), 0);
  for (const double sx : {-1.0, 1.0}) {
    for (const double sy : {-1.0, 1.0})
      open.push(make(middle + PointPx{sx * half, sy * half}, half));
  }
  while (!open.empty() && open.top().bound > best.distance + kTolerance) {
    const Cell cell = open.top();
    open.pop();
    if (cell.distance > best.distance) best = cell;
    const double quarter = 0.5 * cell.half;
    for (const double sx : {-1.0, 1.0}) {
      for (const double sy : {-1.0, 1.0}) {
        const Cell part = make(cell.centre + PointPx{sx * quarter, sy * quarter}, quarter);
        if (part.bound > best.distance + kTolerance) open.push(part);
      }
    }
  }
  return {best.centre, best.distance, 0};
}

ContourPx UnionOf(const std::vector<ContourPx>& parts) {
  ClipperLib::Clipper clipper;
  for (const ContourPx& part : parts) {
    ClipperLib::Path path;
    for (const PointPx p : part) {
      path.push_back({static_cast<ClipperLib::cInt>(std::llround(p.x * kClipperPerPx)),
                      static_cast<ClipperLib::cInt>(std::llround(p.y * kClipperPerPx))});
    }
    if (!ClipperLib::Orientation(path)) ClipperLib::ReversePath(path);
    clipper.AddPath(path, ClipperLib::ptSubject, true);
  }
  ClipperLib::Paths solution;
  clipper.Execute(ClipperLib::ctUnion, solution, ClipperLib::pftNonZero, ClipperLib::pftNonZero);
  ContourPx best;
  double best_area = 0;
  for (const ClipperLib::Path& path : solution) {
    ContourPx contour;
    for (const ClipperLib::IntPoint& p : path) {
      contour.push_back(
          {static_cast<double>(p.X) / kClipperPerPx, static_cast<double>(p.Y) / kClipperPerPx});
    }
    const double area = AreaOf(contour);
    if (area > best_area) {
      best_area = area;
      best = std::move(contour);
    }
  }
  return best;
}

}  // namespace cutface::phantom
