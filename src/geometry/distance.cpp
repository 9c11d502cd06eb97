#include <algorithm>

#include "geometry/box_tree.h"

namespace cutface {
namespace {

// The nearest pair of edges found so far.
template <class F>
class PairSearch {
 public:
  PairSearch(const BoxTree<F>& first, const BoxTree<F>& second) : first_(first), second_(second) {}

  // Depth first, the nearer pair of boxes first.
  void Visit(typename BoxTree<F>::Node a, typename BoxTree<F>::Node b, double distance2) {
    if (found_ && distance2 * kPruneSlack > best_.distance2) return;
    const bool a_leaf = first_.IsLeaf(a), b_leaf = second_.IsLeaf(b);
    if (a_leaf && b_leaf) {
      CompareLeaves(a, b);
      return;
    }
    std::array<Step, 2> steps{};
    std::size_t count = 0;
    const auto add = [&](typename BoxTree<F>::Node na, typename BoxTree<F>::Node nb) {
      steps[count++] = {na, nb, BoxDistance2(first_.BoxOf(na), second_.BoxOf(nb))};
    };
    if (b_leaf || (!a_leaf && a.level >= b.level)) {
      add(first_.Left(a), b);
      if (first_.HasRight(a)) add(first_.Right(a), b);
    } else {
      add(a, second_.Left(b));
      if (second_.HasRight(b)) add(a, second_.Right(b));
    }
    if (count == 2 && steps[1].distance2 < steps[0].distance2) std::swap(steps[0], steps[1]);
    for (std::size_t i = 0; i < count; ++i) Visit(steps[i].a, steps[i].b, steps[i].distance2);
  }

  void Compare(std::size_t i, std::size_t j) {
    const auto pair = SegmentDistance(first_.From(i), first_.To(i), second_.From(j), second_.To(j));
    const std::size_t edge_i = first_.ContourEdge(i), edge_j = second_.ContourEdge(j);
    const bool nearer = !found_ || pair.distance2 < best_.distance2;
    if (!nearer && (pair.distance2 > best_.distance2 ||
                    std::pair(edge_i, edge_j) >= std::pair(edge_first_, edge_second_))) {
      return;
    }
    found_ = true;
    best_ = pair;
    edge_first_ = edge_i;
    edge_second_ = edge_j;
  }

  Nearest<F> Answer() const {
    return {std::sqrt(best_.distance2), best_.on_first, best_.on_second, edge_first_, edge_second_};
  }

 private:
  struct Step {
    typename BoxTree<F>::Node a, b;
    double distance2;
  };

  static Box<F> EdgeBox(const BoxTree<F>& tree, std::size_t k) {
    const Point<F> a = tree.From(k), b = tree.To(k);
    return {{std::min(a.x, b.x), std::min(a.y, b.y)}, {std::max(a.x, b.x), std::max(a.y, b.y)}};
  }

  void CompareLeaves(typename BoxTree<F>::Node a, typename BoxTree<F>::Node b) {
    for (std::size_t i = first_.Begin(a); i < first_.End(a); ++i) {
      const Box<F> box = EdgeBox(first_, i);
      if (found_ && BoxDistance2(box, second_.BoxOf(b)) * kPruneSlack > best_.distance2) continue;
      for (std::size_t j = second_.Begin(b); j < second_.End(b); ++j) {
        if (found_ && BoxDistance2(box, EdgeBox(second_, j)) * kPruneSlack > best_.distance2) {
          continue;
        }
        Compare(i, j);
      }
    }
  }

  const BoxTree<F>& first_;
  const BoxTree<F>& second_;
  NearPair<F> best_;
  std::size_t edge_first_ = 0, edge_second_ = 0;
  bool found_ = false;
};

template <class F>
Nearest<F> LeastTreeDistance(const BoxTree<F>& first, const BoxTree<F>& second) {
  PairSearch<F> search(first, second);
  search.Visit(first.Root(), second.Root(), 0);
  return search.Answer();
}

}  // namespace

template <class F>
Nearest<F> LeastDistance(std::span<const Point<F>> first, std::span<const Point<F>> second,
                         bool brute_force) {
  const BoxTree<F> first_tree(first), second_tree(second);
  if (!brute_force) return LeastTreeDistance(first_tree, second_tree);
  PairSearch<F> search(first_tree, second_tree);
  for (std::size_t i = 0; i < first.size(); ++i) {
    for (std::size_t j = 0; j < second.size(); ++j) search.Compare(i, j);
  }
  return search.Answer();
}

template <class F>
Nearest<F> LeastDistance(Point<F> p, std::span<const Point<F>> contour) {
  CF_CHECK(!contour.empty());
  double best2 = std::numeric_limits<double>::infinity();
  Nearest<F> nearest{0, p, contour[0], 0, 0};
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const Point<F> q = NearestOnSegment(p, contour[i], contour[Next(i, contour.size())]);
    const double distance2 = Length2(q - p);
    if (distance2 < best2) {
      best2 = distance2;
      nearest.on_second = q;
      nearest.edge_second = i;
    }
  }
  nearest.distance = std::sqrt(best2);
  return nearest;
}

template <class F>
Nearest<F> LeastDistanceNear(std::span<const Point<F>> first, std::span<const Point<F>> second,
                             const Nearest<F>& hint, std::size_t window) {
  const auto part = [window](std::span<const Point<F>> contour, std::size_t edge) {
    const std::size_t n = contour.size();
    CF_CHECK(n > 0 && edge < n);
    if (2 * window + 1 >= n) return BoxTree<F>(contour);
    return BoxTree<F>(contour, (edge + n - window) % n, 2 * window + 1);
  };
  return LeastTreeDistance(part(first, hint.edge_first), part(second, hint.edge_second));
}

template <class F>
std::vector<Nearest<F>> NearestToEachNear(std::span<const Point<F>> points,
                                          std::span<const Point<F>> contour,
                                          std::span<const Nearest<F>> hints, std::size_t window) {
  CF_CHECK(hints.size() == points.size() && !contour.empty());
  const std::size_t n = contour.size(), count = std::min(n, 2 * window + 1);
  std::vector<Nearest<F>> result;
  result.reserve(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    CF_CHECK(hints[i].edge_second < n);
    const Point<F> p = points[i];
    Nearest<F> nearest{0, p, p, 0, 0};
    double best2 = std::numeric_limits<double>::infinity();
    std::size_t k = (hints[i].edge_second + n - std::min(window, n / 2)) % n;
    for (std::size_t step = 0; step < count; ++step, k = Next(k, n)) {
      const Point<F> q = NearestOnSegment(p, contour[k], contour[Next(k, n)]);
      const double distance2 = Length2(q - p);
      if (distance2 < best2) {
        best2 = distance2;
        nearest.on_second = q;
        nearest.edge_second = k;
      }
    }
    nearest.distance = std::sqrt(best2);
    result.push_back(nearest);
  }
  return result;
}

template <class F>
bool IsSimple(std::span<const Point<F>> contour) {
  Polygon<F> ring;
  ring.reserve(contour.size());
  for (const Point<F>& p : contour) {
    if (ring.empty() || !(ring.back() == p)) ring.push_back(p);
  }
  while (ring.size() > 1 && ring.back() == ring.front()) ring.pop_back();
  const std::size_t n = ring.size();
  if (n < 3) return false;
  for (std::size_t i = 0; i < n; ++i) {
    // Neighbouring edges share a vertex and must not run back over each other.
    const Point<F> a = ring[i], b = ring[Next(i, n)], c = ring[Next(Next(i, n), n)];
    if (SideOf(a, b, c) == 0 && Dot(b - a, c - b) < 0) return false;
  }
  const BoxTree<F> tree{std::span<const Point<F>>(ring)};
  std::vector<std::pair<typename BoxTree<F>::Node, typename BoxTree<F>::Node>> stack = {
      {tree.Root(), tree.Root()}};
  while (!stack.empty()) {
    const auto [a, b] = stack.back();
    stack.pop_back();
    if (BoxDistance2(tree.BoxOf(a), tree.BoxOf(b)) > 0) continue;
    if (tree.IsLeaf(a) && tree.IsLeaf(b)) {
      for (std::size_t i = tree.Begin(a); i < tree.End(a); ++i) {
        for (std::size_t j = std::max(i + 2, tree.Begin(b)); j < tree.End(b); ++j) {
          if (i == 0 && j == n - 1) continue;
          if (SegmentsMeet(tree.From(i), tree.To(i), tree.From(j), tree.To(j))) return false;
        }
      }
      continue;
    }
    // Only pairs with a before b: the others are the same pairs again.
    const bool same = a.level == b.level && a.index == b.index;
    if (same) {
      stack.push_back({tree.Left(a), tree.Left(a)});
      if (tree.HasRight(a)) {
        stack.push_back({tree.Left(a), tree.Right(a)});
        stack.push_back({tree.Right(a), tree.Right(a)});
      }
    } else if (tree.IsLeaf(b) || (!tree.IsLeaf(a) && a.level >= b.level)) {
      stack.push_back({tree.Left(a), b});
      if (tree.HasRight(a)) stack.push_back({tree.Right(a), b});
    } else {
      stack.push_back({a, tree.Left(b)});
      if (tree.HasRight(b)) stack.push_back({a, tree.Right(b)});
    }
  }
  return true;
}

template <class F>
struct ContourIndex<F>::Impl {
  BoxTree<F> tree;
};

template <class F>
ContourIndex<F>::ContourIndex(std::span<const Point<F>> contour)
    : impl_(std::make_unique<Impl>(Impl{BoxTree<F>(contour)})) {}
template <class F>
ContourIndex<F>::~ContourIndex() = default;
template <class F>
ContourIndex<F>::ContourIndex(ContourIndex&&) noexcept = default;
template <class F>
ContourIndex<F>& ContourIndex<F>::operator=(ContourIndex&&) noexcept = default;

template <class F>
std::optional<Nearest<F>> ContourIndex<F>::NearestTo(Point<F> p, double limit) const {
  PointSearch<F> search{p, limit * limit, {}, 0, false};
  SearchNearest(impl_->tree, search);
  if (!search.found) return std::nullopt;
  return Nearest<F>{std::sqrt(search.best2), p, search.at, 0, search.edge};
}

template <class F>
std::vector<Nearest<F>> ContourIndex<F>::NearestToEach(std::span<const Point<F>> points) const {
  std::vector<Nearest<F>> result;
  result.reserve(points.size());
  std::size_t edge = 0;
  for (const Point<F>& p : points) {
    PointSearch<F> search{p, std::numeric_limits<double>::infinity(), {}, 0, false};
    search.Consider(impl_->tree, edge);  // a good bound from the start
    SearchNearest(impl_->tree, search);
    edge = search.edge;
    result.push_back({std::sqrt(search.best2), p, search.at, 0, search.edge});
  }
  return result;
}

template <class F>
double ContourIndex<F>::SignedDistance(Point<F> p, double limit) const {
  const auto nearest = NearestTo(p, limit);
  const double distance = nearest ? nearest->distance : limit;
  return Holds(p) ? -distance : distance;
}

template <class F>
double ContourIndex<F>::SignedDistanceFrom(Point<F> p, std::size_t& edge) const {
  constexpr int kAway = 4;  // edges that lead away in a row: more than noise makes
  const std::size_t n = impl_->tree.EdgeCount();
  PointSearch<F> search{p, std::numeric_limits<double>::infinity(), {}, 0, false};
  search.Consider(impl_->tree, std::min(edge, n - 1));
  for (const std::size_t step : {std::size_t{1}, n - 1}) {
    std::size_t k = search.edge;
    for (int away = 0; away < kAway;) {
      k = k + step >= n ? k + step - n : k + step;
      const double before = search.best2;
      search.Consider(impl_->tree, k);
      away = search.best2 < before ? 0 : away + 1;
    }
  }
  edge = search.edge;
  const double distance = std::sqrt(search.best2);
  return Holds(p) ? -distance : distance;
}

template <class F>
bool ContourIndex<F>::Holds(Point<F> p) const {
  return HoldsPoint(impl_->tree, p, impl_->tree.Root());
}

template <class F>
Nearest<F> ContourIndex<F>::LeastDistanceTo(const ContourIndex& other) const {
  return LeastTreeDistance(impl_->tree, other.impl_->tree);
}

#define CF_DECLARE(F)                                                                              \
  template Nearest<F> LeastDistance<F>(std::span<const Point<F>>, std::span<const Point<F>>,       \
                                       bool);                                                      \
  template Nearest<F> LeastDistance<F>(Point<F>, std::span<const Point<F>>);                       \
  template Nearest<F> LeastDistanceNear<F>(std::span<const Point<F>>, std::span<const Point<F>>,   \
                                           const Nearest<F>&, std::size_t);                        \
  template std::vector<Nearest<F>> NearestToEachNear<F>(std::span<const Point<F>>,                 \
                                                        std::span<const Point<F>>,                 \
                                                        std::span<const Nearest<F>>, std::size_t); \
  template bool IsSimple<F>(std::span<const Point<F>>);                                            \
  template class ContourIndex<F>;
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
