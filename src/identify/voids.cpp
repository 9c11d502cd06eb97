#include "identify/voids.h"

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kVoidStep = 0.30;      // of the lumens' step
constexpr double kVoidNoise = 5;        // standard deviations of the body at that distance
constexpr double kVoidDiameter = 4.0;   // px of the full picture, before edge fitting
constexpr double kCompact = 0.42;       // equal-area diameter / diagonal of the box
constexpr double kSolid = 0.70;         // area / area of the convex hull
constexpr float kSliver = 3.2f;         // work px from a contour
constexpr double kSliverShare = 0.4;    // of a place's pixels
constexpr int kProfileBins = 14;        // of one work pixel, distance from a contour
constexpr std::size_t kBinLeast = 40;   // pixels in a bin that is believed on its own
constexpr int kPeelings = 3;            // weaker voids beside stronger ones
constexpr double kStepSlope = 2.50663;  // sqrt(2 pi): height / slope of a blurred step of sigma 1

// What the body's tone usually is at each distance from each contour, and how much it scatters.
class EdgeProfile {
 public:
  EdgeProfile(const cv::Mat1f& tone, const cv::Mat1b& solid, double noise) : noise_(noise) {
    cv::distanceTransform(solid, distance_, nearest_, cv::DIST_L2, cv::DIST_MASK_5,
                          cv::DIST_LABEL_CCOMP);
    double most = 0;
    cv::minMaxLoc(nearest_, nullptr, &most);
    std::vector<std::vector<double>> values((static_cast<std::size_t>(most) + 1) * kProfileBins);
    std::vector<std::vector<double>> pooled(kProfileBins);
    for (int y = 0; y < solid.rows; ++y) {
      for (int x = 0; x < solid.cols; ++x) {
        const int bin = BinAt(y, x);
        if (!solid(y, x) || bin >= kProfileBins) continue;
        values[Row(y, x) + static_cast<std::size_t>(bin)].push_back(tone(y, x));
        pooled[static_cast<std::size_t>(bin)].push_back(tone(y, x));
      }
    }
    std::vector<Bin> common;
    for (auto& v : pooled) common.push_back(Summary(v, {1.0, noise}));
    for (std::size_t i = 0; i < values.size(); ++i)
      bins_.push_back(Summary(values[i], common[i % kProfileBins]));
  }

  float Distance(int y, int x) const { return distance_(y, x); }
  double Median(int y, int x) const { return At(y, x).median; }
  double Scatter(int y, int x) const { return At(y, x).scatter; }

 private:
  struct Bin {
    double median = 1, scatter = 0;
  };
  Bin Summary(std::vector<double>& values, Bin otherwise) const {
    if (values.size() < kBinLeast) return otherwise;
    return {cutface::Median(values), std::max(noise_, RobustSigma(values))};
  }
  int BinAt(int y, int x) const { return static_cast<int>(distance_(y, x) - 0.5f); }
  std::size_t Row(int y, int x) const {
    return static_cast<std::size_t>(nearest_(y, x)) * kProfileBins;
  }
  Bin At(int y, int x) const {
    const int bin = BinAt(y, x);
    if (bin >= kProfileBins) return {1.0, noise_};
    return bins_[Row(y, x) + static_cast<std::size_t>(std::max(0, bin))];
  }

  double noise_;
  cv::Mat1f distance_;
  cv::Mat1i nearest_;
  std::vector<Bin> bins_;
};

class VoidFinder {
 public:
  VoidFinder(const FaceTones& tones, int reduction, const cv::Mat1b& inside, const cv::Mat1b& taken)
      : tones_(tones), reduction_(reduction), roi_(cv::boundingRect(inside)) {
    // One pixel beyond the outline, so that the outline is an edge in the cut-out too.
    roi_ = cv::Rect(roi_.x - 2, roi_.y - 2, roi_.width + 4, roi_.height + 4) &
           cv::Rect(0, 0, inside.cols, inside.rows);
    solid_ = inside(roi_).clone();
    solid_.setTo(0, taken(roi_));
    left_ = cv::Mat1f(roi_.size(), 0.0f);
    open_ = cv::Mat1b(roi_.size(), uchar{0});
  }

  std::vector<CoarseVoid> Find() {
    if (roi_.area() == 0 || tones_.typical_step == 0) return {};
    const cv::Mat1f tone = tones_.relative(roi_);
    const EdgeProfile profile(tone, solid_, tones_.noise);
    const double least = kVoidStep * std::min(1.0, std::abs(tones_.typical_step));
    for (const float way : {-1.0f, 1.0f}) {
      int count = 0;
      for (int y = 0; y < tone.rows; ++y) {
        for (int x = 0; x < tone.cols; ++x) {
          open_(y, x) = 0;
          left_(y, x) = 0;
          if (!solid_(y, x) || profile.Distance(y, x) < 1.5f) continue;
          const double d = way * (tone(y, x) - profile.Median(y, x));
          left_(y, x) = static_cast<float>(d);
          if (d <= std::max(least, kVoidNoise * profile.Scatter(y, x))) continue;
          open_(y, x) = 255;
          ++count;
        }
      }
      if (count > 0) Peel({0, 0, open_.cols, open_.rows}, open_, way, 0, profile);
    }
    return std::move(found_);
  }

 private:
  struct Part {
    cv::Rect box;
    cv::Mat1b mask;
    int area = 0;
  };

  double LeastArea() const {
    return M_PI / 4 * kVoidDiameter * kVoidDiameter / (reduction_ * reduction_);
  }

  // Connected parts of a mask that lies at `box` in the cut-out.
  std::vector<Part> PartsOf(const cv::Mat1b& mask, cv::Rect box) const {
    cv::Mat1i label;
    cv::Mat stats, centroids;
    const int count = cv::connectedComponentsWithStats(mask, label, stats, centroids, 8, CV_32S);
    std::vector<Part> parts;
    const cv::Rect all(0, 0, open_.cols, open_.rows);
    for (int i = 1; i < count; ++i) {
      Part part;
      part.area = stats.at<int>(i, cv::CC_STAT_AREA);
      if (part.area < LeastArea()) continue;
      const cv::Rect tight(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                           stats.at<int>(i, cv::CC_STAT_WIDTH),
                           stats.at<int>(i, cv::CC_STAT_HEIGHT));
      part.box =
          cv::Rect(tight.x + box.x - 3, tight.y + box.y - 3, tight.width + 6, tight.height + 6) &
          all;
      part.mask = cv::Mat1b(part.box.size(), uchar{0});
      const cv::Point to = tight.tl() + box.tl() - part.box.tl();
      cv::Mat target = part.mask(cv::Rect(to, tight.size()));
      cv::Mat(label(tight) == i).copyTo(target);
      parts.push_back(std::move(part));
    }
    return parts;
  }

  // Takes the strongest places of each part at half of its peak, then what lies beside them.
  void Peel(cv::Rect box, const cv::Mat1b& mask, float way, int depth, const EdgeProfile& profile) {
    for (const Part& part : PartsOf(mask, box)) {
      const float half = 0.5f * Peak(part);
      cv::Mat1b upper(part.mask.size(), uchar{0});
      cv::Mat(left_(part.box) > half).copyTo(upper, part.mask);
      for (const Part& top : PartsOf(upper, part.box)) {
        if (IsCompact(top) && !LeansOnEdge(top, profile)) Take(top, way);
      }
      if (depth >= kPeelings) continue;
      cv::Mat1b grown, rest = part.mask.clone();
      cv::dilate(upper, grown, cv::getStructuringElement(cv::MORPH_ELLIPSE, {7, 7}));
      rest.setTo(0, grown);
      if (cv::countNonZero(rest) >= LeastArea()) Peel(part.box, rest, way, depth + 1, profile);
    }
  }

  float Peak(const Part& part) const {
    std::vector<double> values;
    for (int y = 0; y < part.mask.rows; ++y) {
      for (int x = 0; x < part.mask.cols; ++x) {
        if (part.mask(y, x)) values.push_back(left_(y + part.box.y, x + part.box.x));
      }
    }
    // The tenth strongest of a small place, the strongest fifth of a large one.
    const double share = std::min(0.2, 10.0 / static_cast<double>(values.size()));
    return static_cast<float>(Quantile(std::move(values), 1 - share));
  }

  bool IsCompact(const Part& part) const {
    const double diameter = 2 * std::sqrt(part.area / M_PI);
    if (diameter < kCompact * std::hypot(part.box.width - 6, part.box.height - 6)) return false;
    std::vector<std::vector<cv::Point>> chains;
    cv::findContours(part.mask, chains, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
    std::vector<cv::Point> hull;
    cv::convexHull(chains.front(), hull);
    // A hull through pixel centres leaves out half a pixel all around.
    const double around = cv::arcLength(hull, true);
    return part.area > kSolid * (cv::contourArea(hull) + 0.5 * around + 1);
  }

  // A sliver along a contour is a contour that is not quite where the edge is.
  static bool LeansOnEdge(const Part& part, const EdgeProfile& profile) {
    int near = 0;
    for (int y = 0; y < part.mask.rows; ++y) {
      for (int x = 0; x < part.mask.cols; ++x)
        near += part.mask(y, x) && profile.Distance(y + part.box.y, x + part.box.x) < kSliver;
    }
    return near > kSliverShare * part.area;
  }

  void Take(const Part& part, float way) {
    CoarseVoid found;
    found.contour = MaskBoundary(part.mask, part.box.tl() + roi_.tl(), reduction_);
    if (found.contour.size() < 6) return;
    const double peak = Peak(part);
    found.step = way * peak;
    found.noise = tones_.noise;
    std::vector<double> slope;
    for (int y = 1; y + 1 < part.mask.rows; ++y) {
      for (int x = 1; x + 1 < part.mask.cols; ++x) {
        const bool rim = part.mask(y, x) && (!part.mask(y, x - 1) || !part.mask(y, x + 1) ||
                                             !part.mask(y - 1, x) || !part.mask(y + 1, x));
        if (!rim) continue;
        const int u = x + part.box.x, v = y + part.box.y;
        slope.push_back(
            0.5 * std::hypot(left_(v, u + 1) - left_(v, u - 1), left_(v + 1, u) - left_(v - 1, u)));
      }
    }
    if (!slope.empty()) {
      const double sigma = peak / (kStepSlope * std::max(1e-6, Median(std::move(slope))));
      const double own = sigma * sigma - tones_.smoothing_px * tones_.smoothing_px;
      found.blur_px = reduction_ * std::sqrt(std::max(0.0, own));
    }
    found_.push_back(std::move(found));
  }

  const FaceTones& tones_;
  int reduction_;
  cv::Rect roi_;
  cv::Mat1b solid_, open_;
  cv::Mat1f left_;  // signed tone beyond the profile's, the way looked for
  std::vector<CoarseVoid> found_;
};

}  // namespace

ContourPx MaskBoundary(const cv::Mat1b& mask, cv::Point origin, int reduction) {
  std::vector<std::vector<cv::Point>> found;
  cv::findContours(mask, found, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  const std::vector<cv::Point>* best = nullptr;
  for (const auto& c : found) {
    if (best == nullptr || c.size() > best->size()) best = &c;
  }
  ContourPx contour;
  if (best == nullptr || best->size() < 6) return contour;
  for (cv::Point p : *best) {
    contour.push_back(
        {(p.x + origin.x + 0.5) * reduction - 0.5, (p.y + origin.y + 0.5) * reduction - 0.5});
  }
  if (SignedArea(std::span<const PointPx>(contour)) < 0)
    std::reverse(contour.begin(), contour.end());
  // The chain runs through the centres of the border pixels: half a work pixel inside the border.
  const std::size_t n = contour.size();
  ContourPx smooth(n);
  const int half = 3;
  for (std::size_t i = 0; i < n; ++i) {
    PointPx sum;
    double weight = 0;
    for (int k = -half; k <= half; ++k) {
      const double w = half + 1 - std::abs(k);
      sum = sum + w * contour[(i + n + static_cast<std::size_t>(k + static_cast<int>(n))) % n];
      weight += w;
    }
    smooth[i] = (1 / weight) * sum;
  }
  const ContourPx normals = OutwardNormals(std::span<const PointPx>(smooth));
  for (std::size_t i = 0; i < n; ++i) smooth[i] = smooth[i] + (0.5 * reduction) * normals[i];
  return smooth;
}

std::vector<CoarseVoid> FindVoids(const FaceTones& tones, int reduction, const cv::Mat1b& inside,
                                  const cv::Mat1b& taken) {
  return VoidFinder(tones, reduction, inside, taken).Find();
}

}  // namespace cutface
