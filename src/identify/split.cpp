#include "identify/split.h"

#include <array>
#include <opencv2/imgproc.hpp>

namespace cutface {
namespace {

constexpr std::array<double, 9> kLevels{0.55, 0.60, 0.65, 0.70, 0.75, 0.80, 0.84, 0.88, 0.92};
constexpr double kSeedShare = 0.12;  // of the nominal area: a seed smaller than this is noise

// Component of `mask` that covers most of each lumen's nominal area; 0 = none.
struct Seeds {
  cv::Mat1i label;
  std::vector<int> of;
};

Seeds SeedsAt(const cv::Mat1f& ratio, const cv::Mat1b& region, const cv::Mat1s& nominal,
              const std::vector<int>& lumens, double level) {
  Seeds seeds;
  cv::Mat1b mask(ratio.size(), uchar{0});
  for (int y = 0; y < ratio.rows; ++y) {
    for (int x = 0; x < ratio.cols; ++x) mask(y, x) = region(y, x) && ratio(y, x) > level ? 255 : 0;
  }
  const int count = cv::connectedComponents(mask, seeds.label, 4, CV_32S);
  for (int lumen : lumens) {
    std::vector<int> cover(count, 0);
    int area = 0;
    for (int y = 0; y < ratio.rows; ++y) {
      for (int x = 0; x < ratio.cols; ++x) {
        if (nominal(y, x) != 1 + lumen) continue;
        ++area;
        ++cover[seeds.label(y, x)];
      }
    }
    cover[0] = 0;
    const int best = static_cast<int>(std::max_element(cover.begin(), cover.end()) - cover.begin());
    seeds.of.push_back(cover[best] > kSeedShare * area ? best : 0);
  }
  return seeds;
}

// Grows the seeds downhill in `ratio` over the region (buckets of 1/256).
void Flood(const cv::Mat1f& ratio, const cv::Mat1b& region, cv::Mat1s& owner) {
  std::vector<std::vector<cv::Point>> bucket(257);
  const auto level_of = [&](cv::Point p) {
    return std::clamp(static_cast<int>(ratio(p) * 256), 0, 256);
  };
  const std::array<cv::Point, 4> around{cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1),
                                        cv::Point(0, -1)};
  for (int y = 0; y < owner.rows; ++y) {
    for (int x = 0; x < owner.cols; ++x) {
      if (owner(y, x) >= 0) bucket[256].push_back({x, y});
    }
  }
  for (int level = 256; level >= 0; --level) {
    for (std::size_t k = 0; k < bucket[level].size(); ++k) {
      const cv::Point p = bucket[level][k];
      for (cv::Point step : around) {
        const cv::Point q = p + step;
        if (q.x < 0 || q.y < 0 || q.x >= owner.cols || q.y >= owner.rows) continue;
        if (!region(q) || owner(q) >= 0) continue;
        owner(q) = owner(p);
        bucket[std::min(level, level_of(q))].push_back(q);
      }
    }
  }
}

}  // namespace

std::vector<std::vector<int>> GroupByRidge(const cv::Mat1f& ratio, const cv::Mat1b& region,
                                           const cv::Mat1s& nominal, const std::vector<int>& lumens,
                                           double least_contrast, cv::Mat1s& owner,
                                           std::vector<double>& ridge_contrast) {
  // At each level lumens that still share a component belong together; the last level that may
  // count as a septum decides.
  std::vector<double> parted(lumens.size(), 0);
  Seeds last;
  for (double level : kLevels) {
    if (1 - level < least_contrast) break;
    Seeds seeds = SeedsAt(ratio, region, nominal, lumens, level);
    if (std::find(seeds.of.begin(), seeds.of.end(), 0) != seeds.of.end())
      break;  // a lumen was lost
    for (std::size_t a = 0; a < lumens.size(); ++a) {
      bool alone = true;
      for (std::size_t b = 0; b < lumens.size(); ++b)
        alone = alone && (a == b || seeds.of[a] != seeds.of[b]);
      if (alone && parted[a] == 0) parted[a] = 1 - level;
    }
    last = seeds;
    if (std::find(parted.begin(), parted.end(), 0.0) == parted.end()) break;
  }
  std::vector<std::vector<int>> groups;
  owner.create(ratio.size());
  owner = -1;
  ridge_contrast.clear();
  if (last.of.empty()) {
    groups.push_back(lumens);
    ridge_contrast.push_back(0);
    for (int y = 0; y < owner.rows; ++y) {
      for (int x = 0; x < owner.cols; ++x) {
        if (region(y, x)) owner(y, x) = 0;
      }
    }
    return groups;
  }
  std::vector<int> seen;
  for (std::size_t a = 0; a < lumens.size(); ++a) {
    const auto at = std::find(seen.begin(), seen.end(), last.of[a]);
    if (at == seen.end()) {
      seen.push_back(last.of[a]);
      groups.push_back({lumens[a]});
      ridge_contrast.push_back(parted[a]);
    } else {
      const std::size_t g = static_cast<std::size_t>(at - seen.begin());
      groups[g].push_back(lumens[a]);
      ridge_contrast[g] = 0;
    }
  }
  for (int y = 0; y < owner.rows; ++y) {
    for (int x = 0; x < owner.cols; ++x) {
      const int label = last.label(y, x);
      if (label == 0) continue;
      const auto at = std::find(seen.begin(), seen.end(), label);
      if (at != seen.end()) owner(y, x) = static_cast<short>(at - seen.begin());
    }
  }
  Flood(ratio, region, owner);
  return groups;
}

}  // namespace cutface
