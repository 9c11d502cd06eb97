#include "elastic/mesh.h"

#include <fmt/format.h>

#include <algorithm>
#include <boost/polygon/voronoi.hpp>
#include <cmath>
#include <numbers>
#include <set>

namespace cutface::elastic {
namespace {

constexpr double kGrade = 0.35;        // by which elements grow per distance
constexpr double kPerRadius = 0.1;     // an edge against the radius of curvature
constexpr double kFinestShare = 4e-4;  // of the extent: no element is wanted smaller
constexpr int kMostHalvings = 12;
constexpr double kCornerTurn = 0.4;  // rad: a vertex that turns more stays a corner
constexpr std::size_t kMostSources = 2500;

double Turn(PointUm a, PointUm b, PointUm c) {
  return std::abs(std::atan2(Cross(b - a, c - b), Dot(b - a, c - b)));
}

// How large elements may be: a cone over every place that asks for small ones.
class SizeField {
 public:
  struct Source {
    PointUm at;
    double size = 0;
  };
  void Add(PointUm at, double size) { sources_.push_back({at, size}); }
  void Prune(double most) {
    most_ = most;
    while (sources_.size() > kMostSources) {  // the smaller of two neighbours
      std::vector<Source> half;
      for (std::size_t i = 0; i < sources_.size(); i += 2) {
        const Source& a = sources_[i];
        const Source& b = sources_[std::min(i + 1, sources_.size() - 1)];
        half.push_back(a.size <= b.size ? a : b);
      }
      sources_ = std::move(half);
    }
    std::sort(sources_.begin(), sources_.end(),
              [](const Source& a, const Source& b) { return a.size < b.size; });
    std::vector<Source> kept;
    for (const Source& s : sources_) {
      const bool ruled =
          s.size >= most_ || std::any_of(kept.begin(), kept.end(), [&](const Source& k) {
            return k.size + 0.9 * kGrade * Distance(k.at, s.at) <= s.size;
          });
      if (!ruled) kept.push_back(s);
    }
    sources_ = std::move(kept);
  }
  double At(PointUm p) const {
    double size = most_;
    for (const Source& s : sources_) {
      if (s.size >= size) break;  // sorted: none that follows can ask for less
      const double room = (size - s.size) / kGrade;
      const PointUm d = p - s.at;
      const double square = Dot(d, d);
      if (square < room * room) size = s.size + kGrade * std::sqrt(square);
    }
    return coarsen_ * size;
  }
  void Coarsen(double factor) { coarsen_ *= factor; }

 private:
  std::vector<Source> sources_;
  double most_ = 0, coarsen_ = 1;
};

struct Loop {
  ContourUm points;
  std::vector<int> source;  // edge of the contour that the edge after each point lies on
};

// Points along a contour as far apart as the sizes say; corners stay.
Loop SampleLoop(const ContourUm& contour, const SizeField& field) {
  const std::size_t n = contour.size();
  Loop loop;
  std::size_t start = 0;
  double most = -1;
  for (std::size_t i = 0; i < n; ++i) {
    const double turn = Turn(contour[(i + n - 1) % n], contour[i], contour[(i + 1) % n]);
    if (turn > most) most = turn, start = i;
  }
  // From corner to corner, each stretch cut into steps of equal share of its sizes.
  std::vector<std::size_t> stops{0};
  for (std::size_t k = 1; k < n; ++k) {
    const std::size_t i = (start + k) % n;
    if (Turn(contour[(i + n - 1) % n], contour[i], contour[(i + 1) % n]) > kCornerTurn)
      stops.push_back(k);
  }
  stops.push_back(n);
  const auto at = [&](std::size_t k) { return contour[(start + k) % n]; };
  for (std::size_t s = 0; s + 1 < stops.size(); ++s) {
    // Measure of the stretch in elements, by small steps.
    struct Bit {
      PointUm from, to;
      int source;
      double share;
    };
    std::vector<Bit> bits;
    double total = 0;
    for (std::size_t k = stops[s]; k < stops[s + 1]; ++k) {
      const PointUm a = at(k), b = at(k + 1);
      const double length = Distance(a, b);
      const double size = std::min(field.At(a), field.At(b));
      const int parts = std::clamp(static_cast<int>(std::ceil(2 * length / size)), 1, 4000);
      for (int j = 0; j < parts; ++j) {
        const PointUm p = a + (1.0 * j / parts) * (b - a),
                      q = a + (1.0 * (j + 1) / parts) * (b - a);
        const double share = Distance(p, q) / field.At(0.5 * (p + q));
        bits.push_back({p, q, static_cast<int>((start + k) % n), share});
        total += share;
      }
    }
    const bool closed = stops.size() == 2;
    const int steps = std::max(closed ? 8 : 1, static_cast<int>(std::ceil(total)));
    double passed = 0;
    int next = 0;
    for (const Bit& bit : bits) {
      while (next < steps && passed + bit.share >= total * next / steps) {
        const double t = bit.share > 0 ? (total * next / steps - passed) / bit.share : 0;
        loop.points.push_back(bit.from + std::clamp(t, 0.0, 1.0) * (bit.to - bit.from));
        loop.source.push_back(bit.source);
        ++next;
      }
      passed += bit.share;
    }
  }
  return loop;
}

std::vector<std::array<int, 3>> Delaunay(const ContourUm& points) {
  const Box<FrameUm> box = BoundingBox(points);
  const double extent = std::max(box.greatest.x - box.least.x, box.greatest.y - box.least.y);
  const double scale = 1e9 / std::max(extent, 1e-9);
  std::vector<boost::polygon::point_data<int>> sites;
  sites.reserve(points.size());
  for (const PointUm p : points) {
    sites.emplace_back(static_cast<int>(std::lround((p.x - box.least.x) * scale - 5e8)),
                       static_cast<int>(std::lround((p.y - box.least.y) * scale - 5e8)));
  }
  boost::polygon::voronoi_diagram<double> diagram;
  boost::polygon::construct_voronoi(sites.begin(), sites.end(), &diagram);
  std::vector<std::array<int, 3>> triangles;
  std::vector<int> around;
  for (const auto& vertex : diagram.vertices()) {
    around.clear();
    const auto* edge = vertex.incident_edge();
    do {
      around.push_back(static_cast<int>(edge->cell()->source_index()));
      edge = edge->rot_next();
    } while (edge != vertex.incident_edge());
    for (std::size_t k = 2; k < around.size(); ++k) {
      std::array<int, 3> t = {around[0], around[k - 1], around[k]};
      const auto p = [&](int i) {
        return points[static_cast<std::size_t>(t[static_cast<std::size_t>(i)])];
      };
      const double cross = Cross(p(1) - p(0), p(2) - p(0));
      if (cross == 0) continue;
      if (cross < 0) std::swap(t[1], t[2]);
      triangles.push_back(t);
    }
  }
  return triangles;
}

std::pair<int, int> Ordered(int a, int b) { return {std::min(a, b), std::max(a, b)}; }

class Builder {
 public:
  explicit Builder(const ElasticProblem& problem) : problem_(problem) {
    contours_.push_back(&problem.outer);
    for (const auto& hole : problem.holes) contours_.push_back(&hole.contour);
    for (const auto& region : problem.regions) contours_.push_back(&region.contour);
  }

  Result<Mesh> Build() {
    const Box<FrameUm> box = BoundingBox(problem_.outer);
    extent_ = std::max(box.greatest.x - box.least.x, box.greatest.y - box.least.y);
    if (auto status = SetSizes(); !status) return tl::unexpected(status.error());
    for (int attempt = 0; attempt < 12; ++attempt) {
      SampleAll();
      Fill(box);
      if (static_cast<int>(points_.size()) <= problem_.most_nodes) break;
      field_.Coarsen(1.2);
    }
    if (auto status = Conform(); !status) return tl::unexpected(status.error());
    for (int round = 0; round < 3; ++round) {
      Smooth();
      if (auto status = Conform(); !status) return tl::unexpected(status.error());
    }
    return Classify();
  }

 private:
  std::size_t holes() const { return problem_.holes.size(); }

  // Sizes that ligaments and curvature ask for, at every vertex.
  Status SetSizes() {
    std::vector<ContourIndex<FrameUm>> index;
    for (const ContourUm* c : contours_) {
      if (c->size() < 3) return Fail(Code::kInvalidContour, "a contour has fewer than 3 vertices");
      index.emplace_back(std::span<const PointUm>(*c));
    }
    const double most = problem_.coarsest * extent_, finest = kFinestShare * extent_;
    for (std::size_t c = 0; c < contours_.size(); ++c) {
      const ContourUm& contour = *contours_[c];
      const std::size_t n = contour.size();
      std::vector<double> size(n, most);
      for (std::size_t other = 0; other < contours_.size(); ++other) {
        if (other == c) continue;
        const auto nearest = index[other].NearestToEach(std::span<const PointUm>(contour));
        for (std::size_t i = 0; i < n; ++i) {
          const double gap = nearest[i].distance;
          const bool solid = c <= holes() && other <= holes();
          if (solid && gap < 0.2 * finest)
            return Fail(Code::kInvalidContour,
                        fmt::format("two edges come within {:.2g} um of one another: there is no "
                                    "solid to compute",
                                    gap));
          size[i] = std::min(size[i], gap / problem_.layers);
        }
      }
      // Curvature over a window of some finest edges.
      const double reach = 6 * finest;
      for (std::size_t i = 0; i < n; ++i) {
        std::size_t before = i, after = i;
        double back = 0, on = 0;
        while (back < reach && (before + n - i) % n != 1) {
          const std::size_t next = (before + n - 1) % n;
          back += Distance(contour[before], contour[next]);
          before = next;
        }
        while (on < reach && (after + 1) % n != before) {
          const std::size_t next = (after + 1) % n;
          on += Distance(contour[after], contour[next]);
          after = next;
        }
        const double turn = Turn(contour[before], contour[i], contour[after]);
        if (turn > 1e-9) size[i] = std::min(size[i], kPerRadius * 0.5 * (back + on) / turn);
        field_.Add(contour[i], std::max(size[i], finest));
      }
    }
    field_.Prune(most);
    return {};
  }

  void SampleAll() {
    points_.clear();
    loops_.clear();
    sources_.clear();
    for (const ContourUm* contour : contours_) {
      Loop loop = SampleLoop(*contour, field_);
      std::vector<int> numbers;
      for (const PointUm p : loop.points) {
        numbers.push_back(static_cast<int>(points_.size()));
        points_.push_back(p);
      }
      loops_.push_back(std::move(numbers));
      sources_.push_back(std::move(loop.source));
    }
    on_contours_ = points_.size();
  }

  ContourUm LoopPoints(std::size_t c) const {
    ContourUm loop;
    for (int i : loops_[c]) loop.push_back(points_[static_cast<std::size_t>(i)]);
    return loop;
  }

  // Quadtree cells no larger than wanted; their centres where they lie clear of every contour.
  void Fill(const Box<FrameUm>& box) {
    std::vector<ContourUm> loops;
    for (std::size_t c = 0; c < contours_.size(); ++c) loops.push_back(LoopPoints(c));
    std::vector<ContourIndex<FrameUm>> index;
    for (const ContourUm& loop : loops) index.emplace_back(std::span<const PointUm>(loop));
    const auto cell = [&](auto&& self, PointUm centre, double edge) -> void {
      if (static_cast<int>(points_.size()) > 2 * problem_.most_nodes) return;
      const double wanted = field_.At(centre);
      if (edge > wanted) {
        const double q = edge / 4;
        for (const PointUm d : {PointUm{-q, -q}, PointUm{q, -q}, PointUm{-q, q}, PointUm{q, q}})
          self(self, centre + d, edge / 2);
        return;
      }
      const double clear = 0.55 * wanted;
      for (std::size_t c = 0; c < index.size(); ++c) {
        const double signed_distance = index[c].SignedDistance(centre, 2 * wanted);
        const bool wrong_side = c == 0         ? signed_distance > -clear
                                : c <= holes() ? signed_distance < clear
                                               : std::abs(signed_distance) < clear;
        if (wrong_side) return;
      }
      points_.push_back(centre);
    };
    // A little off, so that no row of cells lines up with a straight drawn edge.
    const PointUm middle =
        0.5 * (box.least + box.greatest) + PointUm{0.0137 * extent_, 0.0071 * extent_};
    cell(cell, middle, 1.1 * extent_);
  }

  // Halves contour edges until the triangulation holds all of them.
  Status Conform() {
    for (int halving = 0; halving < kMostHalvings; ++halving) {
      triangles_ = Delaunay(points_);
      std::set<std::pair<int, int>> held;
      for (const auto& t : triangles_) {
        for (std::size_t k = 0; k < 3; ++k) held.insert(Ordered(t[k], t[(k + 1) % 3]));
      }
      bool all = true;
      for (std::size_t c = 0; c < loops_.size(); ++c) {
        std::vector<int> loop, source;
        for (std::size_t i = 0; i < loops_[c].size(); ++i) {
          const int a = loops_[c][i], b = loops_[c][(i + 1) % loops_[c].size()];
          loop.push_back(a);
          source.push_back(sources_[c][i]);
          if (held.count(Ordered(a, b)) > 0) continue;
          all = false;
          loop.push_back(static_cast<int>(points_.size()));
          source.push_back(sources_[c][i]);
          points_.push_back(
              0.5 * (points_[static_cast<std::size_t>(a)] + points_[static_cast<std::size_t>(b)]));
        }
        loops_[c] = std::move(loop);
        sources_[c] = std::move(source);
      }
      if (all) return {};
    }
    return Fail(Code::kInvalidContour, "the contours could not be meshed: do two of them cross?");
  }

  // Inner points to the middle of their neighbours.
  void Smooth() {
    std::vector<char> still(points_.size(), 0);
    for (const auto& loop : loops_) {
      for (int i : loop) still[static_cast<std::size_t>(i)] = 1;
    }
    std::vector<PointUm> sum(points_.size());
    std::vector<int> count(points_.size(), 0);
    for (const auto& t : triangles_) {
      for (std::size_t k = 0; k < 3; ++k) {
        const auto a = static_cast<std::size_t>(t[k]), b = static_cast<std::size_t>(t[(k + 1) % 3]);
        sum[a] = sum[a] + points_[b];
        sum[b] = sum[b] + points_[a];
        ++count[a];
        ++count[b];
      }
    }
    for (std::size_t i = 0; i < points_.size(); ++i) {
      if (still[i] == 0 && count[i] > 0) points_[i] = (1.0 / count[i]) * sum[i];
    }
  }

  Result<Mesh> Classify() {
    Mesh mesh;
    std::vector<ContourUm> loops;
    for (std::size_t c = 0; c < loops_.size(); ++c) loops.push_back(LoopPoints(c));
    std::vector<ContourIndex<FrameUm>> index;
    for (const ContourUm& loop : loops) index.emplace_back(std::span<const PointUm>(loop));
    for (const auto& t : triangles_) {
      const PointUm centre = (1.0 / 3) * (points_[static_cast<std::size_t>(t[0])] +
                                          points_[static_cast<std::size_t>(t[1])] +
                                          points_[static_cast<std::size_t>(t[2])]);
      if (!index[0].Holds(centre)) continue;
      bool solid = true;
      for (std::size_t c = 1; c <= holes() && solid; ++c) solid = !index[c].Holds(centre);
      if (!solid) continue;
      int material = 0;
      for (std::size_t r = 0; r < problem_.regions.size(); ++r) {
        if (index[1 + holes() + r].Holds(centre))
          material = static_cast<int>(problem_.regions[r].material);
      }
      mesh.triangles.push_back(t);
      mesh.material.push_back(material);
    }
    if (mesh.triangles.empty()) return Fail(Code::kInvalidContour, "no solid between the contours");
    for (std::size_t c = 0; c < loops_.size(); ++c) {
      for (std::size_t i = 0; i < loops_[c].size(); ++i) {
        mesh.edges[Ordered(loops_[c][i], loops_[c][(i + 1) % loops_[c].size()])] = {
            static_cast<int>(c), sources_[c][i]};
      }
    }
    mesh.points = points_;
    mesh.loops = loops_;
    return mesh;
  }

  const ElasticProblem& problem_;
  std::vector<const ContourUm*> contours_;
  double extent_ = 0;
  SizeField field_;
  ContourUm points_;
  std::size_t on_contours_ = 0;
  std::vector<std::vector<int>> loops_, sources_;
  std::vector<std::array<int, 3>> triangles_;
};

}  // namespace

Result<Mesh> MakeMesh(const ElasticProblem& problem) { return Builder(problem).Build(); }

}  // namespace cutface::elastic
