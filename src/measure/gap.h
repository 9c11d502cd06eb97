// Least distances between contours: one full search, then quick looks at the near places per draw.
//
// Edges are kept in blocks of sixteen with a circle round each: a query looks only into blocks that
// can hold something nearer. The search returns, besides the least distance, every vertex whose
// distance to the other contour is within a margin of it: under noise any of them may become the
// least, and a flat septum has hundreds. Slow twin: geometry's LeastDistance with brute_force.
// Keywords: septum, wall, least distance, nearest, candidates.
#pragma once

#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::measure {

class EdgeBlocks {
 public:
  explicit EdgeBlocks(std::span<const PointUm> contour);  // keeps the span, not a copy

  struct Hit {
    double distance = std::numeric_limits<double>::infinity();
    PointUm at;
    std::size_t edge = 0;
  };
  // The nearest place within `limit`; distance stays infinite when there is none.
  Hit NearestTo(PointUm p, double limit) const;
  bool Crosses(PointUm a, PointUm b) const;  // does the segment meet an edge?

  struct Block {
    PointUm centre;
    double radius = 0;
    std::size_t first = 0, last = 0;  // edges [first, last)
  };
  const std::vector<Block>& blocks() const { return blocks_; }
  std::span<const PointUm> contour() const { return contour_; }

 private:
  std::span<const PointUm> contour_;
  std::vector<Block> blocks_;
};

// A vertex of one contour near an edge of the other.
struct Near {
  bool vertex_on_first = true;
  std::uint32_t vertex = 0;  // index into its contour
  std::uint32_t edge = 0;    // index into the other contour
  PointUm direction;         // unit vector from the vertex to the edge, before any draw
};

struct GapPlace {
  double distance = std::numeric_limits<double>::infinity();
  PointUm on_first, on_second;
  std::size_t edge_first = 0, edge_second = 0;
  std::vector<Near> near;  // filled when margin > 0
};

// Least distance between two contours that do not cross; infinite beyond `limit`.
GapPlace FindGap(const EdgeBlocks& first, const EdgeBlocks& second, double margin, double limit);

}  // namespace cutface::measure
