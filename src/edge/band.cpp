#include "edge/band.h"

#include <cmath>

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

// Nearest place within a block, or -1 when another block owns the pixel.
int OwnerInBlock(const Track& track, PointPx q, int begin, int end, double* distance) {
  const int n = static_cast<int>(track.at.size());
  int g = (begin + end) / 2;
  double along = 0, across = 0;
  for (int round = 0; round < 4; ++round) {
    const std::size_t i = static_cast<std::size_t>(((g % n) + n) % n);
    const PointPx d = q - track.at[i];
    const PointPx normal = track.normal[i];
    along = d.x * -normal.y + d.y * normal.x;  // tangent of a positively turning contour
    across = Dot(d, normal);
    const double stretch = std::max(0.25, 1 + track.curvature[i] * across);
    const double places = along / (track.spacing * stretch);
    if (std::abs(places) <= 0.5) break;
    const int move = static_cast<int>(std::lround(places));
    if (move == 0) break;
    g = std::clamp(g + move, begin - 3, end + 3);
  }
  if (g < begin || g >= end) return -1;
  const std::size_t i = static_cast<std::size_t>(((g % n) + n) % n);
  const double stretch = std::max(0.25, 1 + track.curvature[i] * across);
  if (std::abs(along) > 0.75 * track.spacing * stretch) return -1;
  *distance = across + 0.5 * track.curvature[i] * along * along;
  return g;
}

}  // namespace

Band CollectBand(const Micrograph& micrograph, const LightField& light, const Track& track,
                 double void_reach, double polymer_reach) {
  const int n = static_cast<int>(track.at.size());
  const double inward = track.side > 0 ? void_reach : polymer_reach;
  const double outward = track.side > 0 ? polymer_reach : void_reach;
  std::vector<std::vector<BandPixel>> by_place(n);
  for (int begin = 0; begin < n; begin += kBlock) {
    const int end = std::min(n, begin + kBlock);
    double left = 1e300, right = -1e300, top = 1e300, bottom = -1e300;
    for (int i = begin; i <= end; ++i) {
      const std::size_t k = static_cast<std::size_t>(i % n);
      for (double s : {-inward, outward}) {
        const PointPx p = track.at[k] + s * track.normal[k];
        left = std::min(left, p.x);
        right = std::max(right, p.x);
        top = std::min(top, p.y);
        bottom = std::max(bottom, p.y);
      }
    }
    const int x0 = std::max(0, static_cast<int>(std::floor(left))),
              x1 = std::min(micrograph.width() - 1, static_cast<int>(std::ceil(right)));
    const int y0 = std::max(0, static_cast<int>(std::floor(top))),
              y1 = std::min(micrograph.height() - 1, static_cast<int>(std::ceil(bottom)));
    for (int y = y0; y <= y1; ++y) {
      for (int x = x0; x <= x1; ++x) {
        double distance = 0;
        const int owner = OwnerInBlock(track, {static_cast<double>(x), static_cast<double>(y)},
                                       begin, end, &distance);
        if (owner < 0 || distance < -inward || distance > outward) continue;
        const double tone = micrograph.At(x, y) / light.At(x, y);
        by_place[owner].push_back(
            {static_cast<float>(track.side * distance), static_cast<float>(tone), 0, 0, x, y});
      }
    }
  }
  Band band;
  band.first.push_back(0);
  band.outside_frame.resize(n, 0);
  std::size_t total = 0;
  for (const auto& pixels : by_place) total += pixels.size();
  band.pixels.reserve(total);
  for (int i = 0; i < n; ++i) {
    band.pixels.insert(band.pixels.end(), by_place[i].begin(), by_place[i].end());
    band.first.push_back(band.pixels.size());
    const PointPx p = track.at[static_cast<std::size_t>(i)];
    band.outside_frame[i] =
        p.x < 1 || p.y < 1 || p.x > micrograph.width() - 2 || p.y > micrograph.height() - 2;
  }
  return band;
}

}  // namespace cutface
