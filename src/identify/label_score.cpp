#include "identify/label_score.h"

#include <Eigen/Dense>
#include <bit>
#include <opencv2/imgproc.hpp>

#include "identify/layers.h"
#include "identify/raster.h"

namespace cutface {
namespace {

constexpr double kRasterRadius = 110;                 // raster px per outline radius
constexpr double kSeen = 0.35, kSeenOfDetail = 0.12;  // of the drawing, to tell anything
constexpr double kOutsideReach = 0.13;                // of the radius, looked at beyond the outline
constexpr int kBodySamples = 1400, kOutsideSamples = 500, kLumenSamples = 350;

struct Pixels {
  const float* data = nullptr;
  std::size_t stride = 0;

  // For places known to lie inside: nothing to clamp.
  float At(double x, double y) const {
    const int xi = static_cast<int>(x), yi = static_cast<int>(y);
    const float fx = static_cast<float>(x - xi), fy = static_cast<float>(y - yi);
    const float* top = data + static_cast<std::size_t>(yi) * stride + xi;
    const float* bottom = top + stride;
    const float a = top[0] + fx * (top[1] - top[0]), b = bottom[0] + fx * (bottom[1] - bottom[0]);
    return a + fy * (b - a);
  }
};

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

// One pass over a label's samples. The weight is the same within a label, so the sums are plain.
struct LabelScore::Sums {
  double count = 0;
  double light[kLight] = {0, 0, 0};
  double among[6] = {0, 0, 0, 0, 0, 0};  // xx, xy, xr, yy, yr, rr of the light's terms
  double tone = 0, square = 0;
  double tone_light[kLight] = {0, 0, 0};

  void AddPlace(const Sample& s) {
    count += 1;
    light[0] += s.lx;
    light[1] += s.ly;
    light[2] += s.lr;
    among[0] += s.lx * s.lx;
    among[1] += s.lx * s.ly;
    among[2] += s.lx * s.lr;
    among[3] += s.ly * s.ly;
    among[4] += s.ly * s.lr;
    among[5] += s.lr * s.lr;
  }
  void AddTone(const Sample& s, double t) {
    tone += t;
    square += t * t;
    tone_light[0] += t * s.lx;
    tone_light[1] += t * s.ly;
    tone_light[2] += t * s.lr;
  }
};

LabelScore::LabelScore(const SectionDesign& plane, bool detail) : detail_(detail) {
  const std::span<const PointUm> outline(plane.outline.contour);
  radius_um_ = std::sqrt(Area(outline) / M_PI);
  middle_ = Centroid(outline);
  // The outermost ring is the body of the outline; what lies within it and the liners follow the
  // lumens.
  first_layer_ = kFirstLumen + static_cast<int>(plane.lumens.size());
  labels_ = first_layer_ + static_cast<int>(plane.rings.size());
  const auto liner = [&](const LumenDesign& l) { return l.liner_thickness_um.has_value(); };
  const int liners = std::count_if(plane.lumens.begin(), plane.lumens.end(), liner) > 0 ? 1 : 0;
  labels_ += liners;
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
  for (std::size_t k = 0; k < plane.rings.size(); ++k)
    fill(plane.rings[k].inner.contour, first_layer_ + static_cast<int>(k));
  for (const LumenDesign& lumen : plane.lumens) {
    if (liner(lumen)) fill(Offset(lumen.shape.contour, *lumen.liner_thickness_um), labels_ - 1);
  }
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
  const double layers = 1 + static_cast<double>(plane.rings.size());
  // A thin body would hardly weigh, but it is what separates the lumens: never below a fifth.
  TakeSamples(kBody, depth, kBodySamples, std::max(0.2, 1 - lumen_area / outline_area) / layers);
  for (int label = first_layer_; label < labels_; ++label) {
    const double share = std::max(0.2, 1 - lumen_area / outline_area) / layers;
    TakeSamples(label, depth, kBodySamples / 2, label < labels_ - liners ? share : 0.5 * share);
  }
  TakeSamples(kOutside, depth, kOutsideSamples, 0.2);
  std::vector<cv::Point2f> places, hull;
  for (const Sample& s : samples_)
    places.push_back({static_cast<float>(s.at.x), static_cast<float>(s.at.y)});
  if (!places.empty()) cv::convexHull(places, hull);
  for (cv::Point2f p : hull) hull_.push_back({p.x, p.y});
  PrepareWhole();
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
  const std::size_t count = (at.size() + stride - 1) / stride, begin = samples_.size();
  // A stride that is no multiple of the row length spreads the samples over the region.
  for (std::size_t i = 0; i < at.size(); i += stride) {
    const double lx = (at[i].x - middle_.x) / radius_um_, ly = (at[i].y - middle_.y) / radius_um_;
    samples_.push_back({at[i], lx, ly, lx * lx + ly * ly - 0.5});
  }
  blocks_.push_back(
      {label, begin, samples_.size(), 3000 * total_weight / static_cast<double>(count)});
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

LabelScore::~LabelScore() = default;

void LabelScore::PrepareWhole() {
  for (int k = 0; k < kStrides; ++k) {
    for (const Block& block : blocks_) {
      Sums sums;
      for (std::size_t i = block.begin; i < block.end; i += std::size_t{1} << k)
        sums.AddPlace(samples_[i]);
      whole_[k].push_back(sums);
    }
  }
}

// All sums of one registration.
double LabelScore::Collect(const cv::Mat1f& image, const Warp& warp, int stride,
                           std::vector<Sums>& sums) const {
  const std::size_t step = static_cast<std::size_t>(stride);
  bool all_inside = true;
  for (std::size_t i = 0; i < hull_.size() && all_inside; ++i) {
    const PointPx p = warp(hull_[i]);
    all_inside = InsideImage(image, p.x, p.y, 1);
  }
  if (all_inside) {
    sums = whole_[std::countr_zero(static_cast<unsigned>(stride))];
    // Locals only: what might alias would be read again for every sample.
    const PointPx to{warp.shift.x(), warp.shift.y()};
    const double xx = warp.linear(0, 0), xy = warp.linear(0, 1);
    const double yx = warp.linear(1, 0), yy = warp.linear(1, 1);
    const Pixels pixels{image.ptr<float>(), image.step1()};
    for (std::size_t k = 0; k < blocks_.size(); ++k) {
      Sums sum = sums[k];
      const Sample* const end = samples_.data() + blocks_[k].end;
      for (const Sample* s = samples_.data() + blocks_[k].begin; s < end; s += step) {
        const double x = xx * s->at.x + xy * s->at.y + to.x;
        const double y = yx * s->at.x + yy * s->at.y + to.y;
        sum.AddTone(*s, pixels.At(x, y));
      }
      sums[k] = sum;
    }
    return 1;
  }
  sums.assign(blocks_.size(), Sums{});
  double seen = 0, total = 0;
  for (std::size_t k = 0; k < blocks_.size(); ++k) {
    for (std::size_t i = blocks_[k].begin; i < blocks_[k].end; i += step) {
      total += blocks_[k].weight;
      const PointPx p = warp(samples_[i].at);
      if (!InsideImage(image, p.x, p.y, 1)) continue;
      sums[k].AddPlace(samples_[i]);
      sums[k].AddTone(samples_[i], SampleAt(image, p.x, p.y));
    }
    seen += blocks_[k].weight * sums[k].count;
  }
  return seen >= (detail_ ? kSeenOfDetail : kSeen) * total ? seen / total : 0;
}

// Least squares of tones = mean of the label + light. The labels' part of the normal equations is
// diagonal, so it is folded into the 3 x 3 of the light (Schur complement).
LabelScore::Fit LabelScore::Explain(const cv::Mat1f& image, const Warp& warp, int stride) const {
  Fit fit;
  fit.mean.assign(static_cast<std::size_t>(labels_), 0);
  std::vector<Sums> sums;
  const double seen = Collect(image, warp, stride, sums);
  if (!(seen > 0)) return fit;
  using Vector = Eigen::Vector3d;
  using Matrix = Eigen::Matrix3d;
  Matrix light = Matrix::Zero(), folded = Matrix::Zero();
  Vector right = Vector::Zero(), folded_right = Vector::Zero(), all_light = Vector::Zero();
  double square = 0, tone = 0, weight = 0, by_label = 0;
  for (std::size_t k = 0; k < sums.size(); ++k) weight += blocks_[k].weight * sums[k].count;
  const double ridge = 1e-6 * weight / (labels_ + kLight);
  for (std::size_t k = 0; k < sums.size(); ++k) {
    const Sums& s = sums[k];
    const double w = blocks_[k].weight;
    const Vector l = w * Vector(s.light[0], s.light[1], s.light[2]);
    Matrix among;
    among << s.among[0], s.among[1], s.among[2], s.among[1], s.among[3], s.among[4], s.among[2],
        s.among[4], s.among[5];
    const double d = w * s.count + ridge, t = w * s.tone;
    light += w * among;
    right += w * Vector(s.tone_light[0], s.tone_light[1], s.tone_light[2]);
    folded += l * l.transpose() / d;
    folded_right += t / d * l;
    by_label += t * t / d;
    square += w * s.square;
    tone += t;
    all_light += l;
  }
  light.diagonal().array() += ridge;
  const Vector x = (light - folded).ldlt().solve(right - folded_right);
  const double full = square - by_label - x.dot(right - folded_right);
  // The light field alone: all labels share one mean.
  const double d = weight + ridge;
  const Vector one_right = right - tone / d * all_light;
  const Matrix one = light - all_light * all_light.transpose() / d;
  const double plain = square - tone * tone / d - one_right.dot(one.ldlt().solve(one_right));
  fit.explained = plain > 1e-12 ? std::clamp(1.0 - full / plain, 0.0, 1.0) : 0.0;
  if (detail_) fit.explained = 1 - std::pow(1 - fit.explained, seen);
  for (std::size_t k = 0; k < sums.size(); ++k) {
    const Sums& s = sums[k];
    const double w = blocks_[k].weight;
    const double lit = s.light[0] * x(0) + s.light[1] * x(1) + s.light[2] * x(2);
    fit.mean[static_cast<std::size_t>(blocks_[k].label)] =
        w * (s.tone - lit) / (w * s.count + ridge);
  }
  for (int a = 0; a < kLight; ++a) fit.light[a] = x(a);
  return fit;
}

}  // namespace cutface
