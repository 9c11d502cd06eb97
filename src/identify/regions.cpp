#include "identify/regions.h"

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/raster.h"
#include "identify/split.h"

namespace cutface {
namespace {

constexpr double kClassApart = 0.3;   // lumen tones closer than this (of their step) share a class
constexpr double kCoverLeast = 0.30;  // of a lumen's nominal area, to claim a region for it
constexpr double kSeptumContrast = 0.16;  // a ridge fainter than this is no septum
constexpr double kVoidStep = 0.30;        // of the lumens' step
constexpr double kVoidDiameter = 4.0;     // px of the full picture, before edge fitting

// Signed steps that stand for a class of lumens, with the members.
struct ToneClass {
  double step = 0;
  std::vector<int> lumens;
};

std::vector<ToneClass> ToneClasses(const FaceTones& tones) {
  std::vector<ToneClass> classes;
  if (tones.typical_step == 0) return classes;
  for (std::size_t k = 0; k < tones.lumen.size(); ++k) {
    double step = std::isfinite(tones.lumen[k]) ? tones.lumen[k] - 1 : tones.typical_step;
    // A core that shows the body: shifted, collapsed or missing. Look for what the others look
    // like.
    if (std::abs(step) < std::max(0.15 * std::abs(tones.typical_step), 2 * tones.fine_noise))
      step = tones.typical_step;
    bool placed = false;
    for (ToneClass& c : classes) {
      if (std::abs(c.step - step) < kClassApart * std::max(std::abs(c.step), std::abs(step))) {
        c.lumens.push_back(static_cast<int>(k));
        placed = true;
        break;
      }
    }
    if (!placed) classes.push_back({step, {static_cast<int>(k)}});
  }
  // The most different first: a paler filling must not swallow an open lumen beside it.
  std::sort(classes.begin(), classes.end(), [](const ToneClass& a, const ToneClass& b) {
    return std::abs(a.step) > std::abs(b.step);
  });
  return classes;
}

cv::Mat1f Ratio(const cv::Mat1f& relative, double step) {
  cv::Mat1f ratio;
  cv::Mat(relative).convertTo(ratio, CV_32F, 1.0 / step, -1.0 / step);
  return ratio;
}

// Outer boundary of a mask's largest component as a smooth contour in full-resolution px.
ContourPx Boundary(const cv::Mat1b& mask, cv::Point origin, int reduction) {
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

struct Component {
  cv::Rect box;
  int area = 0;
};

class RegionFinder {
 public:
  RegionFinder(const FaceTones& tones, int reduction, const Pose& pose, const SectionDesign& plane)
      : tones_(tones),
        reduction_(reduction),
        pose_(pose),
        plane_(plane),
        found_(plane.lumens.size(), false) {
    nominal_area_.resize(plane.lumens.size(), 0);
    for (int y = 0; y < tones.nominal.rows; ++y) {
      for (int x = 0; x < tones.nominal.cols; ++x) {
        if (tones.nominal(y, x) > 0)
          ++nominal_area_[static_cast<std::size_t>(tones.nominal(y, x) - 1)];
      }
    }
    cv::Mat inside(tones.nominal.size(), CV_8UC1, cv::Scalar(0));
    ContourPx outline;
    for (PointPx p : pose.outline) {
      outline.push_back({(p.x + 0.5) / reduction - 0.5, (p.y + 0.5) / reduction - 0.5});
    }
    FillContour(inside, outline, 255);
    cv::erode(inside, inside_, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
    taken_ = cv::Mat1b(inside_.size(), uchar{0});
  }

  Regions Find() {
    for (const ToneClass& c : ToneClasses(tones_)) FindClass(c);
    FindVoids();
    AdoptVoids();
    for (std::size_t k = 0; k < found_.size(); ++k) {
      if (!found_[k]) regions_.missing.push_back(static_cast<int>(k));
    }
    return std::move(regions_);
  }

 private:
  void FindClass(const ToneClass& c) {
    const cv::Mat1f ratio = Ratio(tones_.relative, c.step);
    cv::Mat1b mask(ratio.size(), uchar{0}), taken;
    cv::dilate(taken_, taken, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
    for (int y = 0; y < ratio.rows; ++y) {
      for (int x = 0; x < ratio.cols; ++x)
        mask(y, x) = inside_(y, x) && !taken(y, x) && ratio(y, x) > 0.5f ? 255 : 0;
    }
    cv::Mat1i label;
    cv::Mat stats, centroids;
    const int count = cv::connectedComponentsWithStats(mask, label, stats, centroids, 4, CV_32S);
    // cover[component][lumen]: work pixels of the lumen's nominal area.
    std::vector<std::vector<int>> cover(count, std::vector<int>(found_.size(), 0));
    for (int y = 0; y < label.rows; ++y) {
      for (int x = 0; x < label.cols; ++x) {
        if (label(y, x) > 0 && tones_.nominal(y, x) > 0) {
          ++cover[label(y, x)][static_cast<std::size_t>(tones_.nominal(y, x) - 1)];
        }
      }
    }
    std::vector<int> choice(found_.size(), 0);
    for (int k : c.lumens) {
      for (int i = 1; i < count; ++i) {
        if (cover[i][k] > cover[choice[k]][k] || choice[k] == 0) {
          if (cover[i][k] > 0) choice[k] = i;
        }
      }
    }
    for (int i = 1; i < count; ++i) {
      const int area = stats.at<int>(i, cv::CC_STAT_AREA);
      std::vector<int> members;
      for (int k : c.lumens) {
        if (found_[k] || choice[k] != i) continue;
        const double share = static_cast<double>(cover[i][k]) / std::max(1, nominal_area_[k]);
        const double of_region = static_cast<double>(cover[i][k]) / std::max(1, area);
        // A collapsed or shifted lumen covers little of its nominal place, but lies mostly in it.
        if (share > kCoverLeast || (of_region > 0.5 && share > 0.06)) members.push_back(k);
      }
      if (members.empty()) continue;
      const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                         stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
      TakeRegion(label, i, box, members, c.step);
    }
  }

  void TakeRegion(const cv::Mat1i& label, int component, cv::Rect box,
                  const std::vector<int>& members, double step) {
    const cv::Rect frame(0, 0, label.cols, label.rows);
    box = cv::Rect(box.x - 2, box.y - 2, box.width + 4, box.height + 4) & frame;
    cv::Mat1b region = cv::Mat(label(box) == component);
    if (members.size() == 1) {
      AddLumen(region, box, members, step, 1.0);
      return;
    }
    // Thin septa vanish under smoothing: part the lumens in the least smoothed picture that the
    // noise allows.
    const bool fine = tones_.fine_noise < 0.10 * std::abs(step);
    const cv::Mat1f ratio = Ratio((fine ? tones_.fine : tones_.relative)(box), step);
    const double noise = (fine ? tones_.fine_noise : tones_.noise) / std::abs(step);
    cv::Mat1s owner;
    std::vector<double> contrast;
    const auto groups = GroupByRidge(ratio, region, tones_.nominal(box), members,
                                     std::max(kSeptumContrast, 3.5 * noise), owner, contrast);
    for (std::size_t g = 0; g < groups.size(); ++g) {
      cv::Mat1b part = cv::Mat(owner == static_cast<int>(g));
      AddLumen(part, box, groups[g], step, contrast[g]);
    }
  }

  void AddLumen(cv::Mat1b& mask, cv::Rect box, const std::vector<int>& members, double step,
                double ridge_contrast) {
    CoarseLumen lumen;
    lumen.lumens = members;
    lumen.step = step;
    lumen.ridge_contrast = ridge_contrast;
    lumen.contour = Boundary(mask, box.tl(), reduction_);
    if (lumen.contour.size() < 6) return;
    for (int k : members) found_[k] = true;
    lumen.cut_by_frame = box.x <= 2 || box.y <= 2 || box.x + box.width >= inside_.cols - 2 ||
                         box.y + box.height >= inside_.rows - 2;
    cv::Mat1b target = taken_(box);
    target.setTo(255, mask);
    regions_.lumens.push_back(std::move(lumen));
  }

  void FindVoids() {
    if (tones_.typical_step == 0) return;
    // Where lumens are much brighter than the body, a black void still differs by less than the
    // body.
    const double threshold =
        std::max(kVoidStep * std::min(1.0, std::abs(tones_.typical_step)), 5 * tones_.noise);
    cv::Mat1b blocked, core;
    const int reach = std::max(2, static_cast<int>(std::lround(3.0 / reduction_)));
    cv::dilate(taken_, blocked,
               cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1}));
    cv::erode(inside_, core,
              cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1}));
    for (int sign : {1, -1}) {
      const double way = sign * (tones_.typical_step > 0 ? 1.0 : -1.0);
      cv::Mat1b mask(inside_.size(), uchar{0});
      for (int y = 0; y < mask.rows; ++y) {
        for (int x = 0; x < mask.cols; ++x) {
          mask(y, x) = core(y, x) && !blocked(y, x) && way * (tones_.relative(y, x) - 1) > threshold
                           ? 255
                           : 0;
        }
      }
      CollectVoids(mask, core, blocked, way);
    }
  }

  // A lumen that is shifted and collapsed at once lies off its nominal place and looks like a void.
  void AdoptVoids() {
    for (std::size_t k = 0; k < found_.size(); ++k) {
      if (found_[k]) continue;
      const ContourPx nominal = pose_.warp(plane_.lumens[k].shape.contour);
      const double area = Area(std::span<const PointPx>(nominal));
      const double part = std::sqrt(Area(std::span<const PointPx>(pose_.outline)) / M_PI);
      const double reach = std::max(0.9 * std::sqrt(area), 0.08 * part);
      const PointPx centre = Centroid(std::span<const PointPx>(nominal));
      auto best = regions_.voids.end();
      double best_area = 0;
      for (auto v = regions_.voids.begin(); v != regions_.voids.end(); ++v) {
        const std::span<const PointPx> contour(v->contour);
        const double share = Area(contour) / area;
        if (share < 0.12 || share > 1.8 || v->step * tones_.typical_step <= 0) continue;
        if (Distance(Centroid(contour), centre) > reach || Area(contour) < best_area) continue;
        best = v;
        best_area = Area(contour);
      }
      if (best == regions_.voids.end()) continue;
      CoarseLumen lumen;
      lumen.lumens = {static_cast<int>(k)};
      lumen.contour = best->contour;
      lumen.step = best->step;
      regions_.lumens.push_back(std::move(lumen));
      regions_.voids.erase(best);
      found_[k] = true;
    }
  }

  void CollectVoids(const cv::Mat1b& mask, const cv::Mat1b& core, const cv::Mat1b& blocked,
                    double way) {
    cv::Mat1i label;
    cv::Mat stats, centroids;
    const int count = cv::connectedComponentsWithStats(mask, label, stats, centroids, 8, CV_32S);
    const cv::Rect frame(0, 0, mask.cols, mask.rows);
    for (int i = 1; i < count; ++i) {
      const double area =
          stats.at<int>(i, cv::CC_STAT_AREA) * static_cast<double>(reduction_ * reduction_);
      const double diameter = 2 * std::sqrt(area / M_PI);
      if (diameter < kVoidDiameter) continue;
      cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                   stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
      // Thin streaks are scratches.
      const double longest = reduction_ * std::hypot(box.width, box.height);
      if (diameter < 0.42 * longest) continue;
      box = cv::Rect(box.x - 2, box.y - 2, box.width + 4, box.height + 4) & frame;
      cv::Mat1b part = cv::Mat(label(box) == i);
      // What leans on an edge of the part or of a lumen is an edge effect, not a void.
      cv::Mat1b grown;
      cv::dilate(part, grown, cv::Mat::ones(3, 3, CV_8U));
      int touching = 0, rim = 0;
      for (int y = 0; y < part.rows; ++y) {
        for (int x = 0; x < part.cols; ++x) {
          if (!grown(y, x) || part(y, x)) continue;
          ++rim;
          if (blocked(y + box.y, x + box.x) || !core(y + box.y, x + box.x)) ++touching;
        }
      }
      if (touching > 0.25 * rim) continue;
      CoarseVoid found;
      found.contour = Boundary(part, box.tl(), reduction_);
      if (found.contour.size() < 6) continue;
      std::vector<double> values;
      for (int y = 0; y < part.rows; ++y) {
        for (int x = 0; x < part.cols; ++x) {
          if (part(y, x)) values.push_back(way * (tones_.relative(y + box.y, x + box.x) - 1));
        }
      }
      found.step = way * Quantile(values, 0.8);
      found.noise = tones_.noise;
      regions_.voids.push_back(std::move(found));
    }
  }

  const FaceTones& tones_;
  int reduction_;
  const Pose& pose_;
  const SectionDesign& plane_;
  std::vector<bool> found_;
  std::vector<int> nominal_area_;
  cv::Mat1b inside_, taken_;
  Regions regions_;
};

}  // namespace

Regions FindRegions(const FaceTones& tones, int reduction, const Pose& pose,
                    const SectionDesign& plane) {
  return RegionFinder(tones, reduction, pose, plane).Find();
}

}  // namespace cutface
