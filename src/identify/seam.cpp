#include "identify/seam.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/closed_path.h"
#include "identify/harmonics.h"
#include "identify/raster.h"
#include "identify/ribbon.h"

namespace cutface {
namespace {

constexpr double kStep_px = 0.5;       // between columns
constexpr double kMargin_px = 9;       // beyond the reach: what the responses look at
constexpr double kSaturated = 0.93;    // of full scale: metal
constexpr float kHole = 0.5f;          // relative tone below which a wide place is no solid
constexpr double kHole_px = 3.5;       // such a place is wider than any line
constexpr double kMaskGrow_px = 2.5;   // its blurred edge
constexpr double kMostResponse = 15;   // deviations: what one place may say
constexpr int kAlong = 3;              // places averaged to either side
constexpr double kSizeReach = 0.012;   // of the radius: a ring's size may be off by so much
constexpr double kShiftReach = 0.035;  // of the radius: its centre
constexpr std::size_t kCandidates = 6;
constexpr double kLeastScore = 40;  // square of standard deviations, greatest of thousands of tries
constexpr double kLeastSeen = 0.25;   // of a seam's places
constexpr double kPath_px = 4;        // of the path about the best circle
constexpr double kTemplate_px = 5.5;  // half length of the pooled profile
constexpr double kBin_px = 0.25;
constexpr double kMiddle_px = 1.5;     // about the seam
constexpr double kLeastShown = 0.45;   // of a stretch's surroundings
constexpr double kBrightLine = 0.7;    // of what a bright line explains that does not count
constexpr double kMisfitPrice = 3;     // of what is left against what is explained
constexpr std::size_t kRough = 40;     // placings that are looked at closely
constexpr int kBlock = 4;              // places matched together
constexpr double kMostShift_px = 1.5;  // of one match
constexpr double kSeenSigma_px = 1.2;  // of a stretch that was seen
constexpr double kModelDoubt_px =
    0.05;  // of the place in a pooled profile: it follows no model quite
constexpr int kOrders[] = {3, 5, 8, 12, 18, 26};
const float kNone = std::numeric_limits<float>::quiet_NaN();

struct Strip {
  Ribbon ribbon;                  // tones relative; not a number where masked
  cv::Mat1f line;                 // response to a line: shoulders less middle
  cv::Mat1f step;                 // response to a step: outer less inner
  double u_line = 1, u_step = 1;  // scatter of the responses
  double radius = 1, reach = 1, size_reach = 1, shift_reach = 1;
  int places() const { return ribbon.tone.rows; }
};

struct Placing {
  double size = 0, x = 0, y = 0;  // px: offset along the normal is size + (x, y) . normal
  double score = 0;
  double At(const Strip& s, int i) const {
    const PointPx n = s.ribbon.normal[static_cast<std::size_t>(i)];
    return size + x * n.x + y * n.y;
  }
};

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
      if (run * ribbon.step >= kHole_px) bad(i, std::max(0, j - run / 2)) = bad(i, j) = 255;
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
      for (int k = -kAlong; k <= kAlong; ++k) {
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
    if (n < 0.5 * (2 * kAlong + 1) * (b - a + 1)) return kNone;
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

// Responses summed along a circle; each place is clipped, so that no wire speaks for the others.
struct Along {
  double line = 0, step = 0;
  int seen = 0;
};
Along SumAlong(const Strip& s, const Placing& c, int every) {
  Along a;
  const double most_line = kMostResponse * s.u_line, most_step = kMostResponse * s.u_step;
  for (int i = 0; i < s.places(); i += every) {
    const int j = static_cast<int>(std::lround((c.At(s, i) - s.ribbon.from) / s.ribbon.step));
    if (j < 0 || j >= s.line.cols || !std::isfinite(s.line(i, j)) || !std::isfinite(s.step(i, j)))
      continue;
    a.line += std::clamp<double>(s.line(i, j), -most_line, most_line);
    a.step += std::clamp<double>(s.step(i, j), -most_step, most_step);
    ++a.seen;
  }
  return a;
}

// That a seam lies so far off its drawn place.
double Belief(const Strip& s, const Placing& c) {
  const double off = std::pow(c.size / (0.7 * s.size_reach), 2) +
                     std::pow(std::hypot(c.x, c.y) / (0.8 * s.shift_reach), 2);
  return std::exp(-0.5 * off);
}

double ScoreOf(const Strip& s, const Placing& c, const Along& a, int every) {
  if (a.seen == 0 || a.seen * every < kLeastSeen * s.places()) return 0;
  // Places share what lies within kAlong of both: fewer of them speak for themselves.
  const double own = std::max(1.0, (2.0 * kAlong + 1) / every);
  const double z2 =
      (std::pow(std::max(0.0, a.line) / s.u_line, 2) + std::pow(a.step / s.u_step, 2)) /
      (a.seen * own);
  return z2 * Belief(s, c);
}

// Tones against the distance from a path, pooled over the whole seam.
struct Template {
  std::vector<double> tone;  // per bin; not a number where empty
  double noise = 0.01;       // of one sample
  static double At(std::size_t k) { return -kTemplate_px + kBin_px * static_cast<double>(k); }
  static std::size_t Bins() {
    return static_cast<std::size_t>(std::lround(2 * kTemplate_px / kBin_px)) + 1;
  }
  // Value and slope.
  std::pair<double, double> Look(double u) const {
    const double k = (u + kTemplate_px) / kBin_px;
    const auto i = static_cast<std::ptrdiff_t>(std::floor(k));
    if (i < 1 || i + 2 >= static_cast<std::ptrdiff_t>(tone.size())) return {NAN, NAN};
    const auto at = static_cast<std::size_t>(i);
    const double f = k - static_cast<double>(i);
    const double left = (tone[at + 1] - tone[at - 1]) / 2, right = (tone[at + 2] - tone[at]) / 2;
    return {(1 - f) * tone[at] + f * tone[at + 1], ((1 - f) * left + f * right) / kBin_px};
  }
};

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

// Where in the pooled profile the two solids meet: a blurred step with a blurred line on it.
struct Middle {
  double at = 0, u = 0.3, step = 0, line = 0, blur = 1;
  double gain = 0, rest = 0;  // square that step and line explain, and what is left
  bool told = false;
};
Middle MiddleOf(const Template& t, double samples_per_bin) {
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
  constexpr double kWide = 1.6;                  // px, of a line: thinner ones look alike
  for (double blur = 0.6; blur < 3.2; blur *= 1.18) {
    std::vector<std::pair<double, double>> mine;
    double mine_least = 1e300;
    for (double at = -3; at <= 3; at += 0.05) {
      Eigen::Matrix<double, 5, 5> normal = Eigen::Matrix<double, 5, 5>::Identity() * 1e-9;
      Eigen::Matrix<double, 5, 1> right = Eigen::Matrix<double, 5, 1>::Zero();
      double square = 0;
      for (std::size_t k = 0; k < t.tone.size(); ++k) {
        if (!std::isfinite(t.tone[k])) continue;
        const double d = Template::At(k) - at;
        const double up = NormalCdf(d / blur);
        const double dip =
            NormalCdf((d + 0.5 * kWide) / blur) - NormalCdf((d - 0.5 * kWide) / blur);
        Eigen::Matrix<double, 5, 1> row;
        row << 1, up, -dip, (1 - up) * d / kTemplate_px, up * d / kTemplate_px;
        normal += row * row.transpose();
        right += t.tone[k] * row;
        square += t.tone[k] * t.tone[k];
      }
      Eigen::Matrix<double, 5, 1> x = normal.ldlt().solve(right);
      double cost = std::max(0.0, square - x.dot(right));
      if (x(2) < 0) {
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

// The best ones, none nearer than `px` to a better one.
std::vector<Placing> Apart(std::vector<Placing> all, double px, std::size_t most) {
  std::stable_sort(all.begin(), all.end(),
                   [](const Placing& a, const Placing& b) { return a.score > b.score; });
  std::vector<Placing> best;
  for (const Placing& c : all) {
    const bool apart = std::all_of(best.begin(), best.end(), [&](const Placing& b) {
      return std::abs(b.size - c.size) + std::hypot(b.x - c.x, b.y - c.y) > px;
    });
    if (!apart) continue;
    best.push_back(c);
    if (best.size() == most) break;
  }
  return best;
}

// Moves a placing uphill in the sum of the responses that it found, by half pixels.
void Climb(const Strip& s, Placing& c) {
  const Along start = SumAlong(s, c, 1);
  if (start.seen == 0) return;
  const double line = std::max(0.0, start.line) / (s.u_line * s.u_line),
               step = start.step / (s.u_step * s.u_step);
  const auto height = [&](const Placing& p) {
    const Along a = SumAlong(s, p, 1);
    return a.seen < kLeastSeen * s.places() ? -1e300 : (line * a.line + step * a.step) / a.seen;
  };
  double best = height(c);
  for (int round = 0; round < 12; ++round) {
    Placing next = c;
    for (const auto& [size, x, y] :
         {std::array{0.5, 0.0, 0.0}, std::array{0.0, 0.5, 0.0}, std::array{0.0, 0.0, 0.5}}) {
      for (const double way : {-1.0, 1.0}) {
        const Placing p{c.size + way * size, c.x + way * x, c.y + way * y, 0};
        const double h = height(p);
        if (h > best) best = h, next = p;
      }
    }
    if (next.size == c.size && next.x == c.x && next.y == c.y) return;
    c = next;
  }
}

// The best placings of a seam as a whole, apart from each other.
std::vector<Placing> Candidates(const Strip& s) {
  std::vector<Placing> all;
  constexpr int kEvery = 3;
  for (double size = -s.size_reach; size <= s.size_reach; size += 1) {
    for (double x = -s.shift_reach; x <= s.shift_reach; x += 1) {
      for (double y = -s.shift_reach; y <= s.shift_reach; y += 1) {
        if (std::hypot(x, y) > s.shift_reach) continue;
        Placing c{size, x, y, 0};
        c.score = ScoreOf(s, c, SumAlong(s, c, kEvery), kEvery);
        if (std::isfinite(c.score) && c.score > kLeastScore) all.push_back(c);
      }
    }
  }
  std::vector<Placing> rough = Apart(std::move(all), 2.5, kRough);
  for (Placing& c : rough) {
    Climb(s, c);
    // The flank of a line passes for a step: only a whole profile tells them apart.
    std::vector<double> path;
    for (int i = 0; i < s.places(); ++i) path.push_back(c.At(s, i));
    if (SumAlong(s, c, 1).seen < kLeastSeen * s.places()) {
      c.score = 0;
      continue;
    }
    const Template t = Pooled(s, path);
    const Middle middle = MiddleOf(t, s.places() * kBin_px / s.ribbon.step);
    c.size += middle.at;
    const double price = middle.gain - kMisfitPrice * middle.rest;
    c.score = middle.told
                  ? s.places() / (2 * kAlong + 1.0) * price / (t.noise * t.noise) * Belief(s, c)
                  : 0;
  }
  std::erase_if(rough, [](const Placing& c) { return c.score < kLeastScore; });
  return Apart(std::move(rough), 2.5, kCandidates);
}

// Two neighbours as they must lie: one inside the other, about as far apart as drawn.
bool Nested(const Placing& outer, const Placing& inner, double drawn_px) {
  const double mean = drawn_px + outer.size - inner.size;
  const double least = mean - std::hypot(outer.x - inner.x, outer.y - inner.y);
  return mean > 0.55 * drawn_px && mean < 1.6 * drawn_px && least > 2;
}

// One placing for each seam (or none: -1), the greatest sum of scores in which neighbours nest.
std::vector<int> ChooseTogether(const std::vector<std::vector<Placing>>& candidates,
                                const std::vector<SeamInput>& inputs) {
  std::vector<int> best(candidates.size(), -1), now(candidates.size(), -1);
  double best_sum = 0;
  const auto walk = [&](const auto& self, std::size_t k, double sum) -> void {
    if (k == candidates.size()) {
      if (sum > best_sum) best_sum = sum, best = now;
      return;
    }
    now[k] = -1;
    self(self, k + 1, sum);
    for (std::size_t c = 0; c < candidates[k].size(); ++c) {
      const Placing& mine = candidates[k][c];
      if (k > 0 && now[k - 1] >= 0 &&
          !Nested(candidates[k - 1][static_cast<std::size_t>(now[k - 1])], mine,
                  inputs[k].outwards_px))
        continue;
      now[k] = static_cast<int>(c);
      self(self, k + 1, sum + mine.score);
    }
    now[k] = -1;
  };
  walk(walk, 0, 0);
  return best;
}

// Path about a circle along the strongest joint response; not a number where nothing was seen.
std::vector<double> PathNear(const Strip& s, const Placing& circle) {
  const Along mean = SumAlong(s, circle, 1);
  const double line = mean.line / std::max(1, mean.seen), step = mean.step / std::max(1, mean.seen);
  const double wl = line / (s.u_line * s.u_line), ws = step / (s.u_step * s.u_step);
  const double full = std::max(1e-12, wl * line + ws * step);
  const int half = static_cast<int>(std::lround(kPath_px / s.ribbon.step));
  cv::Mat1f cost(s.places(), 2 * half + 1, 0.7f);
  std::vector<int> middle;
  for (int i = 0; i < s.places(); ++i) {
    middle.push_back(
        static_cast<int>(std::lround((circle.At(s, i) - s.ribbon.from) / s.ribbon.step)));
    for (int k = 0; k < cost.cols; ++k) {
      const int j = middle.back() + k - half;
      if (j < 0 || j >= s.line.cols) continue;
      const double agree = (wl * s.line(i, j) + ws * s.step(i, j)) / full;
      if (std::isfinite(agree)) cost(i, k) = static_cast<float>(1 - std::clamp(agree, -0.5, 2.0));
    }
  }
  const std::vector<int> path = CheapestClosedPath(cost, {1, 0.08f});
  std::vector<double> at;
  for (int i = 0; i < s.places(); ++i) {
    const int j = middle[static_cast<std::size_t>(i)] + path[static_cast<std::size_t>(i)] - half;
    const bool seen =
        j >= 0 && j < s.line.cols && std::isfinite(s.line(i, j)) && std::isfinite(s.step(i, j));
    at.push_back(seen ? s.ribbon.Offset(j) : std::numeric_limits<double>::quiet_NaN());
  }
  return at;
}

// Shift of a few places against the template: level, slant and shift by least squares.
struct Shift {
  double px = 0, sigma = 1e9;
};
Shift ShiftOf(const Strip& s, const Template& t, const std::vector<double>& path, int first,
              int last) {
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  int count = 0, middle = 0;
  for (int i = first; i < last; ++i) {
    for (int j = 0; j < s.ribbon.tone.cols; ++j) {
      const double tone = s.ribbon.tone(i, j);
      const double u = s.ribbon.Offset(j) - path[static_cast<std::size_t>(i)];
      if (!std::isfinite(tone) || std::abs(u) > kTemplate_px - 0.5) continue;
      const auto [value, slope] = t.Look(u);
      if (!std::isfinite(slope)) continue;
      const Eigen::Vector3d row(1, u / kTemplate_px, -slope);
      const double off = std::clamp(tone - value, -5 * t.noise - 0.1, 5 * t.noise + 0.1);
      normal += row * row.transpose();
      right += off * row;
      ++count;
      middle += std::abs(u) < kMiddle_px ? 1 : 0;
    }
  }
  // What shows the surroundings only says nothing of the seam.
  const double full = 2 * (last - first) / s.ribbon.step;
  if (count < kLeastShown * full * (kTemplate_px - 0.5) || middle < 0.7 * full * kMiddle_px)
    return {};
  normal += 1e-9 * Eigen::Matrix3d::Identity();
  const Eigen::Matrix3d inverse = normal.inverse();
  Shift shift;
  shift.px = (inverse * right)(2);
  // Samples half a pixel apart share their pixels.
  shift.sigma = t.noise * std::sqrt(2 * std::max(0.0, inverse(2, 2)));
  if (!std::isfinite(shift.px) || std::abs(shift.px) > 2 * kMostShift_px) return {};
  shift.px = std::clamp(shift.px, -kMostShift_px, kMostShift_px);
  return shift;
}

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

// From a placing as a whole to the settled seam.
Seam Settled(const Strip& s, const Placing& circle) {
  const int n = s.places();
  std::vector<double> path = PathNear(s, circle);
  {
    std::vector<HarmonicSample> samples;
    for (int i = 0; i < n; ++i) {
      const double at = path[static_cast<std::size_t>(i)];
      if (std::isfinite(at)) samples.push_back({static_cast<double>(i) / n, at, 0.7});
    }
    if (samples.size() < 12) {
      Seam none;
      none.why = "hidden along most of it";
      return none;
    }
    const Harmonics fit(samples, 4);
    for (int i = 0; i < n; ++i)
      path[static_cast<std::size_t>(i)] = fit.At(static_cast<double>(i) / n);
  }
  const int blocks = n / kBlock;
  Seam seam;
  Template t;
  std::vector<HarmonicSample> samples;
  Harmonics fit;
  for (int round = 0; round < 6; ++round) {
    t = Pooled(s, path);
    if (round < 3) {
      // Every stretch may be off alike: the template itself is centred first.
      const Middle middle = MiddleOf(t, n * kBin_px / kStep_px);
      for (double& at : path) at += middle.at;
      t = Pooled(s, path);
    }
    samples.clear();
    for (int b = 0; b < blocks; ++b) {
      const int first = b * n / blocks, last = (b + 1) * n / blocks;
      const Shift shift = ShiftOf(s, t, path, first, last);
      if (shift.sigma > 4) continue;
      const double at = path[static_cast<std::size_t>((first + last) / 2)];
      samples.push_back({0.5 * (first + last - 1) / n, at + shift.px, shift.sigma});
    }
    if (samples.size() < 12) break;
    fit = round < 2 ? Harmonics(samples, 5) : BestHarmonics(samples, kOrders);
    for (int i = 0; i < n; ++i)
      path[static_cast<std::size_t>(i)] = fit.At(static_cast<double>(i) / n);
  }
  if (samples.size() < 12 || !fit.known()) {
    seam.why = "hidden along most of it";
    return seam;
  }
  const Middle middle = MiddleOf(t, n * kBin_px / kStep_px);
  seam.step = middle.step;
  seam.line = middle.line;
  seam.blur_px = middle.blur;
  seam.u_common_px = std::hypot(kModelDoubt_px, middle.u);
  std::vector<char> seen(static_cast<std::size_t>(n), 0);
  for (const HarmonicSample& x : samples) {
    if (x.sigma * fit.excess() > kSeenSigma_px || x.weight < 0.2) continue;
    const int at = static_cast<int>(std::lround(x.turn * n));
    for (int k = -kBlock; k <= kBlock; ++k) seen[static_cast<std::size_t>((at + k + n) % n)] = 1;
  }
  for (int i = 0; i < n; ++i) {
    SeamPlace p;
    const auto at = static_cast<std::size_t>(i);
    p.at = s.ribbon.At(i, path[at] + middle.at);
    p.normal = s.ribbon.normal[at];
    p.sigma_px = fit.Sigma(static_cast<double>(i) / n);
    p.seen = seen[at] != 0;
    seam.places.push_back(p);
  }
  seam.length_px = Perimeter(std::span<const PointPx>(s.ribbon.base)) / (2 * fit.order() + 1);
  return seam;
}

}  // namespace

std::vector<Seam> TraceSeams(const Micrograph& micrograph, const FaceTones& tones,
                             const ContourPx& outline, const cv::Mat1b& hidden,
                             const std::vector<SeamInput>& inputs) {
  std::vector<Strip> strips;
  std::vector<std::vector<Placing>> candidates;
  for (const SeamInput& input : inputs) {
    strips.push_back(MakeStrip(micrograph, tones, outline, hidden, input));
    candidates.push_back(Candidates(strips.back()));
  }
  const std::vector<int> chosen = ChooseTogether(candidates, inputs);
  for (std::size_t k = 0; k < inputs.size(); ++k) {
    fmt::print(stderr, "{} R {:.0f} room {:.1f} chosen {} reach {} {} uL {} uS {}\n",
               inputs[k].name, strips[k].radius, inputs[k].outwards_px, chosen[k],
               strips[k].size_reach, strips[k].shift_reach, strips[k].u_line, strips[k].u_step);
    for (auto& c : candidates[k]) {
      Along a = SumAlong(strips[k], c, 1);
      fmt::print(stderr, "  {} {} {} score {:.0f} line {:.4f} step {:.4f} seen {}/{}\n", c.size,
                 c.x, c.y, c.score, a.line / a.seen, a.step / a.seen, a.seen, strips[k].places());
    }
    std::vector<Seam> seams;
    for (std::size_t k = 0; k < inputs.size(); ++k) {
      Seam seam;
      if (chosen[k] < 0) {
        seam.why = fmt::format("neither a step nor a line to be seen along {}", inputs[k].name);
      } else {
        seam = Settled(strips[k], candidates[k][static_cast<std::size_t>(chosen[k])]);
        if (!seam.why.empty()) seam.why = inputs[k].name + ": " + seam.why;
      }
      seams.push_back(std::move(seam));
    }
    return seams;
  }

}  // namespace cutface
