#include "identify/label_score.h"

#include <Eigen/Dense>

#include "identify/raster.h"

namespace cutface {
namespace {

constexpr int kLight = 3;           // x, y, r^2 beside the constant that the labels carry
constexpr double kGridShare = 32;   // grid lines per outline radius... per radius, both ways
constexpr double kOutsideReach = 1.14;
constexpr int kLeastLumenSamples = 30;

}  // namespace

LabelScore::LabelScore(const SectionDesign& plane) {
  const std::span<const PointUm> outline(plane.outline.contour);
  radius_um_ = std::sqrt(Area(outline) / M_PI);
  middle_ = Centroid(outline);
  labels_ = kFirstLumen + static_cast<int>(plane.lumens.size());
  const ContourIndex<FrameUm> outline_index(outline);
  const double margin = 0.015 * radius_um_;
  const double spacing = radius_um_ * 2 / kGridShare;
  const Box<FrameUm> box = BoundingBox(outline);
  const double reach = (kOutsideReach - 1) * radius_um_;

  std::vector<ContourIndex<FrameUm>> lumen_index;
  for (const LumenDesign& lumen : plane.lumens) {
    lumen_index.emplace_back(std::span<const PointUm>(lumen.shape.contour));
  }
  for (double y = box.least.y - reach; y <= box.greatest.y + reach; y += spacing) {
    for (double x = box.least.x - reach; x <= box.greatest.x + reach; x += spacing) {
      const PointUm p{x, y};
      const double outside = outline_index.SignedDistance(p, 2 * reach);
      if (outside > reach || std::abs(outside) < margin) continue;
      if (outside > 0) {
        samples_.push_back({p, kOutside, 0.6});
        continue;
      }
      int label = kBody;
      bool near_edge = false;
      for (std::size_t k = 0; k < lumen_index.size(); ++k) {
        const double d = lumen_index[k].SignedDistance(p, 2 * margin);
        near_edge = near_edge || std::abs(d) < 0.5 * margin;
        if (d < 0) label = -1;  // lumens are sampled below, each finely enough
      }
      if (label == kBody && !near_edge) samples_.push_back({p, kBody, 1.0});
    }
  }
  for (std::size_t k = 0; k < plane.lumens.size(); ++k) {
    const std::span<const PointUm> contour(plane.lumens[k].shape.contour);
    const double area = Area(contour);
    const double fine = std::min(spacing, std::sqrt(area / kLeastLumenSamples));
    const Box<FrameUm> lumen_box = BoundingBox(contour);
    const double keep = std::min(margin, 0.12 * std::sqrt(area));
    for (double y = lumen_box.least.y; y <= lumen_box.greatest.y; y += fine) {
      for (double x = lumen_box.least.x; x <= lumen_box.greatest.x; x += fine) {
        if (lumen_index[k].SignedDistance({x, y}, 2 * keep) < -0.5 * keep) {
          samples_.push_back({{x, y}, kFirstLumen + static_cast<int>(k),
                              fine * fine / (spacing * spacing)});
        }
      }
    }
  }
}

namespace {

struct Equations {
  Eigen::MatrixXd normal;
  Eigen::VectorXd right;
  double square = 0;
};

}  // namespace

double LabelScore::operator()(const cv::Mat1f& image, const Warp& warp) const {
  const int n = labels_ + kLight;
  Equations eq{Eigen::MatrixXd::Zero(n, n), Eigen::VectorXd::Zero(n), 0};
  double total = 0, seen = 0;
  for (const Sample& s : samples_) {
    total += s.weight;
    const PointPx p = warp(s.at);
    if (!InsideImage(image, p.x, p.y, 1)) continue;
    seen += s.weight;
    const double tone = SampleAt(image, p.x, p.y), w = s.weight;
    const double lx = (s.at.x - middle_.x) / radius_um_, ly = (s.at.y - middle_.y) / radius_um_;
    const double light[kLight] = {lx, ly, lx * lx + ly * ly - 0.5};
    eq.normal(s.label, s.label) += w;
    eq.right(s.label) += w * tone;
    eq.square += w * tone * tone;
    for (int a = 0; a < kLight; ++a) {
      eq.normal(s.label, labels_ + a) += w * light[a];
      eq.right(labels_ + a) += w * light[a] * tone;
      for (int b = a; b < kLight; ++b) eq.normal(labels_ + a, labels_ + b) += w * light[a] * light[b];
    }
  }
  if (seen < 0.35 * total) return 0;
  eq.normal = eq.normal.selfadjointView<Eigen::Upper>();
  for (int k = 0; k < n; ++k) eq.normal(k, k) += 1e-6 * seen / n;
  const double full = eq.square - eq.right.dot(eq.normal.ldlt().solve(eq.right));
  // The light field alone: all labels share one mean.
  Eigen::MatrixXd fold = Eigen::MatrixXd::Zero(n, 1 + kLight);
  for (int k = 0; k < labels_; ++k) fold(k, 0) = 1;
  for (int a = 0; a < kLight; ++a) fold(labels_ + a, 1 + a) = 1;
  const Eigen::MatrixXd folded = fold.transpose() * eq.normal * fold;
  const Eigen::VectorXd folded_right = fold.transpose() * eq.right;
  const double plain = eq.square - folded_right.dot(folded.ldlt().solve(folded_right));
  return plain > 1e-12 ? std::clamp(1.0 - full / plain, 0.0, 1.0) : 0.0;
}

std::vector<double> LabelScore::LabelMeans(const cv::Mat1f& image, const Warp& warp) const {
  std::vector<double> sum(labels_, 0), count(labels_, 0);
  for (const Sample& s : samples_) {
    const PointPx p = warp(s.at);
    if (!InsideImage(image, p.x, p.y, 1)) continue;
    sum[s.label] += s.weight * SampleAt(image, p.x, p.y);
    count[s.label] += s.weight;
  }
  for (int k = 0; k < labels_; ++k) sum[k] = count[k] > 0 ? sum[k] / count[k] : 0;
  return sum;
}

}  // namespace cutface
