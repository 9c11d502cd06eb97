#include "identify/region_pool.h"

#include <opencv2/imgproc.hpp>

#include "identify/raster.h"

namespace cutface {
namespace {

constexpr double kPoolRadius = 150;  // of the outline, px: finer shows no other regions
constexpr double kLevels[] = {0.5, 0.65, 0.8};
constexpr double kOtherTone = 0.3;     // steps nearer to each other (share) are one class
constexpr double kLeastArea = 0.0015;  // of the outline's

// Steps from the body that the drawing's lumens show, the strongest first.
std::vector<double> Steps(const FaceTones& tones) {
  std::vector<double> all{tones.typical_step}, steps;
  for (double tone : tones.lumen) {
    if (std::isfinite(tone)) all.push_back(tone - 1);
  }
  std::sort(all.begin(), all.end(), [](double a, double b) { return std::abs(a) > std::abs(b); });
  for (double step : all) {
    if (std::abs(step) < std::max(0.15 * std::abs(tones.typical_step), 3 * tones.noise)) continue;
    if (steps.empty() || std::abs(step - steps.back()) > kOtherTone * std::abs(steps.back()))
      steps.push_back(step);
  }
  return steps;
}

// Adds the regions of one tone that lie beside those found already.
void Collect(const cv::Mat1f& relative, const cv::Mat1b& inside, double step, double level,
             double least_area, RegionPool& pool) {
  cv::Mat1b free, mask(relative.size(), uchar{0});
  cv::dilate(cv::Mat(pool.label > 0), free, cv::Mat::ones(5, 5, CV_8U));
  for (int y = 0; y < mask.rows; ++y) {
    for (int x = 0; x < mask.cols; ++x) {
      if (inside(y, x) && !free(y, x) && (relative(y, x) - 1) / step > level) mask(y, x) = 255;
    }
  }
  cv::Mat1i label;
  cv::Mat stats, centroids;
  const int count = cv::connectedComponentsWithStats(mask, label, stats, centroids, 4, CV_32S);
  std::vector<int> to(static_cast<std::size_t>(count), 0);
  const double px = pool.px_per_px;
  for (int i = 1; i < count; ++i) {
    const double area = stats.at<int>(i, cv::CC_STAT_AREA) / (px * px);
    if (area < least_area) continue;
    const PointPx centre{pool.corner.x + (centroids.at<double>(i, 0) + 0.5) / px,
                         pool.corner.y + (centroids.at<double>(i, 1) + 0.5) / px};
    pool.regions.push_back({centre, area});
    to[static_cast<std::size_t>(i)] = static_cast<int>(pool.regions.size());
  }
  for (int y = 0; y < label.rows; ++y) {
    for (int x = 0; x < label.cols; ++x) {
      if (const int found = to[static_cast<std::size_t>(label(y, x))]) pool.label(y, x) = found;
    }
  }
}

}  // namespace

int RegionPool::At(PointPx p) const {
  const int x = static_cast<int>(std::floor((p.x - corner.x) * px_per_px));
  const int y = static_cast<int>(std::floor((p.y - corner.y) * px_per_px));
  if (x < 0 || y < 0 || x >= label.cols || y >= label.rows) return -1;
  return label(y, x) - 1;
}

std::vector<RegionPool> FindRegionPools(const FaceTones& tones, int reduction, const Pose& pose) {
  const double outline_area = Area(std::span<const PointPx>(pose.outline));
  const double radius = std::sqrt(outline_area / M_PI) / reduction;
  const double shrink = std::min(1.0, kPoolRadius / radius);
  const double px = shrink / reduction;
  // Only what the outline holds; half a pixel lies between a pixel's centre and its corner.
  const Box<FramePx> box = BoundingBox(std::span<const PointPx>(pose.outline));
  const cv::Point from(static_cast<int>(std::floor(box.least.x / reduction)) - 2,
                       static_cast<int>(std::floor(box.least.y / reduction)) - 2);
  const cv::Point to(static_cast<int>(std::ceil(box.greatest.x / reduction)) + 3,
                     static_cast<int>(std::ceil(box.greatest.y / reduction)) + 3);
  const cv::Rect part = cv::Rect(from, to) & cv::Rect({0, 0}, tones.fine.size());
  const PointPx corner{part.x * static_cast<double>(reduction) - 0.5,
                       part.y * static_cast<double>(reduction) - 0.5};
  if (part.width < 8 || part.height < 8) return {};
  cv::Mat1f relative;
  cv::resize(tones.fine(part), relative, cv::Size(), shrink, shrink, cv::INTER_AREA);
  cv::GaussianBlur(relative, relative, cv::Size(), 0.7);
  cv::Mat inside(relative.size(), CV_8UC1, cv::Scalar(0));
  ContourPx outline;
  for (PointPx p : pose.outline)
    outline.push_back({(p.x - corner.x) * px - 0.5, (p.y - corner.y) * px - 0.5});
  FillContour(inside, outline, 255);
  cv::erode(inside, inside, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  std::vector<RegionPool> pools;
  const std::vector<double> steps = Steps(tones);
  for (double level : kLevels) {
    RegionPool pool;
    pool.px_per_px = px;
    pool.corner = corner;
    pool.label = cv::Mat1i(relative.size(), 0);
    for (double step : steps)
      Collect(relative, inside, step, level, kLeastArea * outline_area, pool);
    // Nothing parted since the last level: the same regions, only a little smaller.
    if (pools.empty() || pool.regions.size() != pools.back().regions.size())
      pools.push_back(std::move(pool));
  }
  return pools;
}

}  // namespace cutface
