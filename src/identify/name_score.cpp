#include "identify/name_score.h"

#include <opencv2/imgproc.hpp>

#include "identify/raster.h"

namespace cutface {
namespace {

// As-built scatter: of a lumen's centre (radii) and diameter (log) beyond what is common to all; of
// the common shift and size. Tails like Student's t with 3 degrees of freedom.
constexpr double kCentre = 0.022, kSize = 0.035, kShift = 0.04, kCommonSize = 0.02;
constexpr double kShape = 0.05;        // share of a region that misses the lumen's shape, and ...
constexpr double kShapeEdge_px = 1.5;  // ... what a pixel along the edge adds to it
constexpr double kTail = 3;
constexpr double kFound = 6;        // what a region that fits exactly gains over one not found
constexpr double kFarthest = 0.15;  // radii: a lumen's centre, or all of them, off by more are lost
constexpr double kMirrorCost = 2.5;  // a mirrored picture is one in a dozen
constexpr int kRounds = 3;

double Cost(double off, double scatter) {
  const double x = off / scatter;
  return 0.5 * (kTail + 1) * std::log(1 + x * x / kTail);
}

// Of a region that bears a lumen's name, over a lumen that was not found.
double Gain(double off, double size) { return kFound - Cost(off, kCentre) - Cost(size, kSize); }

double Weight(double off, double scatter) {
  const double x = off / scatter;
  return (kTail + 1) / (kTail + x * x);
}

// The point of a contour farthest from its edge.
PointUm Deepest(std::span<const PointUm> contour) {
  const Box<FrameUm> box = BoundingBox(contour);
  const double unit =
      std::max(box.greatest.x - box.least.x, box.greatest.y - box.least.y) / 60 + 1e-9;
  cv::Mat mask(66, 66, CV_8UC1, cv::Scalar(0));
  ContourPx px;
  for (PointUm p : contour)
    px.push_back({(p.x - box.least.x) / unit + 2, (p.y - box.least.y) / unit + 2});
  FillContour(mask, px, 255);
  cv::Mat1f depth;
  cv::distanceTransform(mask, depth, cv::DIST_L2, 3);
  cv::Point at;
  cv::minMaxLoc(depth, nullptr, nullptr, nullptr, &at);
  return {box.least.x + (at.x - 2) * unit, box.least.y + (at.y - 2) * unit};
}

}  // namespace

NameScore::NameScore(const SectionDesign& plane, const LabelScore& labels,
                     const std::vector<RegionPool>& pools, const Pose& pose)
    : labels_(labels), pools_(pools) {
  radius_px_ = std::sqrt(Area(std::span<const PointPx>(pose.outline)) / M_PI);
  for (std::size_t k = 0; k < plane.lumens.size(); ++k) {
    const std::span<const PointUm> contour(plane.lumens[k].shape.contour);
    Lumen lumen{Centroid(contour), Deepest(contour), Area(contour), static_cast<int>(k), true};
    for (const auto& group : pose.interchangeable) {
      if (std::find(group.begin(), group.end(), plane.lumens[k].name) == group.end()) continue;
      lumen.alone = false;
      for (std::size_t j = k; j-- > 0;) {
        if (std::find(group.begin(), group.end(), plane.lumens[j].name) != group.end())
          lumen.group = static_cast<int>(j);
      }
    }
    lumens_.push_back(lumen);
  }
}

NameScore::Match NameScore::Compare(const Warp& warp, const std::vector<int>& lumens,
                                    std::size_t region, const RegionPool& pool) const {
  PointUm centre;
  double area = 0;
  for (int k : lumens) {
    const Lumen& lumen = lumens_[static_cast<std::size_t>(k)];
    centre = centre + lumen.area * lumen.centre;
    area += lumen.area;
  }
  const UnnamedRegion& r = pool.regions[region];
  const PointPx off = r.centre - warp((1 / area) * centre);
  Match match{region, lumens, Eigen::Vector2d(off.x, off.y) / radius_px_, 0};
  match.size = 0.5 * std::log(r.area / (area * std::abs(warp.linear.determinant())));
  return match;
}

std::vector<NameScore::Match> NameScore::Matches(const Warp& warp, const Eigen::Vector2d& shift,
                                                 double size, const RegionPool& pool) const {
  std::vector<std::vector<int>> in(pool.regions.size());
  std::vector<int> lost;
  const PointPx by{shift.x() * radius_px_, shift.y() * radius_px_};
  for (std::size_t k = 0; k < lumens_.size(); ++k) {
    const int r = pool.At(warp(lumens_[k].inside) + by);
    if (r < 0)
      lost.push_back(static_cast<int>(k));
    else
      in[static_cast<std::size_t>(r)].push_back(static_cast<int>(k));
  }
  // A small lumen may lie off its place by more than its size.
  for (int k : lost) {
    double least = kFarthest;
    std::size_t at = in.size();
    for (std::size_t r = 0; r < in.size(); ++r) {
      if (!in[r].empty()) continue;
      const double off = (Compare(warp, {k}, r, pool).off - shift).norm();
      if (off < least) {
        least = off;
        at = r;
      }
    }
    if (at < in.size()) in[at].push_back(k);
  }
  std::vector<Match> matches;
  for (std::size_t r = 0; r < in.size(); ++r) {
    if (in[r].empty()) continue;
    const auto gain = [&](const Match& m) { return Gain((m.off - shift).norm(), m.size - size); };
    Match best = Compare(warp, in[r], r, pool);
    if (in[r].size() > 1) {
      for (int k : in[r]) {
        const Match one = Compare(warp, {k}, r, pool);
        if (gain(one) > gain(best)) best = one;
      }
    }
    if (gain(best) > 0) matches.push_back(best);
  }
  return matches;
}

Naming NameScore::Climbed(const Warp& warp, const Eigen::Vector2d& start, std::size_t pool) const {
  Eigen::Vector2d shift = start;
  double size = 0;
  std::vector<Match> matches;
  for (int round = 0; round < kRounds; ++round) {
    matches = Matches(warp, shift, size, pools_[pool]);
    Eigen::Vector2d sum = Eigen::Vector2d::Zero();
    double weights = std::pow(kCentre / kShift, 2) * Weight(shift.norm(), kShift);
    double size_sum = 0, size_weights = std::pow(kSize / kCommonSize, 2);
    for (const Match& m : matches) {
      const double w = Weight((m.off - shift).norm(), kCentre);
      const double v = Weight(m.size - size, kSize);
      sum += w * m.off;
      weights += w;
      size_sum += v * m.size;
      size_weights += v;
    }
    shift = sum / weights;
    size = size_sum / size_weights;
  }
  Naming naming;
  naming.placed = naming.warp = warp;
  naming.warp.shift += shift * radius_px_;
  naming.pool = pool;
  naming.lumens.resize(pools_[pool].regions.size());
  naming.gain.resize(pools_[pool].regions.size(), 0);
  naming.value = -Cost(shift.norm(), kShift) - Cost(size, kCommonSize);
  if (warp.linear.determinant() < 0) naming.value -= kMirrorCost;
  for (const Match& m : matches) {
    naming.gain[m.region] = std::max(0.0, Gain((m.off - shift).norm(), m.size - size));
    naming.value += naming.gain[m.region];
    naming.lumens[m.region] = m.lumens;
  }
  return naming;
}

Naming NameScore::Evaluate(const Warp& warp, std::size_t pool) const {
  Naming best = Climbed(warp, Eigen::Vector2d::Zero(), pool);
  // All lumens may be off together by more than a small one's size.
  const auto largest =
      std::max_element(lumens_.begin(), lumens_.end(),
                       [](const Lumen& a, const Lumen& b) { return a.area < b.area; });
  const int k = static_cast<int>(largest - lumens_.begin());
  for (std::size_t r = 0; r < pools_[pool].regions.size(); ++r) {
    const Eigen::Vector2d off = Compare(warp, {k}, r, pools_[pool]).off;
    if (off.norm() > kFarthest || off.norm() < kCentre) continue;
    Naming next = Climbed(warp, off, pool);
    if (next.value > best.value) best = std::move(next);
  }
  return best;
}

Naming NameScore::Plain(const Warp& warp, std::size_t pool) const {
  Naming naming;
  naming.placed = naming.warp = warp;
  naming.pool = pool;
  naming.lumens.resize(pools_[pool].regions.size());
  for (const Match& m : Matches(warp, Eigen::Vector2d::Zero(), 0, pools_[pool]))
    naming.lumens[m.region] = m.lumens;
  return naming;
}

// Share of a region and its lumens, brought to one centre and size, that only one of them covers.
double NameScore::ShapeMiss(const Naming& naming, std::size_t region) const {
  const RegionPool& pool = pools_[naming.pool];
  const std::vector<int>& lumens = naming.lumens[region];
  const Match match = Compare(naming.warp, lumens, region, pool);
  const PointPx centre = pool.regions[region].centre;
  const PointPx nominal = centre - PointPx{match.off.x() * radius_px_, match.off.y() * radius_px_};
  const double shrink = std::exp(-match.size);
  const Eigen::Matrix2d back = naming.warp.linear.inverse();
  // Far enough for the lumens' shape, which may stick out of the region.
  const double reach = 2.5 * std::sqrt(pool.regions[region].area);
  const double px = pool.px_per_px;
  const double step = std::max(1.0, 2 * reach * px / 80);
  int both = 0, either = 0;
  for (double y = -reach * px; y <= reach * px; y += step) {
    for (double x = -reach * px; x <= reach * px; x += step) {
      const PointPx off{x / px, y / px};
      const bool in_region = pool.At(centre + off) == static_cast<int>(region);
      const PointPx q = nominal + shrink * off;
      const Eigen::Vector2d p = back * (Eigen::Vector2d(q.x, q.y) - naming.warp.shift);
      const int at = labels_.LabelAt({p.x(), p.y()});
      const int label = labels_.IsLayer(at) ? -1 : at - LabelScore::kFirstLumen;
      const bool in_lumen = std::find(lumens.begin(), lumens.end(), label) != lumens.end();
      both += in_region && in_lumen ? 1 : 0;
      either += in_region || in_lumen ? 1 : 0;
    }
  }
  return either > 0 ? 1.0 - static_cast<double>(both) / either : 1.0;
}

Naming NameScore::WithShapes(Naming naming) const {
  const RegionPool& pool = pools_[naming.pool];
  for (std::size_t r = 0; r < naming.lumens.size(); ++r) {
    if (naming.lumens[r].empty()) continue;
    const double diameter_px = 2 * std::sqrt(pool.regions[r].area / M_PI) * pool.px_per_px;
    const double cost = Cost(ShapeMiss(naming, r), kShape + kShapeEdge_px / diameter_px);
    naming.value -= std::min(cost, naming.gain[r]);
  }
  return naming;
}

bool NameScore::NamesAll(const Warp& warp, const Naming& best) const {
  const Naming plain = Plain(warp, best.pool);
  for (std::size_t r = 0; r < best.lumens.size(); ++r) {
    if (plain.lumens[r].empty() && !best.lumens[r].empty()) return false;
  }
  return SameNames(plain, best);
}

bool NameScore::SameNames(const Naming& a, const Naming& b) const {
  std::vector<std::vector<std::size_t>> of_a(lumens_.size()), of_b(lumens_.size());
  const auto groups = [&](const std::vector<int>& lumens, std::size_t region,
                          std::vector<std::vector<std::size_t>>& of) {
    std::vector<int> out;
    for (int k : lumens) {
      out.push_back(lumens_[static_cast<std::size_t>(k)].group);
      of[static_cast<std::size_t>(k)].push_back(region);
    }
    std::sort(out.begin(), out.end());
    return out;
  };
  for (std::size_t r = 0; r < a.lumens.size(); ++r) {
    const std::vector<int> one = groups(a.lumens[r], r, of_a), other = groups(b.lumens[r], r, of_b);
    if (!one.empty() && !other.empty() && one != other) return false;
  }
  for (std::size_t k = 0; k < lumens_.size(); ++k) {
    if (lumens_[k].alone && !of_a[k].empty() && !of_b[k].empty() && of_a[k] != of_b[k])
      return false;
  }
  return true;
}

std::map<int, int> NameScore::Renamed(const Naming& a, const Naming& b) const {
  const auto group = [&](int k) { return lumens_[static_cast<std::size_t>(k)].group; };
  std::map<int, int> renamed;
  for (std::size_t r = 0; r < a.lumens.size(); ++r) {
    for (int k : a.lumens[r]) {
      const std::vector<int>& there = b.lumens[r];
      const auto same = [&](int j) { return group(j) == group(k); };
      if (std::any_of(there.begin(), there.end(), same)) continue;
      renamed[k] = there.empty() ? -1 : there.front();
    }
  }
  // Who bears a name now that another one would get is in doubt as well.
  for (const auto& [from, to] : std::map<int, int>(renamed)) {
    if (to >= 0) renamed.emplace(to, -1);
  }
  return renamed;
}

}  // namespace cutface
