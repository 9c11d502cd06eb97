#include "identify/label_score.h"

#include <Eigen/Dense>
#include <array>
#include <opencv2/imgproc.hpp>

#include "identify/raster.h"

namespace cutface {
namespace {

constexpr int kLight = 3;               // x, y, r^2 beside the constants that the labels carry
constexpr double kRasterRadius = 110;   // raster px per outline radius
constexpr double kOutsideReach = 0.13;  // of the radius, looked at beyond the outline
constexpr int kBodySamples = 1400, kOutsideSamples = 500, kLumenSamples = 350;

// Depth of each raster pixel in its own label.
cv::Mat1f Depth(const cv::Mat1s& raster) {
  cv::Mat1b same(raster.size(), uchar{255});
  for (int y = 0; y < raster.rows; ++y) {
    for (int x = 0; x < raster.cols; ++x) {
      const short v = raster(y, x);
      if ((x + 1 < raster.cols && raster(y, x + 1) != v) ||
          (y + 1 < raster.rows && raster(y + 1, x) != v))
        same(y, x) = 0;
    }
  }
  cv::Mat1f depth;
  cv::distanceTransform(same, depth, cv::DIST_L2, 3);
  return depth;
}

}  // namespace

LabelScore::LabelScore(const SectionDesign& plane) {
  const std::span<const PointUm> outline(plane.outline.contour);
  radius_um_ = std::sqrt(Area(outline) / M_PI);
  middle_ = Centroid(outline);
  labels_ = kFirstLumen + static_cast<int>(plane.lumens.size());
  const Box<FrameUm> box = BoundingBox(outline);
  const double reach = 1.5 * kOutsideReach * radius_um_;
  pixel_um_ = radius_um_ / kRasterRadius;
  origin_ = {box.least.x - reach, box.least.y - reach};
  const int width = static_cast<int>((box.greatest.x - box.least.x + 2 * reach) / pixel_um_) + 1;
  const int height = static_cast<int>((box.greatest.y - box.least.y + 2 * reach) / pixel_um_) + 1;
  cv::Mat raster(height, width, CV_16SC1, cv::Scalar(kOutside));
  const auto fill = [&](const ContourUm& contour, int label) {
    ContourPx px;
    for (PointUm p : contour)
      px.push_back({(p.x - origin_.x) / pixel_um_, (p.y - origin_.y) / pixel_um_});
    FillContour(raster, px, label);
  };
  fill(plane.outline.contour, kBody);
  for (std::size_t k = 0; k < plane.lumens.size(); ++k)
    fill(plane.lumens[k].shape.contour, kFirstLumen + static_cast<int>(k));
  raster_ = raster;

  const cv::Mat1f depth = Depth(raster_);
  const double outline_area = Area(outline);
  double lumen_area = 0;
  for (std::size_t k = 0; k < plane.lumens.size(); ++k) {
    const double area = Area(std::span<const PointUm>(plane.lumens[k].shape.contour));
    lumen_area += area;
    TakeSamples(kFirstLumen + static_cast<int>(k), depth, kLumenSamples, area / outline_area);
  }
  // A thin body would hardly weigh, but it is what separates the lumens: never below a fifth.
  TakeSamples(kBody, depth, kBodySamples, std::max(0.2, 1 - lumen_area / outline_area));
  TakeSamples(kOutside, depth, kOutsideSamples, 0.2);
}

void LabelScore::TakeSamples(int label, const cv::Mat1f& depth, int most, double total_weight) {
  std::vector<PointUm> at;
  for (int y = 1; y + 1 < raster_.rows; ++y) {
    for (int x = 1; x + 1 < raster_.cols; ++x) {
      if (raster_(y, x) != label) continue;
      const float d = depth(y, x);
      if (label == kOutside && d > kOutsideReach * kRasterRadius) continue;
      bool keep = d >= 1.6f;
      if (!keep) {
        // The ridge of a wall too thin for that.
        keep = d >= depth(y - 1, x) && d >= depth(y + 1, x) && d >= depth(y, x - 1) &&
               d >= depth(y, x + 1);
      }
      if (keep) at.push_back({origin_.x + x * pixel_um_, origin_.y + y * pixel_um_});
    }
  }
  if (at.empty()) return;
  const std::size_t stride = std::max<std::size_t>(1, at.size() / static_cast<std::size_t>(most));
  const std::size_t count = (at.size() + stride - 1) / stride;
  // A stride that is no multiple of the row length spreads the samples over the region.
  for (std::size_t i = 0; i < at.size(); i += stride) {
    const double lx = (at[i].x - middle_.x) / radius_um_, ly = (at[i].y - middle_.y) / radius_um_;
    samples_.push_back({at[i], label, 3000 * total_weight / static_cast<double>(count), lx, ly,
                        lx * lx + ly * ly - 0.5});
  }
}

int LabelScore::LabelAt(PointUm p) const {
  const int x = static_cast<int>(std::lround((p.x - origin_.x) / pixel_um_));
  const int y = static_cast<int>(std::lround((p.y - origin_.y) / pixel_um_));
  if (x < 0 || y < 0 || x >= raster_.cols || y >= raster_.rows) return kOutside;
  return raster_(y, x);
}

double LabelScore::LightAt(const Fit& fit, PointUm p) const {
  const double x = (p.x - middle_.x) / radius_um_, y = (p.y - middle_.y) / radius_um_;
  return fit.light[0] * x + fit.light[1] * y + fit.light[2] * (x * x + y * y - 0.5);
}

LabelScore::Fit LabelScore::Explain(const cv::Mat1f& image, const Warp& warp, int stride) const {
  Fit fit;
  fit.mean.assign(static_cast<std::size_t>(labels_), 0);
  const int n = labels_ + kLight;
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(n, n);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(n);
  double square = 0, total = 0, seen = 0;
  // Plain sums first: label by label against constant and light, and the light terms among
  // themselves.
  std::vector<std::array<double, 5>> by_label(static_cast<std::size_t>(labels_), {0, 0, 0, 0, 0});
  double among[6] = {0, 0, 0, 0, 0, 0}, light_right[kLight] = {0, 0, 0};
  for (std::size_t i = 0; i < samples_.size(); i += static_cast<std::size_t>(stride)) {
    const Sample& s = samples_[i];
    total += s.weight;
    const PointPx p = warp(s.at);
    if (!InsideImage(image, p.x, p.y, 1)) continue;
    const double tone = SampleAt(image, p.x, p.y), w = s.weight;
    seen += w;
    auto& sums = by_label[static_cast<std::size_t>(s.label)];
    const double wx = w * s.lx, wy = w * s.ly, wr = w * s.lr;
    sums[0] += w;
    sums[1] += w * tone;
    sums[2] += wx;
    sums[3] += wy;
    sums[4] += wr;
    square += w * tone * tone;
    light_right[0] += wx * tone;
    light_right[1] += wy * tone;
    light_right[2] += wr * tone;
    among[0] += wx * s.lx;
    among[1] += wx * s.ly;
    among[2] += wx * s.lr;
    among[3] += wy * s.ly;
    among[4] += wy * s.lr;
    among[5] += wr * s.lr;
  }
  for (int k = 0; k < labels_; ++k) {
    const auto& sums = by_label[static_cast<std::size_t>(k)];
    normal(k, k) = sums[0];
    right(k) = sums[1];
    for (int a = 0; a < kLight; ++a) normal(k, labels_ + a) = sums[2 + static_cast<std::size_t>(a)];
  }
  int at = 0;
  for (int a = 0; a < kLight; ++a) {
    right(labels_ + a) = light_right[a];
    for (int b = a; b < kLight; ++b) normal(labels_ + a, labels_ + b) = among[at++];
  }
  if (seen < 0.35 * total) return fit;
  normal = Eigen::MatrixXd(normal.selfadjointView<Eigen::Upper>());
  for (int k = 0; k < n; ++k) normal(k, k) += 1e-6 * seen / n;
  const Eigen::VectorXd x = normal.ldlt().solve(right);
  const double full = square - right.dot(x);
  // The light field alone: all labels share one mean.
  Eigen::MatrixXd fold = Eigen::MatrixXd::Zero(n, 1 + kLight);
  for (int k = 0; k < labels_; ++k) fold(k, 0) = 1;
  for (int a = 0; a < kLight; ++a) fold(labels_ + a, 1 + a) = 1;
  const Eigen::MatrixXd folded = fold.transpose() * normal * fold;
  const Eigen::VectorXd folded_right = fold.transpose() * right;
  const double plain = square - folded_right.dot(folded.ldlt().solve(folded_right));
  fit.explained = plain > 1e-12 ? std::clamp(1.0 - full / plain, 0.0, 1.0) : 0.0;
  for (int k = 0; k < labels_; ++k) fit.mean[static_cast<std::size_t>(k)] = x(k);
  for (int a = 0; a < kLight; ++a) fit.light[a] = x(labels_ + a);
  return fit;
}

}  // namespace cutface
