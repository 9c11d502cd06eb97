#include "segment/holes.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <queue>

#include "cutface/stats.h"
#include "segment/grid.h"

namespace cutface::segment {
namespace {

constexpr double kNoises = 5;            // a hole's tone stands this many noises out
constexpr double kLeastStep = 0.03;      // of the body's tone
constexpr double kWeakStep = 0.3;        // of the main step: the faintest small hole
constexpr double kPaleStep = 0.1;        // and the faintest that is as wide as a lumen
constexpr double kLeastDiameter_px = 4;  // of the full picture
constexpr double kSmall_px = 20;
constexpr double kStreak = 0.42;      // equal-area diameter / box diagonal; below: a scratch
constexpr double kThin = 0.26;        // greatest inscribed / equal-area diameter; below: a stroke
constexpr double kChildShare = 0.08;  // of a region's area, to be a lumen of its own
constexpr double kSeptumDip = 0.12;   // of the step, for a septum to stand
constexpr double kSurround = 0.7;     // of the step: how far the tone around may be from body
constexpr double kLeaning = 0.3;      // share of the rim on the outline or on another hole

cv::Rect Grown(cv::Rect box, int by, cv::Size size) {
  return cv::Rect(box.x - by, box.y - by, box.width + 2 * by, box.height + 2 * by) &
         cv::Rect(0, 0, size.width, size.height);
}

// Pixels of one connected region, cut out.
struct Region {
  cv::Rect box;
  cv::Mat1b mask;
  int area = 0;
};

std::vector<Region> RegionsOf(const cv::Mat1b& mask, int least_area) {
  cv::Mat1i label;
  cv::Mat stats, centroids;
  const int count = cv::connectedComponentsWithStats(mask, label, stats, centroids, 4, CV_32S);
  std::vector<Region> regions;
  for (int i = 1; i < count; ++i) {
    Region r;
    r.area = stats.at<int>(i, cv::CC_STAT_AREA);
    if (r.area < least_area) continue;
    r.box = Grown({stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                   stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT)},
                  2, mask.size());
    r.mask = cv::Mat1b(label(r.box) == i);
    regions.push_back(std::move(r));
  }
  return regions;
}

class HoleFinder {
 public:
  HoleFinder(const Body& body, int reduction)
      : body_(body), reduction_(reduction), taken_(body.inside.size(), uchar{0}) {
    least_area_ = std::max(4, static_cast<int>(0.785 * kLeastDiameter_px * kLeastDiameter_px /
                                               (reduction * reduction)));
  }

  std::vector<ProposedHole> Find(double& main_step) {
    const double dark = TypicalStep(-1), bright = TypicalStep(1);
    const int main = dark * dark_count_ >= bright * bright_count_ ? -1 : 1;
    main_step_ = main * (main < 0 ? dark : bright);
    main_step = main_step_;
    if (dark == 0 && bright == 0) return {};
    for (const int way : {main, -main}) {
      const double typical = way < 0 ? dark : bright;
      if (typical > 0) Collect(way, 0.5 * typical, false);
    }
    const double faint = std::max(
        {kNoises * body_.noise, kLeastStep, kPaleStep * std::min(1.0, std::abs(main_step_))});
    for (const int way : {main, -main}) Collect(way, faint, true);
    std::sort(holes_.begin(), holes_.end(),
              [](const ProposedHole& a, const ProposedHole& b) { return a.area_px2 > b.area_px2; });
    return std::move(holes_);
  }

 private:
  // How far most of what stands out in one direction stands out; 0 when nothing does.
  double TypicalStep(int way) {
    const double least = std::max(kNoises * body_.noise, kLeastStep);
    std::vector<double> steps;
    for (int y = 0; y < body_.relative.rows; ++y) {
      for (int x = 0; x < body_.relative.cols; ++x) {
        const double step = way * (body_.relative(y, x) - 1.0);
        if (body_.depth(y, x) > 3 && step > least) steps.push_back(step);
      }
    }
    const double count = static_cast<double>(steps.size());
    (way < 0 ? dark_count_ : bright_count_) = count;
    return count < least_area_ ? 0 : Quantile(std::move(steps), 0.7);
  }

  cv::Mat1b MaskAbove(int way, double threshold, const cv::Mat1b& blocked) const {
    cv::Mat1b mask(body_.relative.size(), uchar{0});
    for (int y = 0; y < mask.rows; ++y) {
      for (int x = 0; x < mask.cols; ++x) {
        const bool in = body_.depth(y, x) > 1.6 && !blocked(y, x);
        mask(y, x) = in && way * (body_.relative(y, x) - 1.0) > threshold ? 255 : 0;
      }
    }
    return mask;
  }

  void Collect(int way, double threshold, bool weak) {
    cv::Mat1b blocked;
    const int reach = weak ? 3 : 1;
    cv::dilate(taken_, blocked,
               cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1}));
    const cv::Mat1b mask = MaskAbove(way, threshold, blocked);
    for (const Region& region : RegionsOf(mask, least_area_)) {
      if (weak && Leans(region, blocked)) continue;
      for (const Region& part : Parted(region, way, threshold)) Add(part, way);
    }
  }

  bool Leans(const Region& region, const cv::Mat1b& blocked) const {
    cv::Mat1b grown;
    cv::dilate(region.mask, grown, cv::Mat::ones(3, 3, CV_8U));
    int rim = 0, touching = 0;
    for (int y = 0; y < grown.rows; ++y) {
      for (int x = 0; x < grown.cols; ++x) {
        if (!grown(y, x) || region.mask(y, x)) continue;
        ++rim;
        const int py = y + region.box.y, px = x + region.box.x;
        touching += blocked(py, px) || body_.depth(py, px) <= 1.7f ? 1 : 0;
      }
    }
    return touching > kLeaning * rim;
  }

  // Lumens that a thin septum, hardly lighter than they are, lets run together: higher levels part
  // them, and each pixel goes to the part that it drains into.
  std::vector<Region> Parted(const Region& region, int way, double threshold) const {
    if (region.area * reduction_ * reduction_ < 400) return {region};
    const cv::Mat1f tone = body_.fine(region.box);
    std::vector<double> steps;
    for (int y = 0; y < tone.rows; ++y) {
      for (int x = 0; x < tone.cols; ++x) {
        if (region.mask(y, x)) steps.push_back(way * (tone(y, x) - 1.0));
      }
    }
    const double own = Median(std::move(steps));
    for (const double share : {0.55, 0.62, 0.70, 0.77, 0.84}) {
      const double level = share * own;
      if (level <= threshold || own - level < 3 * body_.noise) continue;
      cv::Mat1b high(tone.size(), uchar{0});
      for (int y = 0; y < tone.rows; ++y) {
        for (int x = 0; x < tone.cols; ++x) {
          high(y, x) = region.mask(y, x) && way * (tone(y, x) - 1.0) > level ? 255 : 0;
        }
      }
      const auto children =
          RegionsOf(high, std::max(least_area_, static_cast<int>(kChildShare * region.area)));
      if (children.size() < 2) continue;
      const cv::Mat1s owner = Flooded(region, tone, way, children);
      if (!SeptaStand(owner, tone, way, own)) continue;
      std::vector<Region> parts;
      for (std::size_t k = 0; k < children.size(); ++k) {
        Region part;
        part.box = region.box;
        part.mask = cv::Mat1b(owner == static_cast<int>(k));
        part.area = cv::countNonZero(part.mask);
        parts.push_back(std::move(part));
      }
      return parts;
    }
    return {region};
  }

  // Nearly everywhere between two parts there is a ridge: a gap in it makes them one merged lumen,
  // and a boundary in plain shade makes them one lumen.
  static bool SeptaStand(const cv::Mat1s& owner, const cv::Mat1f& tone, int way, double own) {
    std::vector<double> border;
    for (int y = 0; y + 1 < owner.rows; ++y) {
      for (int x = 0; x + 1 < owner.cols; ++x) {
        const short a = owner(y, x);
        if (a < 0) continue;
        for (const cv::Point p : {cv::Point(x + 1, y), cv::Point(x, y + 1)}) {
          if (owner(p) < 0 || owner(p) == a) continue;
          border.push_back(std::min(way * (tone(y, x) - 1.0), way * (tone(p) - 1.0)));
        }
      }
    }
    return !border.empty() && Quantile(std::move(border), 0.95) < (1 - kSeptumDip) * own;
  }

  // Which child each pixel of the region drains into; -1 outside.
  static cv::Mat1s Flooded(const Region& region, const cv::Mat1f& tone, int way,
                           const std::vector<Region>& children) {
    struct Drop {
      float height;
      int x, y, owner;
      bool operator<(const Drop& other) const { return height < other.height; }
    };
    std::priority_queue<Drop> queue;
    cv::Mat1s owner(tone.size(), short{-1});
    for (std::size_t k = 0; k < children.size(); ++k) {
      const cv::Point at = children[k].box.tl();
      for (int y = 0; y < children[k].mask.rows; ++y) {
        for (int x = 0; x < children[k].mask.cols; ++x) {
          if (!children[k].mask(y, x)) continue;
          queue.push({1e9f, x + at.x, y + at.y, static_cast<int>(k)});
        }
      }
    }
    while (!queue.empty()) {
      const Drop d = queue.top();
      queue.pop();
      if (owner(d.y, d.x) >= 0) continue;
      owner(d.y, d.x) = static_cast<short>(d.owner);
      for (const cv::Point step : {cv::Point(1, 0), {-1, 0}, {0, 1}, {0, -1}}) {
        const int x = d.x + step.x, y = d.y + step.y;
        if (x < 0 || y < 0 || x >= tone.cols || y >= tone.rows) continue;
        if (!region.mask(y, x) || owner(y, x) >= 0) continue;
        queue.push({static_cast<float>(way) * (tone(y, x) - 1), x, y, d.owner});
      }
    }
    return owner;
  }

  void Add(const Region& region, int way) {
    cv::Mat1f depth;
    cv::Mat1b padded;
    cv::copyMakeBorder(region.mask, padded, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::distanceTransform(padded, depth, cv::DIST_L2, 3);
    double deepest = 0;
    cv::minMaxLoc(depth, nullptr, &deepest);
    const double diameter = 2 * std::sqrt(region.area / M_PI);
    if (2 * deepest < kThin * diameter) return;
    if (diameter < kStreak * std::hypot(region.box.width - 4, region.box.height - 4) &&
        diameter * reduction_ < kSmall_px) {
      return;
    }
    std::vector<double> core;
    for (int y = 0; y < region.mask.rows; ++y) {
      for (int x = 0; x < region.mask.cols; ++x) {
        if (depth(y + 1, x + 1) >= 0.5 * deepest) {
          core.push_back(body_.fine(y + region.box.y, x + region.box.x));
        }
      }
    }
    std::vector<std::vector<cv::Point>> chains;
    cv::findContours(region.mask, chains, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
    const auto chain =
        std::max_element(chains.begin(), chains.end(),
                         [](const auto& a, const auto& b) { return a.size() < b.size(); });
    if (chain == chains.end()) return;
    ProposedHole hole;
    hole.step = Median(std::move(core)) - 1;
    hole.main_tone = hole.step * main_step_ > 0;
    const bool small = diameter * reduction_ < kSmall_px;
    if (small && std::abs(hole.step) < kWeakStep * std::min(1.0, std::abs(main_step_))) return;
    const ContourPx coarse = FromChain(*chain, region.box.tl());
    if (coarse.size() < 6 || hole.step * way <= 0) return;
    const ContourPx fine =
        AtHalfLevel(body_.fine, coarse, 1 + hole.step, 1, std::min(2.0, 0.4 * deepest));
    const EdgeLook look = LookAlong(body_.fine, fine, way);
    // A patch of body that a dark line encloses looks like a paler hole: body must lie around it.
    if (std::abs(look.outside - 1) > kSurround * std::abs(hole.step)) return;
    hole.clear_share = look.clear_share;
    hole.cut_by_frame = region.box.x <= 0 || region.box.y <= 0 ||
                        region.box.br().x >= body_.inside.cols ||
                        region.box.br().y >= body_.inside.rows;
    hole.contour = Enlarged(fine, reduction_);
    hole.area_px2 = Area(hole.contour);
    cv::Mat1b target = taken_(region.box);
    target.setTo(255, region.mask);
    holes_.push_back(std::move(hole));
  }

  const Body& body_;
  int reduction_;
  int least_area_ = 4;
  double dark_count_ = 0, bright_count_ = 0, main_step_ = 0;
  cv::Mat1b taken_;
  std::vector<ProposedHole> holes_;
};

}  // namespace

std::vector<ProposedHole> FindHoles(const Body& body, int reduction, double& main_step) {
  return HoleFinder(body, reduction).Find(main_step);
}

}  // namespace cutface::segment
