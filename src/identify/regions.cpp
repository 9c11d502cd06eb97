#include "identify/regions.h"

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/raster.h"
#include "identify/split.h"
#include "identify/voids.h"

namespace cutface {
namespace {

constexpr double kClassApart = 0.3;   // lumen tones closer than this (of their step) share a class
constexpr double kCoverLeast = 0.30;  // of a lumen's nominal area, to claim a region for it
constexpr double kRegionLumenSize = 0.35;  // of the drawn area: less is no lumen for a lost place
constexpr double kLeastCover = 0.12;    // of the drawn area, to be given a component nobody chose
constexpr double kToneReach = 0.2;      // of the lumens' step
constexpr double kToneShare = 0.4;      // of a lumen's place that must show its tone
constexpr double kTooLarge = 1.5;       // of its lumens' drawn areas: a component holds another one
constexpr double kHoldsAll = 0.8;       // of all drawn areas: merged lumens have at least so much
constexpr double kLineContrast = 0.04;  // the same for a line that is pooled along its course
constexpr double kSeptumReach = 0.08;   // of the part's radius: how far off its place a septum lies
constexpr double kDarkestFilling = 0.5;      // a lumen darker than this may be an open one
constexpr double kBlackerThanFilling = 1.7;  // of the filling's step: no filling any more
constexpr double kSeptumContrast = 0.16;     // a ridge fainter than this is no septum

// Signed steps that stand for a class of lumens, with the members.
struct ToneClass {
  double step = 0;
  std::vector<int> lumens;
};

// Share of each lumen's drawn place that shows the tone taken for it: half body, half lumen has a
// median tone that hardly any of it shows.
std::vector<double> ToneShares(const FaceTones& tones) {
  std::vector<double> near(tones.lumen.size(), 0), all(tones.lumen.size(), 0);
  const double reach = kToneReach * std::abs(tones.typical_step) + 2 * tones.noise;
  for (int y = 0; y < tones.nominal.rows; ++y) {
    for (int x = 0; x < tones.nominal.cols; ++x) {
      if (tones.nominal(y, x) <= 0) continue;
      const std::size_t k = static_cast<std::size_t>(tones.nominal(y, x) - 1);
      ++all[k];
      near[k] += std::abs(tones.relative(y, x) - tones.lumen[k]) < reach ? 1 : 0;
    }
  }
  for (std::size_t k = 0; k < all.size(); ++k) near[k] /= std::max(1.0, all[k]);
  return near;
}

std::vector<ToneClass> ToneClasses(const FaceTones& tones) {
  std::vector<ToneClass> classes;
  if (tones.typical_step == 0) return classes;
  const std::vector<double> shares = ToneShares(tones);
  for (std::size_t k = 0; k < tones.lumen.size(); ++k) {
    double step = std::isfinite(tones.lumen[k]) ? tones.lumen[k] - 1 : tones.typical_step;
    // A core that shows the body: shifted, collapsed or missing. Look for what the others look
    // like.
    if (std::abs(step) < std::max(0.15 * std::abs(tones.typical_step), 2 * tones.fine_noise))
      step = tones.typical_step;
    if (std::abs(step) < 0.75 * std::abs(tones.typical_step) && shares[k] < kToneShare)
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
    within_ = inside;
    cv::erode(inside, inside_, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
    taken_ = cv::Mat1b(inside_.size(), uchar{0});
  }

  Regions Find() {
    for (const ToneClass& c : ToneClasses(tones_)) FindClass(c);
    regions_.voids = FindVoids(tones_, reduction_, within_, taken_);
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
    if (c.step < 0 && -c.step < kDarkestFilling) DropVoids(ratio, taken);
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
    const std::vector<int> choice = Choose(c, cover, stats);
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
      AddLostMembers(c, i, area, choice, cover, members);
      const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                         stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
      TakeRegion(label, i, box, members, c.step);
    }
  }

  // A component far too large for its lumens holds those that cover less of it, too.
  void AddLostMembers(const ToneClass& c, int component, int area, const std::vector<int>& choice,
                      const std::vector<std::vector<int>>& cover, std::vector<int>& members) const {
    double drawn = 0;
    for (int k : members) drawn += nominal_area_[k];
    if (area < kTooLarge * drawn) return;
    for (int k : c.lumens) {
      if (found_[k] || choice[k] != component) continue;
      if (std::find(members.begin(), members.end(), k) != members.end()) continue;
      if (cover[component][k] > kLeastCover * nominal_area_[k]) members.push_back(k);
    }
    std::sort(members.begin(), members.end());
  }

  // Which component each lumen of a class is: the one that covers most of its place. Where one that
  // is too small for all of them was chosen by several, the next best lumen gets the component that
  // nobody chose: drawn and cut places may differ by more than a lumen's width.
  std::vector<int> Choose(const ToneClass& c, const std::vector<std::vector<int>>& cover,
                          const cv::Mat& stats) const {
    const int count = static_cast<int>(cover.size());
    std::vector<int> choice(found_.size(), 0);
    for (int k : c.lumens) {
      for (int i = 1; i < count; ++i) {
        if (cover[i][k] > (choice[k] == 0 ? 0 : cover[choice[k]][k])) choice[k] = i;
      }
    }
    for (int i = 1; i < count; ++i) {
      int best = -1;
      for (int k : c.lumens) {
        double drawn = 0;
        int sharing = 0;
        for (int other : c.lumens) {
          if (choice[other] != choice[k]) continue;
          drawn += nominal_area_[other];
          ++sharing;
        }
        const int area = stats.at<int>(i, cv::CC_STAT_AREA);
        if (choice[k] == i) best = -2;
        if (best == -2 || sharing < 2 || area < kRegionLumenSize * nominal_area_[k]) continue;
        if (cover[i][k] < kLeastCover * nominal_area_[k]) continue;
        if (stats.at<int>(choice[k], cv::CC_STAT_AREA) > kHoldsAll * drawn) continue;
        if (best < 0 || cover[i][k] > cover[i][best]) best = k;
      }
      if (best >= 0) choice[best] = i;
    }
    return choice;
  }

  // Holes are black; where a filling is not, a black place in the body is a void, though it touch a
  // lumen. A black place within a lumen's filling is a bubble there and stays.
  void DropVoids(const cv::Mat1f& ratio, cv::Mat1b& taken) const {
    const cv::Rect roi = cv::boundingRect(inside_);
    const cv::Mat1f here = ratio(roi);
    cv::Mat1b dark(roi.size(), uchar{0});
    cv::Mat(here > kBlackerThanFilling).copyTo(dark, inside_(roi));
    cv::Mat1i label;
    cv::Mat stats, centroids;
    const int count = cv::connectedComponentsWithStats(dark, label, stats, centroids, 8, CV_32S);
    const cv::Mat disc = cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5});
    for (int i = 1; i < count; ++i) {
      if (stats.at<int>(i, cv::CC_STAT_AREA) < 8) continue;
      cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT) - 9, stats.at<int>(i, cv::CC_STAT_TOP) - 9,
                   stats.at<int>(i, cv::CC_STAT_WIDTH) + 18,
                   stats.at<int>(i, cv::CC_STAT_HEIGHT) + 18);
      box &= cv::Rect(0, 0, dark.cols, dark.rows);
      cv::Mat1b part = cv::Mat(label(box) == i), near, far;
      cv::dilate(part, near, disc, {-1, -1}, 2);
      cv::dilate(near, far, disc);
      int around = 0, body = 0;
      for (int y = 0; y < part.rows; ++y) {
        for (int x = 0; x < part.cols; ++x) {
          if (!far(y, x) || near(y, x)) continue;
          ++around;
          body += here(y + box.y, x + box.x) < 0.5f ? 1 : 0;
        }
      }
      if (2 * body < around) continue;
      cv::dilate(part, near, disc);
      cv::Mat target = taken(roi)(box);
      target.setTo(255, near);
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
    auto groups = GroupByRidge(ratio, region, tones_.nominal(box), members,
                               std::max(kSeptumContrast, 3.5 * noise), owner, contrast);
    const std::vector<bool> joined = JoinChannels(ratio, owner, groups, contrast);
    for (std::size_t g = 0; g < groups.size(); ++g) {
      cv::Mat1b part = cv::Mat(owner == static_cast<int>(g));
      if (groups[g].size() > 1 && !joined[g] &&
          PartByLines(ratio, part, box, groups[g], noise, step))
        continue;
      AddLumen(part, box, groups[g], step, contrast[g]);
    }
  }

  // Lumens that seem merged, once more with all of their septum's course to see it by.
  bool PartByLines(const cv::Mat1f& ratio, const cv::Mat1b& region, cv::Rect box,
                   const std::vector<int>& members, double noise, double step) {
    const double part_size = std::sqrt(Area(std::span<const PointPx>(pose_.outline)) / M_PI);
    const double reach = std::max(8.0, kSeptumReach * part_size / reduction_);
    double least = 1;
    const cv::Mat1f lines =
        SeptumLines(ratio, region, tones_.nominal(box), members, reach, noise, least);
    cv::Mat1s owner;
    std::vector<double> contrast;
    const auto groups = GroupByRidge(lines, region, tones_.nominal(box), members,
                                     std::max(kLineContrast, least), owner, contrast);
    if (groups.size() < 2 || HasBreach(ratio, owner, noise)) return false;
    for (std::size_t g = 0; g < groups.size(); ++g) {
      cv::Mat1b part = cv::Mat(owner == static_cast<int>(g));
      AddLumen(part, box, groups[g], step, contrast[g]);
    }
    return true;
  }

  void AddLumen(cv::Mat1b& mask, cv::Rect box, const std::vector<int>& members, double step,
                double ridge_contrast) {
    CoarseLumen lumen;
    lumen.lumens = members;
    lumen.step = step;
    lumen.ridge_contrast = ridge_contrast;
    lumen.contour = MaskBoundary(mask, box.tl(), reduction_);
    if (lumen.contour.size() < 6) return;
    for (int k : members) found_[k] = true;
    lumen.cut_by_frame = box.x <= 2 || box.y <= 2 || box.x + box.width >= inside_.cols - 2 ||
                         box.y + box.height >= inside_.rows - 2;
    // Filled: a bubble in what fills a lumen is no void of the body.
    ContourPx work;
    for (PointPx p : lumen.contour)
      work.push_back({(p.x + 0.5) / reduction_ - 0.5, (p.y + 0.5) / reduction_ - 0.5});
    cv::Mat target = taken_;
    FillContour(target, work, 255);
    regions_.lumens.push_back(std::move(lumen));
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
        // Black where the lumens are filled: a void.
        if (-v->step > kBlackerThanFilling * std::abs(tones_.typical_step)) continue;
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

  const FaceTones& tones_;
  int reduction_;
  const Pose& pose_;
  const SectionDesign& plane_;
  std::vector<bool> found_;
  std::vector<int> nominal_area_;
  cv::Mat1b within_;          // the outline's area
  cv::Mat1b inside_, taken_;  // its safe part; lumens
  Regions regions_;
};

}  // namespace

Regions FindRegions(const FaceTones& tones, int reduction, const Pose& pose,
                    const SectionDesign& plane) {
  return RegionFinder(tones, reduction, pose, plane).Find();
}

}  // namespace cutface
