#include "identify/outline_lay.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr std::size_t kSeenPlaces = 40;  // places
constexpr double kSeenShare = 0.4;       // of the outline: a short arc tells no stretch
constexpr int kLayRounds = 12;
constexpr double kLayCut = 4;       // deviations
constexpr double kLayRidge = 1e-3;  // of the normal equations: what the arc does not tell stays

using LayVector = Eigen::Matrix<double, 5, 1>;
using LayMatrix = Eigen::Matrix<double, 5, 5>;

struct LayPair {
  PointPx at, normal;  // of the drawn outline
  double off = 0;      // of the traced one, outwards
};

std::vector<LayPair> LayPairs(const ContourPx& drawn, const std::vector<PointPx>& seen) {
  const std::span<const PointPx> points(drawn);
  const ContourIndex<FramePx> index{points};
  const ContourPx normals = OutwardNormals(points);
  std::vector<LayPair> pairs;
  for (const PointPx p : seen) {
    const auto near = index.NearestTo(p, 1e9);
    if (!near) continue;
    const PointPx n = normals[near->edge_second];
    pairs.push_back({near->on_second, n, Dot(p - near->on_second, n)});
  }
  return pairs;
}

// Stretch (xx, xy, yy) about `middle` and shift, in radii.
LayVector LayMove(const std::vector<LayPair>& pairs, PointPx middle, double radius) {
  std::vector<double> magnitude;
  for (const LayPair& p : pairs) magnitude.push_back(std::abs(p.off));
  const double cut = kLayCut * std::max(0.5, 1.4826 * Median(magnitude));
  LayMatrix normal = LayMatrix::Zero();
  LayVector right = LayVector::Zero();
  for (const LayPair& p : pairs) {
    const double u = p.off / cut;
    if (std::abs(u) >= 1) continue;
    const double w = (1 - u * u) * (1 - u * u);
    const PointPx q = (1 / radius) * (p.at - middle), n = p.normal;
    LayVector row;
    row << n.x * q.x, n.x * q.y + n.y * q.x, n.y * q.y, n.x, n.y;
    normal += w * row * row.transpose();
    right += w * (p.off / radius) * row;
  }
  normal.diagonal().array() += kLayRidge * normal.trace() + 1e-12;
  return normal.ldlt().solve(right);
}

}  // namespace

Warp LaidOnTrace(const Warp& warp, const SectionDesign& plane, const OutlineTrace& trace) {
  std::vector<PointPx> seen;
  for (std::size_t i = 0; i < trace.points.size(); ++i) {
    if (trace.as_expected[i]) seen.push_back(trace.points[i]);
  }
  return LaidOn(warp, plane, seen,
                static_cast<double>(seen.size()) / static_cast<double>(trace.points.size()));
}

Warp LaidOn(const Warp& warp, const SectionDesign& plane, const std::vector<PointPx>& seen,
            double of_all) {
  if (seen.size() < kSeenPlaces || of_all < kSeenShare) return warp;
  Warp out = warp;
  for (int round = 0; round < kLayRounds; ++round) {
    ContourPx drawn = out(View(plane.outline.contour));
    if (SignedArea(std::span<const PointPx>(drawn)) < 0) std::reverse(drawn.begin(), drawn.end());
    const PointPx middle = Centroid(std::span<const PointPx>(drawn));
    const double radius = std::sqrt(Area(std::span<const PointPx>(drawn)) / M_PI);
    const LayVector move = LayMove(LayPairs(drawn, seen), middle, radius);
    Eigen::Matrix2d stretch;
    stretch << 1 + move(0), move(1), move(1), 1 + move(2);
    const Eigen::Vector2d about(middle.x, middle.y);
    out.linear = stretch * out.linear;
    out.shift = stretch * (out.shift - about) + about + radius * move.tail<2>();
    if (radius * move.norm() < 0.02) break;
  }
  return out;
}

double OutlineMoved(const Warp& from, const Warp& to, const SectionDesign& plane) {
  double most = 0;
  for (const PointUm p : plane.outline.contour) most = std::max(most, Distance(from(p), to(p)));
  return most;
}

}  // namespace cutface
