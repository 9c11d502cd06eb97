#include "identify/outline_trace.h"

#include <Eigen/Dense>

#include "cutface/stats.h"
#include "identify/closed_path.h"
#include "identify/ribbon.h"

namespace cutface {
namespace {

constexpr double kInnerWindow = 0.10;  // of the radius, compared on either side of a candidate edge
constexpr double kOuterWindow = 0.06;
constexpr double kPottingAlike = 5;  // scatter of the potting beside the part
constexpr double kLeastBody = 0.04;  // of what the search sees, to be taken for the body
constexpr double kOneTone = 0.45;  // scatter of a tone, of its step: blur takes much of a thin wall
constexpr float kPriorWeight = 0.06f;
constexpr float kBadPlace = 0.35f;  // misfit of a place whose tones are not the expected ones
constexpr double kBadShare = 0.05;  // of such places: search wider
constexpr double kWider = 2.2;
constexpr double kClearlyBetter = 0.8;  // of the misfit of a narrow search

// The median tone beyond the search at each place, and how many samples it is of.
struct Beyond {
  PointPx at;
  double tone = 0;
  std::vector<double> samples;
};

// Quadratic light of the potting about the part, by Tukey's biweight: a holder or a neighbour that
// lies beyond the search in some sectors is not the potting.
class PottingLight {
 public:
  explicit PottingLight(const std::vector<Beyond>& beyond) {
    std::vector<double> tones;
    for (const Beyond& b : beyond) {
      if (b.samples.empty()) continue;
      middle_ = middle_ + b.at;
      tones.push_back(b.tone);
    }
    if (tones.size() < 8) return;
    const double count = static_cast<double>(tones.size());
    middle_ = {middle_.x / count, middle_.y / count};
    for (const Beyond& b : beyond) size_ = std::max(size_, Distance(b.at, middle_));
    state_(0) = Median(tones);
    for (int round = 0; round < 8; ++round) Settle(beyond);
  }
  double At(PointPx p) const { return Row(p).dot(state_); }
  double sigma() const { return sigma_; }

 private:
  using Terms = Eigen::Matrix<double, 6, 1>;
  Terms Row(PointPx p) const {
    const double x = (p.x - middle_.x) / size_, y = (p.y - middle_.y) / size_;
    Terms v;
    v << 1, x, y, x * x, x * y, y * y;
    return v;
  }
  void Settle(const std::vector<Beyond>& beyond) {
    std::vector<double> off;
    for (const Beyond& b : beyond) {
      if (!b.samples.empty()) off.push_back(std::abs(b.tone - At(b.at)));
    }
    sigma_ = std::max(1e-3, 1.4826 * Median(off));
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Identity() * 1e-9;
    Terms right = Terms::Zero();
    for (const Beyond& b : beyond) {
      if (b.samples.empty()) continue;
      const double u = (b.tone - At(b.at)) / (4 * sigma_);
      if (std::abs(u) >= 1) continue;
      const Terms v = Row(b.at) * (1 - u * u);
      normal += v * v.transpose();
      right += v * ((1 - u * u) * b.tone);
    }
    for (int k = 1; k < 6; ++k) normal(k, k) += 0.01 * normal(0, 0);
    state_ = normal.ldlt().solve(right);
  }

  PointPx middle_{0, 0};
  double size_ = 1, sigma_ = 1e-3;
  Terms state_ = Terms::Zero();
};

// Tone of the potting beside each place: the median of what lies beyond the search in a sector
// about it, as far as it is potting. It stands for the light there, whatever the registration takes
// for body and lumen.
std::vector<float> PottingBeside(const Ribbon& ribbon, int from_column) {
  const int places = ribbon.tone.rows, half = std::max(1, places / 16);
  std::vector<Beyond> own(static_cast<std::size_t>(places));
  for (int i = 0; i < places; ++i) {
    Beyond& b = own[static_cast<std::size_t>(i)];
    for (int j = from_column; j < ribbon.tone.cols; j += 2) {
      if (ribbon.visible(i, j)) b.samples.push_back(ribbon.tone(i, j));
    }
    b.at = ribbon.At(i, ribbon.Offset(0.5 * (from_column + ribbon.tone.cols)));
    if (!b.samples.empty()) b.tone = Median(b.samples);
  }
  const PottingLight light(own);
  std::vector<float> out(static_cast<std::size_t>(places));
  for (int i = 0; i < places; i += 4) {
    const double expected = light.At(own[static_cast<std::size_t>(i)].at);
    std::vector<double> sector;
    for (int k = i - half; k <= i + half; k += 3) {
      const Beyond& b = own[static_cast<std::size_t>((k + places) % places)];
      if (std::abs(b.tone - light.At(b.at)) < kPottingAlike * light.sigma())
        sector.insert(sector.end(), b.samples.begin(), b.samples.end());
    }
    const float tone =
        static_cast<float>(sector.size() < 20 ? expected : Median(std::move(sector)));
    for (int k = i; k < std::min(places, i + 4); ++k) out[static_cast<std::size_t>(k)] = tone;
  }
  return out;
}

// Costs of every offset at every place: how badly the tones along the normal fit the order that the
// drawing expects there.
class OutlineCost {
 public:
  OutlineCost(const Ribbon& ribbon, const Warp& warp, const LabelScore& score,
              const LabelScore::Fit& fit, double radius, int reach)
      : ribbon_(ribbon), warp_(warp), score_(score), radius_(radius), reach_(reach) {
    from_ = static_cast<int>(kInnerWindow * radius / ribbon.step);
    to_ = static_cast<int>(kOuterWindow * radius / ribbon.step);
    zero_ = static_cast<int>(std::lround(-ribbon.from / ribbon.step));
    potting_ = PottingBeside(ribbon, zero_ + reach + 1);
    TakeTones(fit);
    // Whatever differs by more than potting and body do is simply different.
    const double between = std::abs(tone_of_[LabelScore::kBody]);
    clip_ = static_cast<float>(std::pow(std::max(0.02, 0.9 * between), 2));
    expected_.resize(static_cast<std::size_t>(from_ + to_ + 1));
    weight_.resize(expected_.size());
  }

  void FillRow(int place, float* cost) {
    Expect(place);
    std::vector<float> tone(static_cast<std::size_t>(ribbon_.tone.cols));
    const float light = potting_[static_cast<std::size_t>(place)];
    for (int j = 0; j < ribbon_.tone.cols; ++j)
      tone[static_cast<std::size_t>(j)] = ribbon_.tone(place, j) - light;
    for (int s = -reach_; s <= reach_; ++s) {
      const float off = static_cast<float>(s) / static_cast<float>(std::max(1, reach_));
      cost[s + reach_] = Misfit(place, s, tone) + kPriorWeight * off * off;
    }
  }

 private:
  // Median tone of each label against the potting beside it. Medians: where lumens are not quite
  // where they are drawn, means mix body and lumen into a tone that neither has.
  void TakeTones(const LabelScore::Fit& fit) {
    for (double mean : fit.mean)
      tone_of_.push_back(static_cast<float>(mean - fit.mean[LabelScore::kOutside]));
    std::vector<std::vector<double>> seen(tone_of_.size());
    for (int i = 0; i < ribbon_.tone.rows; i += 4) {
      for (int j = 0; j < zero_; j += 2) {
        if (!ribbon_.visible(i, j)) continue;
        const int label = score_.LabelAt(warp_.Inverse(ribbon_.At(i, ribbon_.Offset(j))));
        seen[static_cast<std::size_t>(label)].push_back(ribbon_.tone(i, j) -
                                                        potting_[static_cast<std::size_t>(i)]);
      }
    }
    std::vector<double> lumens;
    for (std::size_t k = 0; k < seen.size(); ++k) {
      if (k >= LabelScore::kFirstLumen && !score_.IsLayer(static_cast<int>(k)))
        lumens.insert(lumens.end(), seen[k].begin(), seen[k].end());
      if (seen[k].size() >= 20) tone_of_[k] = static_cast<float>(Median(std::move(seen[k])));
    }
    tone_of_[LabelScore::kOutside] = 0;
    // One lumen may be collapsed and show the body: what most of their places show.
    FindBody(lumens.empty() ? 0 : Median(std::move(lumens)));
  }

  // Where a thin wall lies beside its drawn place, what is drawn as body shows potting: the body is
  // then what is neither potting nor a lumen.
  void FindBody(double lumens) {
    std::vector<double> scatter;
    for (int i = 0; i < ribbon_.tone.rows; i += 4) {
      for (int j = zero_ + reach_ + 1; j < ribbon_.tone.cols; j += 2) {
        if (ribbon_.visible(i, j))
          scatter.push_back(ribbon_.tone(i, j) - potting_[static_cast<std::size_t>(i)]);
      }
    }
    if (scatter.size() < 50) return;
    const double sigma = std::max(1e-3, RobustSigma(std::move(scatter)));
    if (std::abs(tone_of_[LabelScore::kBody]) > kPottingAlike * sigma) return;
    std::vector<double> other;
    std::size_t all = 0;
    for (int i = 0; i < ribbon_.tone.rows; i += 4) {
      for (int j = 0; j < zero_ + reach_; j += 2) {
        if (!ribbon_.visible(i, j)) continue;
        const double tone = ribbon_.tone(i, j) - potting_[static_cast<std::size_t>(i)];
        if (std::abs(tone) > kPottingAlike * sigma &&
            std::abs(tone - lumens) > 0.3 * std::abs(lumens))
          other.push_back(tone);
        ++all;
      }
    }
    if (static_cast<double>(other.size()) < kLeastBody * static_cast<double>(all)) return;
    const double middle = Median(other);
    if (RobustSigma(std::move(other)) < kOneTone * std::abs(middle))
      tone_of_[LabelScore::kBody] = static_cast<float>(middle);
  }

  // Tones and weights that the drawing expects along the normal of a place, outline at column 0.
  void Expect(int place) {
    int wall = 0;  // columns of body just inside the outline
    bool in_wall = true;
    for (int u = to_; u >= -from_; --u) {
      int label = score_.LabelAt(warp_.Inverse(ribbon_.At(place, u * ribbon_.step)));
      // Within half a raster step of the outline the label is a coin toss; the sign of u is not.
      if (u > 0) label = LabelScore::kOutside;
      if (u <= 0 && label == LabelScore::kOutside) label = LabelScore::kBody;
      if (u < 0) in_wall = in_wall && label == LabelScore::kBody;
      if (u < 0 && in_wall) wall = -u;
      expected_[static_cast<std::size_t>(u + from_)] = tone_of_[static_cast<std::size_t>(label)];
    }
    // The wall's thickness may differ from nominal: only its outer part is relied on.
    const double inside = std::max(2.0 / ribbon_.step, 0.35 * wall);
    const double outside = 0.05 * radius_ / ribbon_.step;
    for (int u = -from_; u <= to_; ++u) {
      const double width = u < 0 ? inside : outside, z = u / width;
      weight_[static_cast<std::size_t>(u + from_)] =
          u == 0 ? 0.0f : static_cast<float>(std::exp(-0.5 * z * z) / width);
    }
  }

  float Misfit(int place, int shift, const std::vector<float>& tone) const {
    float sum[2] = {0, 0}, seen[2] = {0, 0}, outer = 0;  // body's side, potting's side
    for (int u = -from_; u <= to_; ++u) {
      const int j = zero_ + shift + u;
      if (j < 0 || j >= ribbon_.tone.cols) continue;
      const std::size_t at = static_cast<std::size_t>(u + from_), side = u > 0 ? 1 : 0;
      if (side == 1) outer += weight_[at];
      if (!ribbon_.visible(place, j)) {
        if (std::abs(u) <= 1) return kUnseen;
        continue;
      }
      const float r = tone[static_cast<std::size_t>(j)] - expected_[at];
      sum[side] += weight_[at] * std::min(r * r, clip_);
      seen[side] += weight_[at];
    }
    if (seen[0] <= 0 || seen[1] <= 0) return kUnseen;
    // Body up to the frame is no sign of an edge there: without potting beyond it, it is unseen.
    const float share = std::min(1.0f, 2 * seen[1] / outer);
    const float misfit = (sum[0] / seen[0] + sum[1] / seen[1]) / (2 * clip_);
    return share * misfit + (1 - share) * kUnseen;
  }

  static constexpr float kUnseen = 0.45f;
  const Ribbon& ribbon_;
  const Warp& warp_;
  const LabelScore& score_;
  double radius_;
  int reach_, from_ = 0, to_ = 0, zero_ = 0;
  float clip_ = 1;
  std::vector<float> potting_, tone_of_;
  std::vector<float> expected_, weight_;
};

struct Trial {
  ContourPx points;
  std::vector<char> good;
  double misfit = 0;     // mean along the path, 0..1
  double bad_share = 0;  // of visible places whose tones are not the expected ones
};

bool InFrame(PointPx p, cv::Size size) {
  return p.x >= 2 && p.y >= 2 && p.x <= size.width - 3 && p.y <= size.height - 3;
}

Trial TraceOnce(const cv::Mat1f& image, const Warp& warp, const ContourPx& placed,
                const LabelScore& score, const LabelScore::Fit& fit, double radius,
                double reach_share) {
  const double step = std::max(0.5, radius / 300);
  const double perimeter = Perimeter(std::span<const PointPx>(placed));
  const int places = std::clamp(static_cast<int>(perimeter / (2.0 * step)), 90, 720);
  const Ribbon ribbon = Unroll(image, placed, places, (reach_share + kInnerWindow) * radius,
                               (reach_share + kOuterWindow) * radius, step);
  const int reach = static_cast<int>(reach_share * radius / step);
  OutlineCost costs(ribbon, warp, score, fit, radius, reach);
  cv::Mat1f cost(ribbon.tone.rows, 2 * reach + 1);
  for (int i = 0; i < cost.rows; ++i) costs.FillRow(i, cost.ptr<float>(i));
  const std::vector<int> path = CheapestClosedPath(cost, {1, 0.02f});
  Trial trial;
  int bad = 0, seen = 0;
  for (int i = 0; i < cost.rows; ++i) {
    const int at = path[static_cast<std::size_t>(i)];
    trial.points.push_back(ribbon.At(i, (at - reach) * step));
    trial.misfit += cost(i, at) / static_cast<float>(cost.rows);
    const bool in_frame = InFrame(trial.points.back(), image.size());
    trial.good.push_back(in_frame && cost(i, at) <= kBadPlace ? 1 : 0);
    if (!in_frame) continue;
    ++seen;
    bad += cost(i, at) > kBadPlace ? 1 : 0;
  }
  trial.bad_share = bad / static_cast<double>(std::max(1, seen));
  return trial;
}

}  // namespace

OutlineTrace TraceOutline(const cv::Mat1f& image, const Warp& warp, const SectionDesign& plane,
                          const LabelScore& score, double reach_share) {
  const LabelScore::Fit fit = score.Explain(image, warp);
  const double radius = std::sqrt(std::abs(warp.linear.determinant())) * score.radius_um();

  const ContourPx placed = warp(plane.outline.contour);
  Trial best = TraceOnce(image, warp, placed, score, fit, radius, reach_share);
  // A face that is larger, more oval or less centred than it could be placed. Where tones differ
  // little no place looks bad, but all of them better elsewhere.
  Trial wide = TraceOnce(image, warp, placed, score, fit, radius, kWider * reach_share);
  const double than = best.bad_share > kBadShare ? 1 : kClearlyBetter;
  if (wide.misfit < than * best.misfit) best = std::move(wide);
  OutlineTrace trace;
  trace.points = std::move(best.points);
  trace.as_expected = std::move(best.good);
  trace.unlike = best.bad_share;
  for (PointPx p : trace.points) {
    trace.visible.push_back(InFrame(p, image.size()) ? 1 : 0);
  }
  trace.contrast = fit.mean[LabelScore::kOutside] - fit.mean[LabelScore::kBody];
  return trace;
}

}  // namespace cutface
