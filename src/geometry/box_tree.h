// A tree of boxes around runs of consecutive edges of a chain.
//
// Consecutive edges lie together in the plane, so the tree needs no sorting: level 0 holds the
// boxes of kRun edges each, every further level joins two neighbours. 1000 edges are built in some
// microseconds, which is why it serves even single questions.
#pragma once

#include <array>
#include <cstddef>
#include <limits>
#include <vector>

#include "geometry/segments.h"

namespace cutface {

template <class F>
class BoxTree {
 public:
  static constexpr std::size_t kRun = 4;

  // `count` edges of the closed contour from edge `first` on, around the end when needed.
  BoxTree(std::span<const Point<F>> contour, std::size_t first, std::size_t count)
      : size_(contour.size()), first_(first) {
    CF_CHECK(!contour.empty() && count >= 1 && count <= contour.size());
    chain_.reserve(count + 1);
    for (std::size_t k = 0, i = first; k <= count; ++k, i = Next(i, size_)) {
      chain_.push_back(contour[i]);
    }
    Build();
  }
  explicit BoxTree(std::span<const Point<F>> contour) : BoxTree(contour, 0, contour.size()) {}

  std::size_t EdgeCount() const { return chain_.size() - 1; }
  // Edge k of the chain, and its number in the contour.
  Point<F> From(std::size_t k) const { return chain_[k]; }
  Point<F> To(std::size_t k) const { return chain_[k + 1]; }
  std::size_t ContourEdge(std::size_t k) const {
    const std::size_t i = first_ + k;
    return i >= size_ ? i - size_ : i;
  }

  struct Node {
    std::size_t level = 0, index = 0;
  };
  Node Root() const { return {level_begin_.size() - 2, 0}; }
  const Box<F>& BoxOf(Node node) const { return boxes_[level_begin_[node.level] + node.index]; }
  bool IsLeaf(Node node) const { return node.level == 0; }
  Node Left(Node node) const { return {node.level - 1, 2 * node.index}; }
  bool HasRight(Node node) const {
    return 2 * node.index + 1 < level_begin_[node.level] - level_begin_[node.level - 1];
  }
  Node Right(Node node) const { return {node.level - 1, 2 * node.index + 1}; }
  std::size_t Begin(Node node) const { return (node.index << node.level) * kRun; }
  std::size_t End(Node node) const {
    return std::min(((node.index + 1) << node.level) * kRun, EdgeCount());
  }

 private:
  static Box<F> Joined(const Box<F>& a, const Box<F>& b) {
    return {{std::min(a.least.x, b.least.x), std::min(a.least.y, b.least.y)},
            {std::max(a.greatest.x, b.greatest.x), std::max(a.greatest.y, b.greatest.y)}};
  }

  void Build() {
    const std::size_t leaves = (EdgeCount() + kRun - 1) / kRun;
    boxes_.reserve(2 * leaves + 32);
    for (std::size_t leaf = 0; leaf < leaves; ++leaf) {
      Box<F> box{chain_[leaf * kRun], chain_[leaf * kRun]};
      const std::size_t last = std::min((leaf + 1) * kRun, EdgeCount());
      for (std::size_t k = leaf * kRun + 1; k <= last; ++k)
        box = Joined(box, {chain_[k], chain_[k]});
      boxes_.push_back(box);
    }
    level_begin_ = {0, leaves};
    while (level_begin_.back() - level_begin_[level_begin_.size() - 2] > 1) {
      const std::size_t begin = level_begin_[level_begin_.size() - 2], end = level_begin_.back();
      for (std::size_t i = begin; i < end; i += 2) {
        boxes_.push_back(i + 1 < end ? Joined(boxes_[i], boxes_[i + 1]) : boxes_[i]);
      }
      level_begin_.push_back(boxes_.size());
    }
  }

  std::size_t size_, first_;
  std::vector<Point<F>> chain_;
  std::vector<Box<F>> boxes_;
  std::vector<std::size_t> level_begin_;
};

template <class F>
double BoxDistance2(const Box<F>& box, Point<F> p) {
  const double dx = std::max({box.least.x - p.x, p.x - box.greatest.x, 0.0});
  const double dy = std::max({box.least.y - p.y, p.y - box.greatest.y, 0.0});
  return dx * dx + dy * dy;
}
template <class F>
double BoxDistance2(const Box<F>& a, const Box<F>& b) {
  const double dx = std::max({a.least.x - b.greatest.x, b.least.x - a.greatest.x, 0.0});
  const double dy = std::max({a.least.y - b.greatest.y, b.least.y - a.greatest.y, 0.0});
  return dx * dx + dy * dy;
}

// Shrinks a bound by more than its rounding, so that pruning never drops an equal distance.
constexpr double kPruneSlack = 1 - 1e-12;

// The nearest edge found so far to a point; starts at a limit.
template <class F>
struct PointSearch {
  Point<F> p;
  double best2 = std::numeric_limits<double>::infinity();
  Point<F> at;
  std::size_t edge = 0;  // of the chain
  bool found = false;

  void Consider(const BoxTree<F>& tree, std::size_t k) {
    const Point<F> q = NearestOnSegment(p, tree.From(k), tree.To(k));
    const double distance2 = Length2(q - p);
    if (distance2 < best2 || (distance2 == best2 && (!found || k < edge))) {
      best2 = distance2;
      at = q;
      edge = k;
      found = true;
    }
  }
};

template <class F>
void SearchNearest(const BoxTree<F>& tree, PointSearch<F>& search) {
  struct Entry {
    typename BoxTree<F>::Node node;
    double distance2;
  };
  std::array<Entry, 128> stack;  // two entries a level and at most 64 levels
  std::size_t top = 0;
  stack[top++] = {tree.Root(), BoxDistance2(tree.BoxOf(tree.Root()), search.p)};
  while (top > 0) {
    const Entry entry = stack[--top];
    if (entry.distance2 * kPruneSlack > search.best2) continue;
    if (tree.IsLeaf(entry.node)) {
      for (std::size_t k = tree.Begin(entry.node); k < tree.End(entry.node); ++k) {
        search.Consider(tree, k);
      }
      continue;
    }
    const auto left = tree.Left(entry.node);
    Entry near{left, BoxDistance2(tree.BoxOf(left), search.p)};
    if (tree.HasRight(entry.node)) {
      const auto right = tree.Right(entry.node);
      Entry far{right, BoxDistance2(tree.BoxOf(right), search.p)};
      if (far.distance2 < near.distance2) std::swap(near, far);
      stack[top++] = far;
    }
    stack[top++] = near;
  }
}

// Even-odd: parity of the edges that a ray from p towards +x crosses. A run that lies wholly to the
// right crosses the ray's line as often, modulo 2, as the segment between its ends.
template <class F>
bool HoldsPoint(const BoxTree<F>& tree, Point<F> p, typename BoxTree<F>::Node node) {
  const Box<F>& box = tree.BoxOf(node);
  if (box.greatest.x < p.x || box.least.y > p.y || box.greatest.y <= p.y) return false;
  if (box.least.x > p.x) {
    return (tree.From(tree.Begin(node)).y > p.y) != (tree.To(tree.End(node) - 1).y > p.y);
  }
  bool inside = false;
  if (tree.IsLeaf(node)) {
    for (std::size_t k = tree.Begin(node); k < tree.End(node); ++k) {
      const Point<F> a = tree.From(k) - p, b = tree.To(k) - p;
      if ((a.y > 0) != (b.y > 0) && (Cross(a, b) > 0) == (b.y > a.y)) inside = !inside;
    }
    return inside;
  }
  inside = HoldsPoint(tree, p, tree.Left(node));
  if (tree.HasRight(node)) inside ^= HoldsPoint(tree, p, tree.Right(node));
  return inside;
}

}  // namespace cutface
