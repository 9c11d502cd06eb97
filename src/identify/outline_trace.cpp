#include "identify/outline_trace.h"

#include "identify/closed_path.h"
#include "identify/ribbon.h"

namespace cutface {
namespace {

constexpr double kInnerWindow = 0.10;  // of the radius, compared on either side of a candidate edge
constexpr double kOuterWindow = 0.06;
constexpr float kPriorWeight = 0.06f;

}  // namespace

OutlineTrace TraceOutline(const cv::Mat1f& image, const Warp& warp, const SectionDesign& plane,
                          const LabelScore& score, double reach_share) {
  const LabelScore::Fit fit = score.Explain(image, warp);
  const ContourUm nominal = plane.outline.contour;
  const double radius_um = score.radius_um();
  const double scale = std::sqrt(std::abs(warp.linear.determinant()));
  const double radius = scale * radius_um;
  const double step = std::max(0.5, radius / 300);
  const double inner = (reach_share + kInnerWindow) * radius,
               outer = (reach_share + kOuterWindow) * radius;
  const ContourPx placed = warp(nominal);
  const int places = std::clamp(
      static_cast<int>(Perimeter(std::span<const PointPx>(placed)) / (2.0 * step)), 90, 720);
  const Ribbon ribbon = Unroll(image, placed, places, inner, outer, step);
  const int n = ribbon.tone.rows, columns = ribbon.tone.cols;
  const int reach = static_cast<int>(reach_share * radius / step);
  const int from = static_cast<int>(kInnerWindow * radius / step),
            to = static_cast<int>(kOuterWindow * radius / step);

  // Whatever differs by more than potting and body do is simply different.
  const double between = std::abs(fit.mean[LabelScore::kOutside] - fit.mean[LabelScore::kBody]);
  const float clip = static_cast<float>(std::pow(std::max(0.02, 0.9 * between), 2));
  cv::Mat1f cost(n, 2 * reach + 1);
  std::vector<float> expected(static_cast<std::size_t>(from + to + 1)), weight(expected.size());
  for (int i = 0; i < n; ++i) {
    int wall = 0;  // columns of body inside the outline here
    for (int u = -from; u <= to; ++u) {
      const PointUm p = warp.Inverse(ribbon.At(i, u * step));
      // Within half a raster step of the outline the label is a coin toss; the sign of u is not.
      int label = score.LabelAt(p);
      if (u > 0) label = LabelScore::kOutside;
      if (u < 0 && label == LabelScore::kOutside) label = LabelScore::kBody;
      if (u < 0 && label == LabelScore::kBody) wall = std::max(wall, -u);
      expected[static_cast<std::size_t>(u + from)] =
          static_cast<float>(fit.mean[static_cast<std::size_t>(label)]);
    }
    // The wall's thickness may differ from nominal: only its outer half is relied on.
    const double inside = std::max(2.0 / step, 0.35 * wall), outside = 0.05 * radius / step;
    for (int u = -from; u <= to; ++u) {
      const double z = u < 0 ? u / inside : u / outside;
      weight[static_cast<std::size_t>(u + from)] =
          u == 0 ? 0.0f
                 : static_cast<float>((u < 0 ? 1 / inside : 1 / outside) * std::exp(-0.5 * z * z));
    }
    std::vector<float> light(static_cast<std::size_t>(columns));
    for (int j = 0; j < columns; ++j) {
      light[static_cast<std::size_t>(j)] =
          static_cast<float>(score.LightAt(fit, warp.Inverse(ribbon.At(i, ribbon.Offset(j)))));
    }
    const int zero = static_cast<int>(std::lround(-ribbon.from / step));
    for (int s = -reach; s <= reach; ++s) {
      float sum = 0, weights = 0;
      bool visible = true;
      for (int u = -from; u <= to; ++u) {
        const int j = zero + s + u;
        if (j < 0 || j >= columns) continue;
        if (u >= -1 && u <= 1) visible = visible && ribbon.visible(i, j) != 0;
        if (!ribbon.visible(i, j)) continue;
        const float w = weight[static_cast<std::size_t>(u + from)];
        const float r = ribbon.tone(i, j) - light[static_cast<std::size_t>(j)] -
                        expected[static_cast<std::size_t>(u + from)];
        sum += w * std::min(r * r, clip);
        weights += w;
      }
      const float off = static_cast<float>(s) / static_cast<float>(std::max(1, reach));
      cost(i, s + reach) =
          (visible && weights > 0 ? sum / weights / clip : 0.5f) + kPriorWeight * off * off;
    }
  }
  cv::Mat1f smooth = cost;
  const std::vector<int> path = CheapestClosedPath(smooth, {1, 0.02f});
  OutlineTrace trace;
  for (int i = 0; i < n; ++i) {
    const double offset = (path[static_cast<std::size_t>(i)] - reach) * step;
    const PointPx p = ribbon.At(i, offset);
    trace.points.push_back(p);
    trace.visible.push_back(
        p.x >= 2 && p.y >= 2 && p.x <= image.cols - 3 && p.y <= image.rows - 3 ? 1 : 0);
  }
  trace.contrast = fit.mean[LabelScore::kOutside] - fit.mean[LabelScore::kBody];
  return trace;
}

}  // namespace cutface
