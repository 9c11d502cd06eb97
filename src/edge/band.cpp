#include "edge/band.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace cutface {
namespace {

constexpr int kBlock = 8;  // places whose pixels are looked for together
constexpr double kCurvatureSmooth_px = 3;

}  // namespace

double LightField::At(double x, double y) const {
  const double u = std::clamp((x - middle.x) / size, -1.3, 1.3);
  const double v = std::clamp((y - middle.y) / size, -1.3, 1.3);
  return std::max(0.002, c[0] + c[1] * u + c[2] * v + c[3] * u * u + c[4] * u * v + c[5] * v * v);
}

Track MakeTrack(const ContourPx& contour, bool polymer_outside, double spacing) {
  Track track;
  track.side = polymer_outside ? 1 : -1;
  track.at = Resampled(std::span<const PointPx>(contour), spacing);
  if (SignedArea(std::span<const PointPx>(track.at)) < 0)
    std::reverse(track.at.begin(), track.at.end());
  track.normal = OutwardNormals(std::span<const PointPx>(track.at));
  const std::size_t n = track.at.size();
  track.spacing = Perimeter(std::span<const PointPx>(track.at)) / static_cast<double>(n);
  // Curvature from the turn of the normals over a few pixels.
  const int half = std::max(1, static_cast<int>(std::lround(kCurvatureSmooth_px / track.spacing)));
  track.curvature.resize(n);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t a = (i + n - static_cast<std::size_t>(half) % n) % n;
    const std::size_t b = (i + static_cast<std::size_t>(half)) % n;
    const double turn =
        std::atan2(Cross(track.normal[a], track.normal[b]), Dot(track.normal[a], track.normal[b]));
    track.curvature[i] = turn / (2 * half * track.spacing);
  }
  return track;
}

namespace {

constexpr int kBeyond = 3;     // places to either side of a block that may own a pixel looked at
constexpr double kMargin = 1;  // px, around the cells of a block

// A run of places whose pixels are looked for together, with copies of what is asked again and
// again.
struct Block {
  int begin = 0, end = 0;  // places
  struct Place {
    PointPx at, normal;
    double curvature = 0;
  };
  Place near[kBlock + 2 * kBeyond + 1];  // place i is near[i - begin + kBeyond]

  Block(const Track& track, int from, int to) : begin(from), end(to) {
    const int n = static_cast<int>(track.at.size());
    for (int i = begin - kBeyond; i <= end + kBeyond; ++i) {
      const std::size_t k = static_cast<std::size_t>(((i % n) + n) % n);
      near[i - begin + kBeyond] = {track.at[k], track.normal[k], track.curvature[k]};
    }
  }
  const Place& At(int i) const { return near[i - begin + kBeyond]; }

  // Nearest place, or -1 when another block owns the pixel.
  int Owner(double spacing, PointPx q, double* distance) const {
    int g = (begin + end) / 2;
    double along = 0, across = 0;
    for (int round = 0; round < 4; ++round) {
      const Place& place = At(g);
      const PointPx d = q - place.at;
      // The tangent of a positively turning contour.
      along = d.x * -place.normal.y + d.y * place.normal.x;
      across = Dot(d, place.normal);
      const double stretch = std::max(0.25, 1 + place.curvature * across);
      const double places = along / (spacing * stretch);
      if (std::abs(places) <= 0.5) break;
      // Rounded away from zero at halves, and without a call.
      const double far = static_cast<double>(kBlock + 2 * kBeyond);
      const int move = static_cast<int>(std::clamp(places, -far, far) + (places < 0 ? -0.5 : 0.5));
      if (move == 0) break;
      g = std::clamp(g + move, begin - kBeyond, end + kBeyond);
    }
    if (g < begin || g >= end) return -1;
    const Place& place = At(g);
    const double stretch = std::max(0.25, 1 + place.curvature * across);
    if (std::abs(along) > 0.75 * spacing * stretch) return -1;
    *distance = across + 0.5 * place.curvature * along * along;
    return g;
  }
};

// A rectangle along the block that holds all of its places' cells: pixels outside belong to others.
class Slab {
 public:
  Slab(const Block& block, double spacing, double inward, double outward) {
    PointPx sum;
    for (int i = block.begin; i < block.end; ++i) sum = sum + block.At(i).normal;
    const double length = Norm(sum);
    across_ = length > 1e-9 ? (1 / length) * sum : block.At(block.begin).normal;
    along_ = {-across_.y, across_.x};
    for (int i = block.begin; i < block.end; ++i) {
      const Block::Place& place = block.At(i);
      const PointPx tangent{-place.normal.y, place.normal.x};
      for (const double s : {-inward - kMargin, outward + kMargin}) {
        const double half = 0.75 * spacing * std::max(0.25, 1 + place.curvature * s) + kMargin;
        for (const double side : {-half, half}) Hold(place.at + s * place.normal + side * tangent);
      }
    }
  }

  int first_row() const { return static_cast<int>(std::ceil(top_)); }
  int last_row() const { return static_cast<int>(std::floor(bottom_)); }
  // Columns of row y, as far as [first, last] goes.
  std::pair<int, int> Columns(double y, int first, int last) const {
    double from = std::max(left_, static_cast<double>(first)),
           to = std::min(right_, static_cast<double>(last));
    Cut(along_, y, least_along_, most_along_, from, to);
    Cut(across_, y, least_across_, most_across_, from, to);
    return {static_cast<int>(std::ceil(from)), static_cast<int>(std::floor(to))};
  }

 private:
  void Hold(PointPx p) {
    const double a = Dot(p, along_), c = Dot(p, across_);
    least_along_ = std::min(least_along_, a);
    most_along_ = std::max(most_along_, a);
    least_across_ = std::min(least_across_, c);
    most_across_ = std::max(most_across_, c);
    left_ = std::min(left_, p.x);
    right_ = std::max(right_, p.x);
    top_ = std::min(top_, p.y);
    bottom_ = std::max(bottom_, p.y);
  }
  static void Cut(PointPx way, double y, double least, double most, double& from, double& to) {
    if (std::abs(way.x) < 1e-6) return;  // the box cuts there
    const double a = (least - way.y * y) / way.x, b = (most - way.y * y) / way.x;
    from = std::max(from, std::min(a, b));
    to = std::min(to, std::max(a, b));
  }

  PointPx along_, across_;
  double least_along_ = 1e300, most_along_ = -1e300, least_across_ = 1e300, most_across_ = -1e300;
  double left_ = 1e300, right_ = -1e300, top_ = 1e300, bottom_ = -1e300;
};

// The pixels of one block, each with its place.
void LookIn(const Block& block, const Micrograph& micrograph, const LightField& light,
            const Track& track, double inward, double outward,
            std::vector<std::pair<int, BandPixel>>& found) {
  found.clear();
  const Slab slab(block, track.spacing, inward, outward);
  const int y0 = std::max(0, slab.first_row()),
            y1 = std::min(micrograph.height() - 1, slab.last_row());
  for (int y = y0; y <= y1; ++y) {
    const auto [x0, x1] = slab.Columns(y, 0, micrograph.width() - 1);
    for (int x = x0; x <= x1; ++x) {
      double distance = 0;
      const int owner =
          block.Owner(track.spacing, {static_cast<double>(x), static_cast<double>(y)}, &distance);
      if (owner < 0 || distance < -inward || distance > outward) continue;
      const double tone = micrograph.At(x, y) / light.At(x, y);
      found.push_back(
          {owner - block.begin,
           {static_cast<float>(track.side * distance), static_cast<float>(tone), 0, 0, x, y}});
    }
  }
}

}  // namespace

Band CollectBand(const Micrograph& micrograph, const LightField& light, const Track& track,
                 double void_reach, double polymer_reach) {
  const int n = static_cast<int>(track.at.size());
  const double inward = track.side > 0 ? void_reach : polymer_reach;
  const double outward = track.side > 0 ? polymer_reach : void_reach;
  Band band;
  band.first.reserve(track.at.size() + 1);
  band.first.push_back(0);
  band.pixels.reserve(static_cast<std::size_t>(n * track.spacing * (inward + outward) * 1.1));
  std::vector<std::pair<int, BandPixel>> found;
  for (int begin = 0; begin < n; begin += kBlock) {
    const Block block(track, begin, std::min(n, begin + kBlock));
    LookIn(block, micrograph, light, track, inward, outward, found);
    // By place; within a place row by row, as they were found.
    std::size_t next[kBlock + 1] = {};
    for (const auto& [place, pixel] : found) ++next[place + 1];
    const std::size_t base = band.pixels.size();
    for (int i = 0; i < block.end - begin; ++i) {
      next[i + 1] += next[i];
      band.first.push_back(base + next[i + 1]);
    }
    band.pixels.resize(base + found.size());
    for (const auto& [place, pixel] : found) band.pixels[base + next[place]++] = pixel;
  }
  band.outside_frame.resize(track.at.size(), 0);
  for (int i = 0; i < n; ++i) {
    const PointPx p = track.at[static_cast<std::size_t>(i)];
    band.outside_frame[static_cast<std::size_t>(i)] =
        p.x < 1 || p.y < 1 || p.x > micrograph.width() - 2 || p.y > micrograph.height() - 2;
  }
  return band;
}

}  // namespace cutface
