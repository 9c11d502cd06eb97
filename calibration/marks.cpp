#include "calibration/marks.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface::calibration {
namespace {

constexpr double kBrightestShare = 0.985;  // marks cover more than the rest of the picture
constexpr double kLeastArea = 0.55, kMostArea = 1.7;  // of the median mark
constexpr int kDilate_px = 3;                         // blur carries light out of a mark
constexpr std::size_t kSampled = 40000;
constexpr int kShrink = 2;  // the ground is told from a reduced copy

double SampledQuantile(const cv::Mat& image, double p) {
  std::vector<double> values;
  // Odd steps, so that no column of a regular grid is sampled alone.
  const auto step = static_cast<int>(std::max<std::size_t>(1, image.total() / kSampled)) | 1;
  for (int i = 0; i < static_cast<int>(image.total()); i += step) {
    values.push_back(static_cast<double>(image.at<float>(i / image.cols, i % image.cols)));
  }
  const auto at = static_cast<std::ptrdiff_t>(p * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

// Tone of the ground around each place: the mean of what is no mark, in a window.
cv::Mat FreeGround(const cv::Mat& tone, const cv::Mat& marks, int window) {
  cv::Mat free, weight, sum, count;
  cv::dilate(marks, free,
             cv::getStructuringElement(
                 cv::MORPH_ELLIPSE, {2 * kDilate_px / kShrink + 1, 2 * kDilate_px / kShrink + 1}));
  cv::bitwise_not(free, free);
  free.convertTo(weight, CV_32F, 1.0 / 255);
  cv::boxFilter(tone.mul(weight), sum, CV_32F, {window, window}, {-1, -1}, true,
                cv::BORDER_REFLECT);
  cv::boxFilter(weight, count, CV_32F, {window, window}, {-1, -1}, true, cv::BORDER_REFLECT);
  cv::Mat ground = sum / (count + 1e-6f);
  return ground;
}

struct Labels {
  cv::Mat map, stats, centres;
  int count = 0;
};

Labels LabelsOf(const cv::Mat& mask) {
  Labels labels;
  labels.count =
      cv::connectedComponentsWithStats(mask, labels.map, labels.stats, labels.centres, 8);
  return labels;
}

Blob Weighed(const cv::Mat& light, const Labels& labels, int label) {
  const int* s = labels.stats.ptr<int>(label);
  Blob blob;
  blob.area = s[cv::CC_STAT_AREA];
  const int x0 = std::max(0, s[cv::CC_STAT_LEFT] - kDilate_px);
  const int y0 = std::max(0, s[cv::CC_STAT_TOP] - kDilate_px);
  const int x1 = std::min(light.cols, s[cv::CC_STAT_LEFT] + s[cv::CC_STAT_WIDTH] + kDilate_px);
  const int y1 = std::min(light.rows, s[cv::CC_STAT_TOP] + s[cv::CC_STAT_HEIGHT] + kDilate_px);
  double sum = 0, sx = 0, sy = 0;
  for (int y = y0; y < y1; ++y) {
    for (int x = x0; x < x1; ++x) {
      const int other = labels.map.at<int>(y, x);
      if (other != 0 && other != label) continue;
      const double w = static_cast<double>(light.at<float>(y, x));
      sum += w;
      sx += w * x;
      sy += w * y;
    }
  }
  blob.at = {sx / sum, sy / sum};
  return blob;
}

// Ground and threshold, from a reduced copy: both change slowly.
struct Ground {
  cv::Mat tone;  // of full size
  double sign = 1, level = 0;
};
Ground GroundOf(const cv::Mat& tone) {
  cv::Mat small, ground, light, mask;
  cv::resize(tone, small, {}, 1.0 / kShrink, 1.0 / kShrink, cv::INTER_AREA);
  const int wide = std::max(15 / kShrink, std::min(small.cols, small.rows) / 6) | 1;
  cv::boxFilter(small, ground, CV_32F, {wide, wide}, {-1, -1}, true, cv::BORDER_REFLECT);
  light = small - ground;
  const double dark = SampledQuantile(light, 1 - kBrightestShare);
  const double bright = SampledQuantile(light, kBrightestShare);
  Ground out;
  out.sign = -dark > bright ? -1 : 1;
  out.level = 0.5 * std::max(-dark, bright);
  // Twice: the ground is cleaner once the marks are known.
  for (int pass = 0; pass < 2; ++pass) {
    light = out.sign * (small - ground);
    mask = light > out.level;
    ground = FreeGround(small, mask, wide);
    light = out.sign * (small - ground);
    out.level = 0.5 * SampledQuantile(light, kBrightestShare);
  }
  cv::resize(ground, out.tone, tone.size(), 0, 0, cv::INTER_LINEAR);
  return out;
}

}  // namespace

std::vector<Blob> FindBlobs(const Micrograph& picture) {
  cv::Mat tone, light, smooth, mask;
  picture.tone.convertTo(tone, CV_32F, 1 / picture.full_scale());
  const Ground ground = GroundOf(tone);
  // In place: at 12 MP every copy of the picture costs as much as a pass over it.
  if (ground.sign > 0) {
    cv::subtract(tone, ground.tone, light);
  } else {
    cv::subtract(ground.tone, tone, light);
  }
  tone.release();
  cv::GaussianBlur(light, smooth, {5, 5}, 0.8);
  mask = smooth > ground.level;
  const Labels labels = LabelsOf(mask);
  std::vector<double> areas;
  for (int k = 1; k < labels.count; ++k) {
    if (labels.stats.at<int>(k, cv::CC_STAT_AREA) >= 6) {
      areas.push_back(labels.stats.at<int>(k, cv::CC_STAT_AREA));
    }
  }
  std::vector<Blob> blobs;
  if (areas.empty()) return blobs;
  const double usual = Median(areas);
  for (int k = 1; k < labels.count; ++k) {
    const int* s = labels.stats.ptr<int>(k);
    const double area = s[cv::CC_STAT_AREA];
    if (area < kLeastArea * usual || area > kMostArea * usual) continue;
    const int margin = kDilate_px + 1;
    if (s[cv::CC_STAT_LEFT] < margin || s[cv::CC_STAT_TOP] < margin ||
        s[cv::CC_STAT_LEFT] + s[cv::CC_STAT_WIDTH] + margin > light.cols ||
        s[cv::CC_STAT_TOP] + s[cv::CC_STAT_HEIGHT] + margin > light.rows) {
      continue;
    }
    blobs.push_back(Weighed(light, labels, k));
  }
  return blobs;
}

}  // namespace cutface::calibration
