#include "identify/seam_strip.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kStep_px = 0.5;       // between columns
constexpr double kMargin_px = 9;       // beyond the reach: what the responses look at
constexpr double kSaturated = 0.93;    // of full scale: metal
constexpr float kHole = 0.5f;          // relative tone below which a wide place is no solid
constexpr double kHole_px = 3.5;       // such a place is wider than any line
constexpr double kMaskGrow_px = 2.5;   // its blurred edge
constexpr double kSizeReach = 0.012;   // of the radius: a ring's size may be off by so much
constexpr double kShiftReach = 0.035;  // of the radius: its centre
constexpr double kBrightLine = 0.7;    // of what a bright line explains that does not count
const float kNone = std::numeric_limits<float>::quiet_NaN();

// Takes out what is no part of two solids: bores, the outside, metal, holes.
void MaskStrip(const Micrograph& micrograph, const FaceTones& tones, const ContourPx& outline,
               const cv::Mat1b& hidden, Ribbon& ribbon) {
  const ContourIndex<FramePx> rim{std::span<const PointPx>(outline)};
  const int rows = ribbon.tone.rows, columns = ribbon.tone.cols;
  cv::Mat1b bad(rows, columns, uchar{0}), away(rows, columns, uchar{0});
  for (int i = 0; i < rows; ++i) {
    int run = 0;
    for (int j = 0; j < columns; ++j) {
      const PointPx p = ribbon.At(i, ribbon.Offset(j));
      const int x = static_cast<int>(p.x / micrograph.reduction),
                y = static_cast<int>(p.y / micrograph.reduction);
      const bool inside = x >= 0 && y >= 0 && x < hidden.cols && y < hidden.rows;
      if (!ribbon.visible(i, j) || !inside || hidden(y, x) != 0) away(i, j) = 255;
      if (ribbon.tone(i, j) > kSaturated) bad(i, j) = 255;
      ribbon.tone(i, j) /= static_cast<float>(tones.light.At(p.x, p.y));
      run = ribbon.tone(i, j) < kHole ? run + 1 : 0;
      if (run * ribbon.step >= kHole_px)
        for (int k = 0; k < run; ++k) bad(i, j - k) = 255;
    }
    const PointPx end = ribbon.At(i, ribbon.Offset(columns - 1));
    if (rim.SignedDistance(end, 2 * columns * ribbon.step) < -3) continue;
    for (int j = 0; j < columns; ++j) {
      if (rim.SignedDistance(ribbon.At(i, ribbon.Offset(j)), 2 * columns * ribbon.step) > -3)
        away(i, j) = 255;
    }
  }
  const int wide = static_cast<int>(std::lround(kMaskGrow_px / ribbon.step));
  cv::dilate(bad, bad, cv::getStructuringElement(cv::MORPH_RECT, {2 * wide + 1, 3}));
  for (int i = 0; i < rows; ++i) {
    for (int j = 0; j < columns; ++j) {
      if (bad(i, j) || away(i, j)) ribbon.tone(i, j) = kNone;
    }
  }
}

// Sums of seen tones and their number over a few places and then up to each column.
class Sums {
 public:
  explicit Sums(const cv::Mat1f& tone) : rows_(tone.rows), columns_(tone.cols) {
    cv::Mat1d sum(rows_, columns_, 0.0), count(rows_, columns_, 0.0);
    for (int i = 0; i < rows_; ++i) {
      for (int k = -kSeamAlong; k <= kSeamAlong; ++k) {
        const float* t = tone.ptr<float>((i + k + rows_) % rows_);
        for (int j = 0; j < columns_; ++j) {
          if (!std::isfinite(t[j])) continue;
          sum(i, j) += t[j];
          count(i, j) += 1;
        }
      }
    }
    cv::integral(sum, sum_, CV_64F);
    cv::integral(count, count_, CV_64F);
  }
  // Mean over columns from `a` to `b`, both included; not a number when less than half was seen.
  float Mean(int i, int a, int b) const {
    if (a < 0 || b >= columns_) return kNone;
    const double n = Over(count_, i, a, b);
    if (n < 0.5 * (2 * kSeamAlong + 1) * (b - a + 1)) return kNone;
    return static_cast<float>(Over(sum_, i, a, b) / n);
  }

 private:
  static double Over(const cv::Mat1d& s, int i, int a, int b) {
    return s(i + 1, b + 1) - s(i, b + 1) - s(i + 1, a) + s(i, a);
  }
  int rows_, columns_;
  cv::Mat1d sum_, count_;
};

double Scatter(const cv::Mat1f& response) {
  std::vector<double> values;
  for (int i = 0; i < response.rows; i += 2) {
    for (int j = 0; j < response.cols; j += 2) {
      if (std::isfinite(response(i, j))) values.push_back(response(i, j));
    }
  }
  return values.size() < 30 ? 1.0 : std::max(1e-4, RobustSigma(std::move(values)));
}

void FillResponses(Strip& s) {
  const Sums sums(s.ribbon.tone);
  const auto columns = [&](double px) { return static_cast<int>(std::lround(px / s.ribbon.step)); };
  s.line = cv::Mat1f(s.ribbon.tone.size(), kNone);
  s.step = cv::Mat1f(s.ribbon.tone.size(), kNone);
  for (int i = 0; i < s.places(); ++i) {
    for (int j = 0; j < s.ribbon.tone.cols; ++j) {
      const float in = sums.Mean(i, j - columns(4.5), j - columns(2.5)),
                  out = sums.Mean(i, j + columns(2.5), j + columns(4.5)),
                  middle = sums.Mean(i, j - columns(0.6), j + columns(0.6));
      s.line(i, j) = 0.5f * (in + out) - middle;
      s.step(i, j) = sums.Mean(i, j + columns(1.5), j + columns(4.5)) -
                     sums.Mean(i, j - columns(4.5), j - columns(1.5));
    }
  }
  s.u_line = Scatter(s.line);
  s.u_step = Scatter(s.step);
}

}  // namespace

Strip MakeStrip(const Micrograph& micrograph, const FaceTones& tones, const ContourPx& outline,
                const cv::Mat1b& hidden, const SeamInput& input) {
  Strip s;
  s.radius = std::sqrt(Area(std::span<const PointPx>(input.drawn)) / M_PI);
  s.size_reach = 2 + kSizeReach * s.radius;
  s.shift_reach = 3 + kShiftReach * s.radius;
  s.reach = s.size_reach + s.shift_reach;
  const double perimeter = Perimeter(std::span<const PointPx>(input.drawn));
  const int places = std::clamp(static_cast<int>(perimeter / 2.5), 120, 900);
  s.ribbon =
      Unroll(micrograph, input.drawn, places, s.reach + kMargin_px, s.reach + kMargin_px, kStep_px);
  MaskStrip(micrograph, tones, outline, hidden, s.ribbon);
  FillResponses(s);
  return s;
}

void MaskBeside(const ContourPx& other, double px, Strip& s) {
  const ContourIndex<FramePx> index{std::span<const PointPx>(other)};
  for (int i = 0; i < s.ribbon.tone.rows; ++i) {
    for (int j = 0; j < s.ribbon.tone.cols; ++j) {
      if (!std::isfinite(s.ribbon.tone(i, j))) continue;
      if (index.NearestTo(s.ribbon.At(i, s.ribbon.Offset(j)), px)) s.ribbon.tone(i, j) = kNone;
    }
  }
  FillResponses(s);
}

Template Pooled(const Strip& s, const std::vector<double>& path) {
  std::vector<std::vector<double>> bins(Template::Bins());
  for (int i = 0; i < s.places(); ++i) {
    for (int j = 0; j < s.ribbon.tone.cols; ++j) {
      if (!std::isfinite(s.ribbon.tone(i, j))) continue;
      const double u = s.ribbon.Offset(j) - path[static_cast<std::size_t>(i)];
      const auto k = std::lround((u + kTemplate_px) / kBin_px);
      if (k >= 0 && k < static_cast<long>(bins.size()))
        bins[static_cast<std::size_t>(k)].push_back(s.ribbon.tone(i, j));
    }
  }
  Template t;
  std::vector<double> scatter;
  for (auto& bin : bins) {
    if (bin.size() < 8) {
      t.tone.push_back(NAN);
      continue;
    }
    scatter.push_back(RobustSigma(bin));
    t.tone.push_back(Median(std::move(bin)));
  }
  if (!scatter.empty()) t.noise = std::max(1e-4, Median(std::move(scatter)));
  // A little smoothing: its slope is what shifts are told from.
  const std::vector<double> raw = t.tone;
  for (std::size_t k = 1; k + 1 < raw.size(); ++k) {
    const double smooth = 0.25 * raw[k - 1] + 0.5 * raw[k] + 0.25 * raw[k + 1];
    if (std::isfinite(smooth)) t.tone[k] = smooth;
  }
  return t;
}

namespace {

constexpr double kWide = 1.6;         // px, of a line: thinner ones look alike
constexpr double kPlaceReach_px = 3;  // of the places that are tried
constexpr int kPlacesPerBin = 5;      // so that bins and places share one grid
constexpr double kPlace_px = kBin_px / kPlacesPerBin;

// A step and a line of one blur, with level and slants, by the distance from the seam in places.
class SeamShapes {
 public:
  using Row = Eigen::Matrix<double, 5, 1>;
  explicit SeamShapes(double blur) {
    for (int i = -kMost; i <= kMost; ++i) {
      const double d = i * kPlace_px;
      const double up = NormalCdf(d / blur);
      const double dip = NormalCdf((d + 0.5 * kWide) / blur) - NormalCdf((d - 0.5 * kWide) / blur);
      Row row;
      row << 1, up, -dip, (1 - up) * d / kTemplate_px, up * d / kTemplate_px;
      rows_.push_back(row);
    }
  }
  // Of bin k when the seam lies at place `at`.
  const Row& Of(std::size_t k, int at) const {
    const int d = kPlacesPerBin * static_cast<int>(k) - kEdge - at;
    return rows_[static_cast<std::size_t>(d + kMost)];
  }

 private:
  static inline const int kEdge = static_cast<int>(std::lround(kTemplate_px / kPlace_px));
  static inline const int kMost = kEdge + static_cast<int>(std::lround(kPlaceReach_px / kPlace_px));
  std::vector<Row> rows_;
};

}  // namespace

Middle MiddleOf(const Template& t, double samples_per_bin) {
  static const double kBlurs[] = {0.6, 0.71, 0.84, 0.99, 1.16, 1.37, 1.62, 1.91, 2.26, 2.66, 3.1};
  return MiddleWith(t, samples_per_bin, kBlurs, true);
}

Middle MiddleWith(const Template& t, double samples_per_bin, std::span<const double> blurs,
                  bool line) {
  Middle best;
  double flat = 0;
  {
    Eigen::Matrix2d normal = Eigen::Matrix2d::Identity() * 1e-9;
    Eigen::Vector2d right = Eigen::Vector2d::Zero();
    for (std::size_t k = 0; k < t.tone.size(); ++k) {
      if (!std::isfinite(t.tone[k])) continue;
      const Eigen::Vector2d row(1, Template::At(k) / kTemplate_px);
      normal += row * row.transpose();
      right += t.tone[k] * row;
      flat += t.tone[k] * t.tone[k];
    }
    flat = std::max(0.0, flat - normal.ldlt().solve(right).dot(right));
  }
  double least = 1e300;
  std::vector<std::pair<double, double>> costs;  // of the best blur, by place
  double square = 0;
  std::vector<std::size_t> shown;
  for (std::size_t k = 0; k < t.tone.size(); ++k) {
    if (!std::isfinite(t.tone[k])) continue;
    shown.push_back(k);
    square += t.tone[k] * t.tone[k];
  }
  const int reach = static_cast<int>(std::lround(kPlaceReach_px / kPlace_px));
  for (const double blur : blurs) {
    const SeamShapes shapes(blur);
    std::vector<std::pair<double, double>> mine;
    double mine_least = 1e300;
    for (int place = -reach; place <= reach; ++place) {
      const double at = place * kPlace_px;
      Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Identity() * 1e-9;
      Eigen::Matrix<double, 5, 1> right = Eigen::Matrix<double, 5, 1>::Zero();
      for (const std::size_t k : shown) {
        const SeamShapes::Row& row = shapes.Of(k, place);
        normal += row * row.transpose();
        right += t.tone[k] * row;
      }
      if (!line) normal(2, 2) += 1e9;
      Eigen::Matrix<double, 5, 1> x = normal.ldlt().solve(right);
      double cost = std::max(0.0, square - x.dot(right));
      if (line && x(2) < 0) {
        // Solids meet in dark lines: between two of them all is bright, and no seam.
        normal(2, 2) += 1e9;
        const Eigen::Matrix<double, 5, 1> plain = normal.ldlt().solve(right);
        cost += kBrightLine * std::max(0.0, square - plain.dot(right) - cost);
      }
      mine.emplace_back(at, cost);
      mine_least = std::min(mine_least, cost);
      if (cost < least) {
        least = cost;
        best = {at, 0.3, x(1), x(2) * kWide, blur, flat - cost, cost, true};
      }
    }
    if (mine_least <= least) costs = std::move(mine);
  }
  if (!best.told) return best;
  // What doubles the expected error of the fit bounds the place.
  const double error = std::max(least / static_cast<double>(t.tone.size() - 7),
                                t.noise * t.noise / std::max(1.0, samples_per_bin));
  double low = best.at, high = best.at;
  for (const auto& [at, cost] : costs) {
    // Bins were smoothed over two: half as many speak.
    if (cost - least < 2 * error) low = std::min(low, at), high = std::max(high, at);
  }
  best.u = 0.5 * (high - low) + 0.01;
  return best;
}

}  // namespace cutface
