// Largest circle inside a polygon: branch and bound over squares of centres, the most promising
// first.
//
// Over a square the distance to each nearby edge lies below a linear function (exactly linear
// beside a straight or bulging boundary, a tangent plane plus curvature beside a corner that points
// inwards), so a small linear programme bounds the radius and guesses the best centre. Bound and
// guess meet with the square of the square's size, also where the best centre is not unique
// (rectangles, stadiums).
#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <memory>
#include <queue>

#include "geometry/box_tree.h"
#include "geometry/max_min.h"

namespace cutface {
namespace {

// Radii are not told apart below this share of the contour's extent.
constexpr double kRounding = 1e-12;
// Squares searched before the best so far is taken; reached only by made-up shapes.
constexpr int kMaxSquares = 400000;

template <class F>
struct Edge {
  Point<F> from, along;  // along: unit
  double length = 0;
};

// Straight runs become single edges, so that their distance is linear over long stretches.
template <class F>
std::vector<Edge<F>> StraightEdges(std::span<const Point<F>> contour) {
  std::vector<Point<F>> corners;
  for (const Point<F>& p : contour) {
    if (!corners.empty() && corners.back() == p) continue;
    while (corners.size() >= 2 && SideOf(corners[corners.size() - 2], corners.back(), p) == 0 &&
           Dot(corners.back() - corners[corners.size() - 2], p - corners.back()) > 0) {
      corners.pop_back();
    }
    corners.push_back(p);
  }
  while (corners.size() > 1 && corners.back() == corners.front()) corners.pop_back();
  std::vector<Edge<F>> edges;
  edges.reserve(corners.size());
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const Point<F> edge = corners[Next(i, corners.size())] - corners[i];
    const double length = Length(edge);
    edges.push_back({corners[i], (1 / length) * edge, length});
  }
  return edges;
}

template <class F>
class InscribedSearch {
 public:
  InscribedSearch(std::span<const Point<F>> contour, double tolerance)
      : tree_(contour), edges_(StraightEdges(contour)), tolerance_(tolerance) {
    all_ = std::make_shared<std::vector<std::uint32_t>>(edges_.size());
    for (std::uint32_t i = 0; i < edges_.size(); ++i) (*all_)[i] = i;
  }

  bool Holds(Point<F> p) const { return HoldsPoint(tree_, p, tree_.Root()); }
  double DistanceTo(Point<F> p) const { return LeastAmong(p, *all_); }
  const Circle<F>& Best() const { return best_; }

  void Add(Point<F> centre, double half) { Consider(centre, half, *all_); }

  void Run() {
    for (int step = 0; step < kMaxSquares && !queue_.empty(); ++step) {
      const Square square = queue_.top();
      if (square.bound <= best_.radius + tolerance_) break;
      queue_.pop();
      const double h = square.half / 2;
      for (const double dx : {-h, h}) {
        for (const double dy : {-h, h}) {
          Consider(square.centre + Point<F>{dx, dy}, h, *square.candidates);
        }
      }
    }
    queue_ = {};
  }

 private:
  struct Square {
    double bound = 0;  // no circle with its centre in the square has a greater radius
    Point<F> centre;
    double half = 0;
    std::shared_ptr<const std::vector<std::uint32_t>> candidates;  // all edges that can be nearest
    friend bool operator<(const Square& a, const Square& b) { return a.bound < b.bound; }
  };

  double Distance2To(Point<F> p, const Edge<F>& e) const {
    const Point<F> to_p = p - e.from;
    const double s = Dot(to_p, e.along);
    if (s <= 0) return Length2(to_p);
    if (s >= e.length) return Length2(to_p - e.length * e.along);
    const double across = Cross(e.along, to_p);
    return across * across;
  }

  double LeastAmong(Point<F> p, const std::vector<std::uint32_t>& candidates) const {
    double least2 = std::numeric_limits<double>::infinity();
    for (const std::uint32_t k : candidates) least2 = std::min(least2, Distance2To(p, edges_[k]));
    return std::sqrt(least2);
  }

  void Consider(Point<F> centre, double half, const std::vector<std::uint32_t>& candidates) {
    const double reach = half * std::sqrt(2.0);
    scratch_.resize(candidates.size());
    double least2 = std::numeric_limits<double>::infinity();
    std::size_t nearest = 0;
    const double hopeless = std::max(0.0, best_.radius + tolerance_ - reach);
    for (std::size_t i = 0; i < candidates.size(); ++i) {
      scratch_[i] = Distance2To(centre, edges_[candidates[i]]);
      if (scratch_[i] < least2) {
        least2 = scratch_[i];
        nearest = i;
        if (least2 < hopeless * hopeless) return;
      }
    }
    const double least = std::sqrt(least2);
    const bool inside = Holds(centre);
    double bound = inside ? least + reach : reach - least;
    if (bound <= best_.radius + tolerance_) return;
    if (inside && least > best_.radius) best_ = {centre, least};
    auto kept = std::make_shared<std::vector<std::uint32_t>>();
    std::vector<double> distances2;
    const double limit = least + 2 * reach, limit2 = limit * limit;
    // The nearest edge comes first: it is the likeliest to rule out the parts of this square at
    // once.
    std::swap(scratch_[0], scratch_[nearest]);
    kept->push_back(candidates[nearest]);
    distances2.push_back(least2);
    for (std::size_t i = 1; i < candidates.size(); ++i) {
      if (scratch_[i] > limit2) continue;
      const std::uint32_t edge = candidates[i == nearest ? 0 : i];
      kept->push_back(edge);
      distances2.push_back(scratch_[i]);
    }
    if (inside && reach < 0.7 * least) {
      const MaxMin<F> guess = Guess(centre, half, *kept, distances2);
      bound = std::min(bound, guess.value);
      if (bound <= best_.radius + tolerance_) return;
      // Still inside: closer to the centre than any edge. Edges left out are further away.
      const Point<F> at{std::clamp(guess.at.x, -half, half), std::clamp(guess.at.y, -half, half)};
      const double there = LeastAmong(centre + at, *kept);
      if (there > best_.radius) best_ = {centre + at, there};
    }
    if (bound > best_.radius + tolerance_) {
      queue_.push({bound, centre, half, std::move(kept)});
    }
  }

  // Upper bound of the radius over the square and a guess of the best centre, from the two nearest
  // edges in each of eight directions.
  MaxMin<F> Guess(Point<F> centre, double half, const std::vector<std::uint32_t>& candidates,
                  const std::vector<double>& distances2) const {
    struct Entry {
      double distance2 = std::numeric_limits<double>::infinity();
      std::uint32_t edge = 0;
    };
    std::array<std::array<Entry, 2>, 8> nearest;
    for (std::size_t i = 0; i < candidates.size(); ++i) {
      const Edge<F>& e = edges_[candidates[i]];
      const double s = std::clamp(Dot(centre - e.from, e.along), 0.0, e.length);
      const Point<F> to = e.from + s * e.along - centre;
      const unsigned octant =
          (to.x > 0 ? 1U : 0U) + (to.y > 0 ? 2U : 0U) + (std::abs(to.x) > std::abs(to.y) ? 4U : 0U);
      auto& [first, second] = nearest[octant];
      const Entry entry{distances2[i], candidates[i]};
      if (entry.distance2 < first.distance2) {
        second = first;
        first = entry;
      } else if (entry.distance2 < second.distance2) {
        second = entry;
      }
    }
    std::array<LinearBound<F>, 16> bounds;
    std::size_t count = 0;
    for (const auto& pair : nearest) {
      for (const Entry& entry : pair) {
        if (std::isfinite(entry.distance2) && entry.distance2 > 0) {
          bounds[count++] = BoundBeside(centre, half * std::sqrt(2.0), entry.edge);
        }
      }
    }
    return MaximiseLeast<F>(std::span(bounds.data(), count), half);
  }

  LinearBound<F> BoundBeside(Point<F> centre, double reach, std::uint32_t k) const {
    const Edge<F>& e = edges_[k];
    const Point<F> to_centre = centre - e.from;
    const double s = Dot(to_centre, e.along), across = Cross(e.along, to_centre);
    const double side = across >= 0 ? 1 : -1, height = std::abs(across);
    const Point<F> up = side * Point<F>{-e.along.y, e.along.x};
    if (height > reach && ChainCovers(k, up, s - reach, s + reach, height - reach)) {
      return {height, up};
    }
    const Point<F> foot = e.from + std::clamp(s, 0.0, e.length) * e.along;
    const double distance = Length(centre - foot);
    return {distance + reach * reach / (2 * distance), (1 / distance) * (centre - foot)};
  }

  // Whether the boundary runs, over the whole stretch [low, high] along edge k, between the edge's
  // line and a height above it. Then no place higher up is further from the boundary than from the
  // line, on which distances are linear.
  bool ChainCovers(std::uint32_t k, Point<F> up, double low, double high, double height) const {
    constexpr int kSteps = 12;
    const Edge<F>& e = edges_[k];
    const auto n = static_cast<std::uint32_t>(edges_.size());
    const auto follow = [&](bool forwards) {
      double s = forwards ? e.length : 0;
      std::uint32_t i = k;
      for (int step = 0; forwards ? s < high : s > low; ++step) {
        if (step == kSteps) return false;
        i = forwards ? (i + 1 == n ? 0 : i + 1) : (i == 0 ? n - 1 : i - 1);
        const Point<F> end = forwards ? edges_[i + 1 == n ? 0 : i + 1].from : edges_[i].from;
        const double next = Dot(end - e.from, e.along), above = Dot(end - e.from, up);
        if (above < 0 || above > height || (forwards ? next <= s : next >= s)) return false;
        s = next;
      }
      return true;
    };
    return follow(true) && follow(false);
  }

  BoxTree<F> tree_;
  std::vector<Edge<F>> edges_;
  std::shared_ptr<std::vector<std::uint32_t>> all_;
  double tolerance_;
  Circle<F> best_;
  std::priority_queue<Square> queue_;
  std::vector<double> scratch_;
};

template <class F>
Status CheckContour(std::span<const Point<F>> contour) {
  if (contour.size() < 3) {
    return Fail(
        Code::kInvalidContour,
        fmt::format("inscribed circle: {} vertices, at least 3 are needed", contour.size()));
  }
  const Box<F> box = BoundingBox(contour);
  const Point<F> size = box.greatest - box.least;
  if (!std::isfinite(size.x) || !std::isfinite(size.y) || !std::isfinite(SignedArea(contour))) {
    return Fail(Code::kInvalidContour, "inscribed circle: a coordinate is not a finite number");
  }
  return {};
}

}  // namespace

template <class F>
Result<Circle<F>> InscribedCircle(std::span<const Point<F>> contour, double tolerance) {
  if (const Status status = CheckContour(contour); !status) return tl::unexpected(status.error());
  const Box<F> box = BoundingBox(contour);
  const Point<F> size = box.greatest - box.least;
  const double extent = std::max(size.x, size.y), narrow = std::min(size.x, size.y);
  if (narrow <= kRounding * extent || Area(contour) <= kRounding * extent * extent) {
    return Fail(Code::kInvalidContour, "inscribed circle: the contour encloses no area");
  }
  InscribedSearch<F> search(contour, std::max(tolerance, kRounding * extent));
  const auto columns = static_cast<int>(std::ceil(size.x / narrow));
  const auto rows = static_cast<int>(std::ceil(size.y / narrow));
  const Point<F> middle = 0.5 * (box.least + box.greatest);
  for (int i = 0; i < columns; ++i) {
    for (int j = 0; j < rows; ++j) {
      search.Add(middle + narrow * Point<F>{i - 0.5 * (columns - 1), j - 0.5 * (rows - 1)},
                 0.5 * narrow * (1 + 1e-12));
    }
  }
  search.Run();
  return search.Best();
}

template <class F>
Result<Circle<F>> InscribedCircleNear(std::span<const Point<F>> contour, Point<F> start,
                                      double window, double tolerance) {
  if (const Status status = CheckContour(contour); !status) return tl::unexpected(status.error());
  const Box<F> box = BoundingBox(contour);
  const Point<F> size = box.greatest - box.least;
  InscribedSearch<F> search(contour, std::max(tolerance, kRounding * std::max(size.x, size.y)));
  constexpr int kMoves = 8;
  for (int move = 0; move < kMoves && search.Holds(start); ++move) {
    const double half = window > 0 ? window : 0.03 * search.DistanceTo(start);
    search.Add(start, half);
    search.Run();
    const Point<F> moved = search.Best().centre - start;
    start = search.Best().centre;
    if (std::max(std::abs(moved.x), std::abs(moved.y)) < 0.95 * half) return search.Best();
  }
  return InscribedCircle(contour, tolerance);
}

#define CF_DECLARE(F)                                                                            \
  template Result<Circle<F>> InscribedCircle<F>(std::span<const Point<F>>, double);              \
  template Result<Circle<F>> InscribedCircleNear<F>(std::span<const Point<F>>, Point<F>, double, \
                                                    double);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
