#include "segment/outline.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "segment/grid.h"
#include "segment/light.h"

namespace cutface::segment {
namespace {

constexpr int kMostPixels = 500'000;
constexpr int kEvenLevels = 26, kRankLevels = 10;
constexpr double kLeastArea = 0.003;  // of the picture
constexpr double kMostArea = 0.93;
constexpr double kLeastSolidity = 0.72;   // area / area of the convex hull
constexpr double kLeastRoundness = 0.35;  // 4 pi area / perimeter^2 of the hull; strips have less
constexpr double kMostContact = 0.42;     // share of the outline that may lie on the frame
constexpr double kSameOutline = 0.07;     // areas and places closer than this: found twice
constexpr double kRagged = 1.12;          // perimeter / that of the hull; more is a torn edge
constexpr double kSizeWeight = 0.08;      // a bubble has as clear an edge as the part beside it
constexpr double kLeastScore = 0.33;
constexpr double kOuterShare = 0.42;  // of the best score, for an outline around it to be the part
constexpr double kOtherArea = 0.35, kOtherScore = 0.75;  // of the part's: a second part

struct Candidate {
  OutlineFound found;
  double area = 0;
  PointPx centre;
};

std::vector<float> Levels(const cv::Mat1f& image) {
  std::vector<double> tones;
  for (int y = 0; y < image.rows; y += 3) {
    for (int x = 0; x < image.cols; x += 3) tones.push_back(image(y, x));
  }
  std::sort(tones.begin(), tones.end());
  const auto rank = [&](double share) {
    return tones[static_cast<std::size_t>(share * static_cast<double>(tones.size() - 1))];
  };
  const double low = rank(0.004), high = rank(0.996);
  std::vector<float> levels;
  for (int k = 1; k < kEvenLevels; ++k) {
    levels.push_back(static_cast<float>(low + (high - low) * k / kEvenLevels));
  }
  // Two tones of a weak picture may both lie between even levels: middles between ranks as well.
  for (int k = 1; k < kRankLevels; ++k) {
    const double a = rank(static_cast<double>(k) / (kRankLevels + 1));
    const double b = rank(static_cast<double>(k + 1) / (kRankLevels + 1));
    levels.push_back(static_cast<float>(0.5 * (a + b)));
  }
  std::sort(levels.begin(), levels.end());
  return levels;
}

double NoiseOf(const cv::Mat1f& image) {
  std::vector<double> differences;
  for (int y = 0; y < image.rows; y += 4) {
    for (int x = 0; x + 5 < image.cols; x += 4) {
      differences.push_back(image(y, x + 5) - image(y, x));
    }
  }
  return differences.size() < 10 ? 0.05
                                 : std::max(5e-4, RobustSigma(std::move(differences)) / 1.414);
}

// The frame cuts the part, and perhaps lumens with it: along each side the stretch between the
// outermost contacts counts as inside.
std::vector<cv::Point> ClosedAlongFrame(const std::vector<cv::Point>& chain, cv::Size size) {
  int least[4], most[4];
  std::fill(std::begin(least), std::end(least), 1 << 30);
  std::fill(std::begin(most), std::end(most), -1);
  for (const cv::Point p : chain) {
    const bool on[4] = {p.y == 0, p.x == size.width - 1, p.y == size.height - 1, p.x == 0};
    for (int side = 0; side < 4; ++side) {
      if (!on[side]) continue;
      const int at = side % 2 == 0 ? p.x : p.y;
      least[side] = std::min(least[side], at);
      most[side] = std::max(most[side], at);
    }
  }
  cv::Mat1b mask(size, uchar{0});
  cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{chain}, cv::Scalar(255));
  for (int side = 0; side < 4; ++side) {
    if (most[side] < 0) continue;
    const int fixed = side == 0 || side == 3 ? 0 : (side == 1 ? size.width : size.height) - 1;
    const cv::Point a =
        side % 2 == 0 ? cv::Point(least[side], fixed) : cv::Point(fixed, least[side]);
    const cv::Point b = side % 2 == 0 ? cv::Point(most[side], fixed) : cv::Point(fixed, most[side]);
    cv::line(mask, a, b, cv::Scalar(255));
  }
  std::vector<std::vector<cv::Point>> outer;
  cv::findContours(mask, outer, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  const auto largest = std::max_element(
      outer.begin(), outer.end(), [](const auto& a, const auto& b) { return a.size() < b.size(); });
  return largest == outer.end() ? chain : *largest;
}

class OutlineSearch {
 public:
  explicit OutlineSearch(const cv::Mat1f& image) : image_(image), noise_(NoiseOf(image)) {
    for (const float level : Levels(image)) levels_.push_back(level);
    span_ = std::max(1e-3f, levels_.back() - levels_.front());
  }

  void Propose(const cv::Mat1f& picture) {
    for (const float level : Levels(picture)) {
      for (const int way : {1, -1}) {
        const cv::Mat1b mask = way > 0 ? cv::Mat1b(picture > level) : cv::Mat1b(picture < level);
        std::vector<std::vector<cv::Point>> chains;
        cv::findContours(mask, chains, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
        for (const auto& chain : chains) Consider(chain, way);
      }
    }
  }

  Result<std::vector<OutlineFound>> Choose() {
    std::sort(candidates_.begin(), candidates_.end(),
              [](const Candidate& a, const Candidate& b) { return a.found.score > b.found.score; });
    std::vector<Candidate> kept;
    for (Candidate& c : candidates_) {
      const bool known = std::any_of(kept.begin(), kept.end(), [&](const Candidate& k) {
        const double ratio = c.area / k.area;
        return ratio > 1 - kSameOutline && ratio < 1 / (1 - kSameOutline) &&
               Distance(c.centre, k.centre) < kSameOutline * std::sqrt(k.area);
      });
      if (!known && c.found.score > kLeastScore && kept.size() < 60) kept.push_back(std::move(c));
    }
    if (kept.empty()) {
      return Fail(Code::kNoSection,
                  "no closed outline with a clear edge in the picture; show one whole cut face");
    }
    std::size_t part = 0;
    for (std::size_t k = 1; k < kept.size(); ++k) {
      if (kept[k].area > kept[part].area &&
          kept[k].found.score > kOuterShare * kept.front().found.score &&
          Around(kept[k], kept[part])) {
        part = k;
      }
    }
    std::rotate(kept.begin(), kept.begin() + static_cast<std::ptrdiff_t>(part),
                kept.begin() + static_cast<std::ptrdiff_t>(part) + 1);
    std::vector<OutlineFound> found;
    for (Candidate& c : kept) found.push_back(std::move(c.found));
    return found;
  }

 private:
  static bool Around(const Candidate& outer, const Candidate& inner) {
    const ContourPx& points = inner.found.contour;
    std::size_t held = 0, looked = 0;
    for (std::size_t i = 0; i < points.size(); i += 1 + points.size() / 40) {
      ++looked;
      held += Contains(outer.found.contour, points[i]) ? 1 : 0;
    }
    return static_cast<double>(held) > 0.9 * static_cast<double>(looked);
  }

  void Consider(const std::vector<cv::Point>& chain, int way) {
    const double picture = static_cast<double>(image_.total());
    if (chain.size() < 40) return;
    const double area = cv::contourArea(chain);
    if (area < kLeastArea * picture || area > kMostArea * picture) return;
    const bool touches = std::any_of(chain.begin(), chain.end(), [&](cv::Point p) {
      return p.x == 0 || p.y == 0 || p.x == image_.cols - 1 || p.y == image_.rows - 1;
    });
    const std::vector<cv::Point> closed = touches ? ClosedAlongFrame(chain, image_.size()) : chain;
    std::vector<cv::Point> hull;
    cv::convexHull(closed, hull);
    const double own = cv::contourArea(closed);
    if (own > kMostArea * picture) return;
    const double solidity = own / std::max(1.0, cv::contourArea(hull));
    if (solidity < kLeastSolidity) return;
    const double round = cv::arcLength(hull, true);
    if (4 * M_PI * own < kLeastRoundness * round * round) return;
    Candidate c;
    c.found.contour = FromChain(closed, {0, 0});
    if (c.found.contour.size() < 20) return;
    const EdgeLook look = LookAlong(image_, c.found.contour, way);
    if (look.contact > kMostContact || look.step * way >= 0) return;
    const double strength = std::abs(look.step);
    const double calm = std::min(1.0, kRagged * round / std::max(1.0, Perimeter(c.found.contour)));
    c.found.way = way;
    c.found.inside = look.inside;
    c.found.outside = look.outside;
    c.found.cut_by_frame = look.contact > 0;
    c.found.score = std::pow(look.clear_share, 2) * std::pow(solidity, 1.5) * calm * calm *
                    std::pow(1 - look.contact, 1.5) * strength / (strength + 3 * noise_) *
                    std::pow(std::min(1.0, strength / span_), 0.2) *
                    std::pow(own / picture, kSizeWeight);
    c.area = own;
    c.centre = Centroid(c.found.contour);
    candidates_.push_back(std::move(c));
  }

  cv::Mat1f image_;
  double noise_;
  std::vector<float> levels_;
  double span_ = 1;
  std::vector<Candidate> candidates_;
};

// What follows the frame is moved well beyond it: no edge is there.
ContourPx BeyondFrame(const ContourPx& contour, cv::Size size) {
  constexpr double kFar = 12, kNear = 1.6;
  ContourPx out;
  for (PointPx p : contour) {
    if (p.x < kNear) p.x = -kFar;
    if (p.y < kNear) p.y = -kFar;
    if (p.x > size.width - 1 - kNear) p.x = size.width - 1 + kFar;
    if (p.y > size.height - 1 - kNear) p.y = size.height - 1 + kFar;
    out.push_back(p);
  }
  return out;
}

}  // namespace

Result<std::vector<OutlineFound>> FindOutlines(const cv::Mat1f& work) {
  const double factor = std::max(1.0, std::sqrt(static_cast<double>(work.total()) / kMostPixels));
  cv::Mat1f image = work;
  if (factor > 1) {
    cv::resize(work, image, cv::Size(), 1 / factor, 1 / factor, cv::INTER_AREA);
  }
  cv::Mat1f smooth;
  cv::GaussianBlur(image, smooth, cv::Size(), 1.0);
  OutlineSearch search(smooth);
  search.Propose(smooth);
  search.Propose(Flattened(smooth));
  auto found = search.Choose();
  if (!found) return found;
  const double fx = static_cast<double>(work.cols) / smooth.cols;
  for (OutlineFound& outline : *found) {
    ContourPx contour = AtHalfLevel(smooth, outline.contour, outline.inside, outline.outside, 2.5);
    if (outline.cut_by_frame) contour = BeyondFrame(contour, smooth.size());
    outline.contour = Enlarged(contour, fx);
  }
  return found;
}

int OutlinesBeside(const OutlineFound& part, const std::vector<OutlineFound>& all) {
  const double area = Area(part.contour);
  std::vector<const OutlineFound*> beside;
  const auto overlaps = [](const OutlineFound& a, const OutlineFound& b) {
    return Contains(a.contour, Centroid(b.contour)) || Contains(b.contour, Centroid(a.contour));
  };
  for (const OutlineFound& other : all) {
    if (Area(other.contour) < kOtherArea * area || overlaps(part, other)) continue;
    if (other.score < kOtherScore * part.score) continue;
    const bool counted = std::any_of(beside.begin(), beside.end(),
                                     [&](const OutlineFound* b) { return overlaps(*b, other); });
    if (!counted) beside.push_back(&other);
  }
  return static_cast<int>(beside.size());
}

}  // namespace cutface::segment
