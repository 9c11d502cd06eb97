#include "identify/outline_trace.h"

#include "identify/closed_path.h"
#include "identify/ribbon.h"

namespace cutface {
namespace {

constexpr double kInnerWindow = 0.10;  // of the radius, compared on either side of a candidate edge
constexpr double kOuterWindow = 0.06;
constexpr float kPriorWeight = 0.06f;

// Costs of every offset at every place: how badly the tones along the normal fit the order that the
// drawing expects there.
class OutlineCost {
 public:
  OutlineCost(const Ribbon& ribbon, const Warp& warp, const LabelScore& score,
              const LabelScore::Fit& fit, double radius, int reach)
      : ribbon_(ribbon), warp_(warp), score_(score), fit_(fit), radius_(radius), reach_(reach) {
    from_ = static_cast<int>(kInnerWindow * radius / ribbon.step);
    to_ = static_cast<int>(kOuterWindow * radius / ribbon.step);
    // Whatever differs by more than potting and body do is simply different.
    const double between = std::abs(fit.mean[LabelScore::kOutside] - fit.mean[LabelScore::kBody]);
    clip_ = static_cast<float>(std::pow(std::max(0.02, 0.9 * between), 2));
    expected_.resize(static_cast<std::size_t>(from_ + to_ + 1));
    weight_.resize(expected_.size());
  }

  void FillRow(int place, float* cost) {
    Expect(place);
    std::vector<float> tone(static_cast<std::size_t>(ribbon_.tone.cols));
    for (int j = 0; j < ribbon_.tone.cols; ++j) {
      const double light =
          score_.LightAt(fit_, warp_.Inverse(ribbon_.At(place, ribbon_.Offset(j))));
      tone[static_cast<std::size_t>(j)] = ribbon_.tone(place, j) - static_cast<float>(light);
    }
    for (int s = -reach_; s <= reach_; ++s) {
      const float off = static_cast<float>(s) / static_cast<float>(std::max(1, reach_));
      cost[s + reach_] = Misfit(place, s, tone) + kPriorWeight * off * off;
    }
  }

 private:
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
      expected_[static_cast<std::size_t>(u + from_)] =
          static_cast<float>(fit_.mean[static_cast<std::size_t>(label)]);
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
    const int zero = static_cast<int>(std::lround(-ribbon_.from / ribbon_.step));
    float sum = 0, weights = 0;
    for (int u = -from_; u <= to_; ++u) {
      const int j = zero + shift + u;
      if (j < 0 || j >= ribbon_.tone.cols) continue;
      if (!ribbon_.visible(place, j)) {
        if (std::abs(u) <= 1) return kUnseen;
        continue;
      }
      const std::size_t at = static_cast<std::size_t>(u + from_);
      const float r = tone[static_cast<std::size_t>(j)] - expected_[at];
      sum += weight_[at] * std::min(r * r, clip_);
      weights += weight_[at];
    }
    return weights > 0 ? sum / weights / clip_ : kUnseen;
  }

  static constexpr float kUnseen = 0.5f;
  const Ribbon& ribbon_;
  const Warp& warp_;
  const LabelScore& score_;
  const LabelScore::Fit& fit_;
  double radius_;
  int reach_, from_ = 0, to_ = 0;
  float clip_ = 1;
  std::vector<float> expected_, weight_;
};

}  // namespace

OutlineTrace TraceOutline(const cv::Mat1f& image, const Warp& warp, const SectionDesign& plane,
                          const LabelScore& score, double reach_share) {
  const LabelScore::Fit fit = score.Explain(image, warp);
  const double radius = std::sqrt(std::abs(warp.linear.determinant())) * score.radius_um();
  const double step = std::max(0.5, radius / 300);
  const ContourPx placed = warp(plane.outline.contour);
  const double perimeter = Perimeter(std::span<const PointPx>(placed));
  const int places = std::clamp(static_cast<int>(perimeter / (2.0 * step)), 90, 720);
  const Ribbon ribbon = Unroll(image, placed, places, (reach_share + kInnerWindow) * radius,
                               (reach_share + kOuterWindow) * radius, step);
  const int reach = static_cast<int>(reach_share * radius / step);
  OutlineCost costs(ribbon, warp, score, fit, radius, reach);
  cv::Mat1f cost(ribbon.tone.rows, 2 * reach + 1);
  for (int i = 0; i < cost.rows; ++i) costs.FillRow(i, cost.ptr<float>(i));
  const std::vector<int> path = CheapestClosedPath(cost, {1, 0.02f});
  OutlineTrace trace;
  for (int i = 0; i < cost.rows; ++i) {
    const PointPx p = ribbon.At(i, (path[static_cast<std::size_t>(i)] - reach) * step);
    trace.points.push_back(p);
    const bool inside = p.x >= 2 && p.y >= 2 && p.x <= image.cols - 3 && p.y <= image.rows - 3;
    trace.visible.push_back(inside ? 1 : 0);
  }
  trace.contrast = fit.mean[LabelScore::kOutside] - fit.mean[LabelScore::kBody];
  return trace;
}

}  // namespace cutface
