#include "identify/split.h"

#include <array>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr std::array<double, 10> kSplitLevels{0.55, 0.60, 0.65, 0.70, 0.75,
                                              0.80, 0.84, 0.88, 0.92, 0.95};
constexpr int kLineHalf = 5;      // half length of the line filter, px
constexpr double kLineNoise = 4;  // standard deviations that a line must stand out
// What the best of 12 directions reaches in noise (1.6 standard deviations) and three more, of a
// mean of 33 pixels less one of 22 that smoothing has made alike: (1.6 + 3) * 0.22 * 1.5.
constexpr double kPooled = 1.5;
constexpr double kBreachHalf = 3;           // px of border that are looked at together
constexpr double kBreachShare = 0.25;       // of the septum's usual contrast: less is a breach
constexpr std::size_t kBorderLeast = 24;    // px: a shorter border proves no septum
constexpr std::size_t kChannelWidest = 10;  // px of border
constexpr int kChannelHalf = 3;
constexpr float kChannelStep = 0.35f;  // of a lumen's step, over the body on both sides
constexpr double kSeedShare = 0.12;    // of the nominal area: a seed smaller than this is noise

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

// A line filter: mean of what lies beside a line (the side nearer to the body) less its middle.
class LineFilter {
 public:
  explicit LineFilter(int half_length) {
    for (int k = 0; k < kWays; ++k) {
      const double a = k * M_PI / kWays, c = std::cos(a), s = std::sin(a);
      const auto at = [&](int along, int across) {
        return cv::Point(static_cast<int>(std::lround(along * c - across * s)),
                         static_cast<int>(std::lround(along * s + across * c)));
      };
      for (int along = -half_length; along <= half_length; ++along) {
        for (int across : {-1, 0, 1}) middle_[k].push_back(at(along, across));
        for (int across : {4, 5}) {
          left_[k].push_back(at(along, across));
          right_[k].push_back(at(along, -across));
        }
      }
    }
  }

  // The same for a line of lumen tone with body on both sides.
  float ChannelAt(const cv::Mat1f& ratio, cv::Point p) const {
    float best = -1;
    for (int k = 0; k < kWays; ++k) {
      const float beside = std::max(Mean(ratio, p, left_[k]), Mean(ratio, p, right_[k]));
      best = std::max(best, Mean(ratio, p, middle_[k]) - beside);
    }
    return best;
  }

  // Strongest over all directions; 1 for a line of body tone in a lumen.
  float At(const cv::Mat1f& ratio, cv::Point p) const {
    float best = -1;
    for (int k = 0; k < kWays; ++k) {
      const float beside = std::min(Mean(ratio, p, left_[k]), Mean(ratio, p, right_[k]));
      best = std::max(best, beside - Mean(ratio, p, middle_[k]));
    }
    return best;
  }

 private:
  static constexpr int kWays = 12;
  using Offsets = std::vector<cv::Point>;

  static float Mean(const cv::Mat1f& ratio, cv::Point p, const Offsets& offsets) {
    float sum = 0;
    for (cv::Point o : offsets) {
      const int x = std::clamp(p.x + o.x, 0, ratio.cols - 1);
      const int y = std::clamp(p.y + o.y, 0, ratio.rows - 1);
      sum += ratio(y, x);
    }
    return sum / static_cast<float>(offsets.size());
  }

  std::array<Offsets, kWays> middle_, left_, right_;
};

// Places that lie within reach of two of the lumens as drawn.
cv::Mat1b BetweenLumens(const cv::Mat1s& nominal, const std::vector<int>& lumens, double reach_px) {
  cv::Mat1b near(nominal.size(), uchar{0});
  for (int lumen : lumens) {
    cv::Mat1b away = cv::Mat(nominal != 1 + lumen);
    cv::Mat1f distance;
    cv::distanceTransform(away, distance, cv::DIST_L2, 3);
    for (int y = 0; y < near.rows; ++y) {
      for (int x = 0; x < near.cols; ++x) {
        if (distance(y, x) < reach_px) ++near(y, x);
      }
    }
  }
  return cv::Mat(near > 1);
}

// Places where two owners touch; only those of `a` and `b` when given.
std::vector<cv::Point> Border(const cv::Mat1s& owner, int a, int b) {
  std::vector<cv::Point> border;
  for (int y = 0; y + 1 < owner.rows; ++y) {
    for (int x = 0; x + 1 < owner.cols; ++x) {
      const int here = owner(y, x);
      if (here < 0) continue;
      for (const int other : {owner(y, x + 1), owner(y + 1, x)}) {
        if (other < 0 || other == here) continue;
        if (a >= 0 && (std::min(here, other) != a || std::max(here, other) != b)) continue;
        border.push_back({x, y});
        break;
      }
    }
  }
  return border;
}

}  // namespace

std::vector<bool> JoinChannels(const cv::Mat1f& ratio, cv::Mat1s& owner,
                               std::vector<std::vector<int>>& groups,
                               std::vector<double>& ridge_contrast) {
  const LineFilter filter(kChannelHalf);
  std::vector<bool> joined(groups.size(), false);
  for (int a = 0; a < static_cast<int>(groups.size()); ++a) {
    for (int b = a + 1; b < static_cast<int>(groups.size()); ++b) {
      const std::vector<cv::Point> border = Border(owner, a, b);
      if (border.empty() || border.size() > kChannelWidest) continue;
      const cv::Point saddle =
          *std::max_element(border.begin(), border.end(),
                            [&](cv::Point p, cv::Point q) { return ratio(p) < ratio(q); });
      if (filter.ChannelAt(ratio, saddle) < kChannelStep) continue;
      const std::size_t to = static_cast<std::size_t>(a), from = static_cast<std::size_t>(b);
      groups[to].insert(groups[to].end(), groups[from].begin(), groups[from].end());
      std::sort(groups[to].begin(), groups[to].end());
      groups.erase(groups.begin() + b);
      ridge_contrast.erase(ridge_contrast.begin() + b);
      ridge_contrast[to] = 0;
      joined.erase(joined.begin() + b);
      joined[to] = true;
      for (short& v : owner) v = static_cast<short>(v == b ? a : v > b ? v - 1 : v);
      --b;
    }
  }
  return joined;
}

cv::Mat1f SeptumLines(const cv::Mat1f& ratio, const cv::Mat1b& region, const cv::Mat1s& nominal,
                      const std::vector<int>& lumens, double reach_px, double noise,
                      double& least_contrast) {
  const cv::Mat1b between = BetweenLumens(nominal, lumens, reach_px);
  const LineFilter filter(kLineHalf);
  cv::Mat1f lines(ratio.size(), 1.0f);
  std::vector<double> all;
  for (int y = 0; y < ratio.rows; ++y) {
    for (int x = 0; x < ratio.cols; ++x) {
      if (!region(y, x) || !between(y, x)) continue;
      const float line = filter.At(ratio, {x, y});
      lines(y, x) = 1 - line;
      all.push_back(line);
    }
  }
  least_contrast = 1;
  if (all.size() < 100) return lines;
  const double common = Median(all);
  // Seen in the picture, where septa count as noise too, or expected from a pixel's noise.
  least_contrast = std::min(common + kLineNoise * RobustSigma(std::move(all)), kPooled * noise);
  return lines;
}

bool HasBreach(const cv::Mat1f& ratio, const cv::Mat1s& owner, double noise) {
  const LineFilter filter(1);
  const std::vector<cv::Point> border = Border(owner, -1, -1);
  if (border.size() < kBorderLeast) return true;
  std::vector<double> line;
  for (cv::Point p : border) line.push_back(filter.At(ratio, p));
  const double usual = Median(line);
  for (std::size_t i = 0; i < border.size(); ++i) {
    double sum = 0;
    int count = 0;
    for (std::size_t j = 0; j < border.size(); ++j) {
      if (cv::norm(border[j] - border[i]) > kBreachHalf) continue;
      sum += line[j];
      ++count;
    }
    // About one independent place in three along the border.
    const double error = noise / std::sqrt(9.0) / std::sqrt(std::max(1.0, count / 3.0));
    const double here = sum / count;
    if (here < kBreachShare * usual && usual - here > 3 * error) return true;
  }
  return false;
}

std::vector<std::vector<int>> GroupByRidge(const cv::Mat1f& ratio, const cv::Mat1b& region,
                                           const cv::Mat1s& nominal, const std::vector<int>& lumens,
                                           double least_contrast, cv::Mat1s& owner,
                                           std::vector<double>& ridge_contrast) {
  // At each level lumens that still share a component belong together; the last level that may
  // count as a septum decides.
  std::vector<double> parted(lumens.size(), 0);
  Seeds last;
  for (double level : kSplitLevels) {
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
