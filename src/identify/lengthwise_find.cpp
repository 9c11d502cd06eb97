// Metal in the walls of a lengthwise section, before edges are settled.
#include <algorithm>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "identify/lengthwise.h"
#include "identify/lengthwise_drawn.h"
#include "identify/outline_lay.h"

namespace cutface {
namespace {

constexpr double kRowReach = 0.12;  // of the tube: how far rows may lie off where drawn

constexpr double kSpeckGrown = 1.25, kSpeckGrown_px = 3;  // a wire with its halo, at most
constexpr double kLeastOfWires = 0.4;  // share of the drawn metal that specks must make up
constexpr int kUsualTurns = 10;        // where the drawing does not say how many
constexpr double kSpeckShare = 0.5;    // of what most specks differ: a speck's edge
constexpr double kMostSpecked = 0.15;  // of the picture: beyond, it is no metal
constexpr double kLeastStep = 0.05;    // of the picture's usual tone

// What a shape of this size differs by from all that surrounds it.
cv::Mat1f Tophat(const cv::Mat1f& work, const cv::Mat& shape, bool bright) {
  cv::Mat1f hat;
  cv::morphologyEx(work, hat, bright ? cv::MORPH_TOPHAT : cv::MORPH_BLACKHAT, shape);
  return hat;
}

// What the largest `count` of the values exceed.
double ExceededBy(const cv::Mat1f& values, std::size_t count) {
  std::vector<float> all(values.begin(), values.end());
  count = std::min(count, all.size() - 1);
  const auto at = all.begin() + static_cast<std::ptrdiff_t>(count);
  std::nth_element(all.begin(), at, all.end(), std::greater<>());
  return *at;
}

}  // namespace

cv::Mat1f WithoutSpecks(const cv::Mat1f& work, double um_per_px, const SectionDesign& plane) {
  cv::Mat1f out = work;
  const cv::Scalar usual = cv::mean(work);
  for (const WireLayerDesign& layer : plane.wires) {
    const DrawnWire drawn = SizeOf(layer);
    const double across = drawn.across / um_per_px, along = drawn.along / um_per_px;
    if (!(across > 1)) continue;
    const int size = static_cast<int>(kSpeckGrown * along + kSpeckGrown_px) | 1;
    const cv::Mat shape = cv::getStructuringElement(cv::MORPH_ELLIPSE, {size, size});
    const auto metal = static_cast<std::size_t>(kLeastOfWires * layer.count.value_or(kUsualTurns) *
                                                M_PI / 4 * across * along);
    const cv::Mat1f high = Tophat(out, shape, true), low = Tophat(out, shape, false);
    const double step_high = ExceededBy(high, metal), step_low = ExceededBy(low, metal);
    const bool bright = step_high > step_low;
    const double step = std::max(step_high, step_low);
    if (step < kLeastStep * usual[0]) continue;
    cv::Mat1b specks((bright ? high : low) > kSpeckShare * step);
    cv::dilate(specks, specks, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
    if (cv::countNonZero(specks) > kMostSpecked * static_cast<double>(work.total())) continue;
    cv::Mat1f plain, next = out.clone();
    cv::morphologyEx(out, plain, bright ? cv::MORPH_OPEN : cv::MORPH_CLOSE, shape);
    plain.copyTo(next, specks);
    out = next;
  }
  return out;
}

std::vector<WallMetal> FindLengthwise(const Micrograph& micrograph, const Pose& pose,
                                      const FaceTones& tones, const Scale& scale,
                                      const SectionDesign& plane, const Regions& regions) {
  std::vector<WallMetal> all;
  const double pitch = scale.mean_pitch_um();
  const Box<FrameUm> box = BoundingBox(plane.outline.contour);
  for (const WireLayerDesign& layer : plane.wires) {
    const DrawnWire drawn = SizeOf(layer);
    WallSearch search;
    search.outline = &pose.outline;
    for (const CoarseLumen& lumen : regions.lumens) search.bores.push_back(&lumen.contour);
    search.across_px = drawn.across / pitch;
    search.along_px = drawn.along / pitch;
    search.noise = tones.fine_noise;
    // Registration follows the bore, which need not lie in the middle of the tube.
    const double reach = std::max(2 * drawn.across, kRowReach * (box.greatest.y - box.least.y));
    for (const Warp& warp : {pose.warp, LaidOn(pose.warp, plane, pose.outline, 1)}) {
      for (const double side : {-1.0, 1.0}) {
        for (double off = -reach; off <= reach; off += 0.4 * drawn.across) {
          const double y = MiddleOf(plane) + side * RadiusOf(layer) + off;
          std::vector<PointPx>& line = search.lines.emplace_back();
          for (double x = box.least.x; x < box.greatest.x; x += 0.5 * pitch)
            line.push_back(warp({x, y}));
        }
      }
    }
    all.push_back(FindWallMetal(micrograph, tones.light, search));
  }
  return all;
}

void DropWires(const std::vector<WallMetal>& metal, Regions& regions) {
  std::erase_if(regions.voids, [&](const CoarseVoid& v) {
    const PointPx middle = Centroid(v.contour);
    return std::any_of(metal.begin(), metal.end(), [&](const WallMetal& layer) {
      return std::any_of(layer.wires.begin(), layer.wires.end(), [&](const CutWire& wire) {
        return Contains(wire.edge, middle) || Contains(v.contour, wire.centre);
      });
    });
  });
}

}  // namespace cutface
