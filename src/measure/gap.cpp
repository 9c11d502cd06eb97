#include "measure/gap.h"

#include <algorithm>
#include <cmath>

namespace cutface::measure {
namespace {

constexpr std::size_t kBlockEdges = 16;
constexpr double kNoGap = std::numeric_limits<double>::infinity();

PointUm OnSegment(PointUm p, PointUm a, PointUm b) {
  const PointUm e = b - a;
  const double square = Dot(e, e);
  const double t = square > 0 ? std::clamp(Dot(p - a, e) / square, 0.0, 1.0) : 0.0;
  return a + t * e;
}

struct Side {
  const EdgeBlocks* from;
  const EdgeBlocks* to;
  bool first;
};

// Lower bounds of the distance of each block of `from` to the contour `to`.
std::vector<std::pair<double, std::size_t>> BlockBounds(const Side& side, double limit) {
  std::vector<std::pair<double, std::size_t>> bounds;
  const auto& blocks = side.from->blocks();
  for (std::size_t b = 0; b < blocks.size(); ++b) {
    const double hit = side.to->NearestTo(blocks[b].centre, limit + blocks[b].radius).distance;
    if (std::isfinite(hit)) bounds.emplace_back(hit - blocks[b].radius, b);
  }
  std::sort(bounds.begin(), bounds.end());
  return bounds;
}

}  // namespace

EdgeBlocks::EdgeBlocks(std::span<const PointUm> contour) : contour_(contour) {
  const std::size_t n = contour.size();
  for (std::size_t first = 0; first < n; first += kBlockEdges) {
    Block block;
    block.first = first;
    block.last = std::min(first + kBlockEdges, n);
    PointUm least = contour[first], most = contour[first];
    for (std::size_t i = first; i <= block.last; ++i) {
      const PointUm p = contour[i % n];
      least = {std::min(least.x, p.x), std::min(least.y, p.y)};
      most = {std::max(most.x, p.x), std::max(most.y, p.y)};
    }
    block.centre = 0.5 * (least + most);
    for (std::size_t i = first; i <= block.last; ++i) {
      block.radius = std::max(block.radius, Distance(block.centre, contour[i % n]));
    }
    blocks_.push_back(block);
  }
}

EdgeBlocks::Hit EdgeBlocks::NearestTo(PointUm p, double limit) const {
  Hit hit;
  double best = limit * limit;
  const std::size_t n = contour_.size();
  const auto look = [&](const Block& block) {
    for (std::size_t i = block.first; i < block.last; ++i) {
      const PointUm q = OnSegment(p, contour_[i], contour_[i + 1 < n ? i + 1 : 0]);
      const PointUm d = q - p;
      const double square = Dot(d, d);
      if (square < best) {
        best = square;
        hit.at = q;
        hit.edge = i;
        hit.distance = 0;  // set below
      }
    }
  };
  // The block with the nearest centre first: it makes the bound tight at once.
  std::size_t nearest = 0;
  double nearest_square = kNoGap;
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    const PointUm d = blocks_[b].centre - p;
    const double square = Dot(d, d);
    if (square < nearest_square) nearest_square = square, nearest = b;
  }
  if (blocks_.empty()) return hit;
  look(blocks_[nearest]);
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    if (b == nearest) continue;
    const PointUm d = blocks_[b].centre - p;
    const double reach = std::sqrt(best) + blocks_[b].radius;
    if (Dot(d, d) < reach * reach) look(blocks_[b]);
  }
  if (hit.distance == 0) hit.distance = std::sqrt(best);
  return hit;
}

bool EdgeBlocks::Crosses(PointUm a, PointUm b) const {
  const std::size_t n = contour_.size();
  const auto side = [](PointUm p, PointUm q, PointUm r) { return Cross(q - p, r - p); };
  for (const Block& block : blocks_) {
    if (Distance(OnSegment(block.centre, a, b), block.centre) > block.radius) continue;
    for (std::size_t i = block.first; i < block.last; ++i) {
      const PointUm p = contour_[i], q = contour_[i + 1 < n ? i + 1 : 0];
      if ((side(a, b, p) > 0) != (side(a, b, q) > 0) &&
          (side(p, q, a) > 0) != (side(p, q, b) > 0)) {
        return true;
      }
    }
  }
  return false;
}

GapPlace FindGap(const EdgeBlocks& first, const EdgeBlocks& second, double margin, double limit) {
  GapPlace gap;
  const Side sides[2] = {{&first, &second, true}, {&second, &first, false}};
  std::vector<std::pair<double, std::size_t>> bounds[2];
  double best = limit;
  for (int s = 0; s < 2; ++s) {
    bounds[s] = BlockBounds(sides[s], limit + margin);
    for (const auto& [bound, index] : bounds[s]) {
      if (bound > best) break;
      const EdgeBlocks::Block& block = sides[s].from->blocks()[index];
      for (std::size_t i = block.first; i < block.last; ++i) {
        const PointUm p = sides[s].from->contour()[i];
        const EdgeBlocks::Hit hit = sides[s].to->NearestTo(p, best);
        if (!(hit.distance < best)) continue;
        best = hit.distance;
        gap.distance = hit.distance;
        gap.on_first = sides[s].first ? p : hit.at;
        gap.on_second = sides[s].first ? hit.at : p;
        gap.edge_first = sides[s].first ? i : hit.edge;
        gap.edge_second = sides[s].first ? hit.edge : i;
      }
    }
  }
  if (!(margin > 0) || !std::isfinite(gap.distance)) return gap;
  for (int s = 0; s < 2; ++s) {
    for (const auto& [bound, index] : bounds[s]) {
      if (bound > best + margin) break;
      const EdgeBlocks::Block& block = sides[s].from->blocks()[index];
      for (std::size_t i = block.first; i < block.last; ++i) {
        const PointUm p = sides[s].from->contour()[i];
        // The least place itself must never be lost to rounding.
        const EdgeBlocks::Hit hit = sides[s].to->NearestTo(p, best + margin);
        if (!(hit.distance <= best + margin)) continue;
        const double length = hit.distance;
        gap.near.push_back({sides[s].first, static_cast<std::uint32_t>(i),
                            static_cast<std::uint32_t>(hit.edge),
                            length > 0 ? (1 / length) * (hit.at - p) : PointUm{}});
      }
    }
  }
  return gap;
}

}  // namespace cutface::measure
