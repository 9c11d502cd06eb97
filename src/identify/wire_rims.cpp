#include "identify/wire_rims.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/raster.h"

namespace cutface {
namespace {

constexpr float kRimReach_px = 12;
constexpr std::size_t kRimBinLeast = 60;  // pixels that tell a distance's tone

cv::Rect Surroundings(const ContourPx& edge, const cv::Size& picture) {
  double left = 1e9, top = 1e9, right = -1e9, bottom = -1e9;
  for (const PointPx p : edge) {
    left = std::min(left, p.x), right = std::max(right, p.x);
    top = std::min(top, p.y), bottom = std::max(bottom, p.y);
  }
  const int margin = static_cast<int>(kRimReach_px) + 3;
  return cv::Rect(static_cast<int>(left) - margin, static_cast<int>(top) - margin,
                  static_cast<int>(right - left) + 2 * margin,
                  static_cast<int>(bottom - top) + 2 * margin) &
         cv::Rect(0, 0, picture.width, picture.height);
}

}  // namespace

RimTones::RimTones(const cv::Mat1b& known, const std::vector<ContourPx>& edges)
    : away_(known.size(), std::numeric_limits<float>::infinity()),
      which_(known.size(), short{-1}),
      rings_(edges.size()) {
  for (std::size_t k = 0; k < edges.size(); ++k) {
    if (edges[k].size() < 6) continue;
    const cv::Rect box = Surroundings(edges[k], known.size());
    if (box.width < 3 || box.height < 3) continue;
    ContourPx moved;
    for (const PointPx p : edges[k]) moved.push_back(p - PointPx{1.0 * box.x, 1.0 * box.y});
    cv::Mat inside(box.size(), CV_8UC1, cv::Scalar(0));
    FillContour(inside, moved, 255);
    cv::Mat1f within, without;
    cv::distanceTransform(inside, within, cv::DIST_L2, 5);
    cv::distanceTransform(255 - inside, without, cv::DIST_L2, 5);
    for (int y = 0; y < box.height; ++y) {
      for (int x = 0; x < box.width; ++x) {
        const float away = without(y, x) - within(y, x);
        float& nearest = away_(y + box.y, x + box.x);
        if (std::abs(away) > kRimReach_px || std::abs(away) > std::abs(nearest)) continue;
        nearest = away;
        which_(y + box.y, x + box.x) =
            known(y + box.y, x + box.x) != 0 ? static_cast<short>(k) : short{-1};
      }
    }
  }
}

std::size_t RimTones::BinAt(float away) const {
  return static_cast<std::size_t>(std::lround(away + kRimReach_px));
}

void RimTones::Tell(const cv::Mat1f& tone, const cv::Mat1f& body, double quantile) {
  const std::size_t bins = BinAt(kRimReach_px) + 1;
  std::vector<std::vector<std::vector<double>>> seen(rings_.size(),
                                                     std::vector<std::vector<double>>(bins));
  for (int y = 0; y < which_.rows; ++y) {
    for (int x = 0; x < which_.cols; ++x) {
      const short k = which_(y, x);
      if (k < 0 || !(body(y, x) > 0)) continue;
      const float away = away_(y, x);
      seen[static_cast<std::size_t>(k)][BinAt(away)].push_back(away < 0 ? tone(y, x)
                                                                        : tone(y, x) / body(y, x));
    }
  }
  for (std::size_t k = 0; k < rings_.size(); ++k) {
    rings_[k].assign(bins, -1.0f);
    for (std::size_t b = 0; b < bins; ++b) {
      if (seen[k][b].size() >= kRimBinLeast)
        rings_[k][b] = static_cast<float>(Quantile(std::move(seen[k][b]), quantile));
    }
  }
}

float RimTones::At(int y, int x, float body) const {
  const short k = which_(y, x);
  if (k < 0) return body;
  const float away = away_(y, x);
  const float tone = rings_[static_cast<std::size_t>(k)][BinAt(away)];
  if (tone < 0) return body;
  return away < 0 ? tone : tone * body;
}

}  // namespace cutface
