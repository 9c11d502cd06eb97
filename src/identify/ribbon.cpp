#include "identify/ribbon.h"

#include <numeric>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/closed_path.h"
#include "identify/raster.h"

namespace cutface {
namespace {

// Signed tone step at each offset: mean of the `reach` columns outside minus that inside.
cv::Mat1f StepAt(const Ribbon& ribbon, const RibbonTraceOptions& options) {
  cv::Mat1f tone = ribbon.tone;
  if (options.along > 0) {
    // Averaged along the contour, cyclically.
    cv::Mat1f padded;
    const int a = options.along;
    cv::vconcat(std::vector<cv::Mat>{ribbon.tone.rowRange(tone.rows - a, tone.rows), ribbon.tone,
                                     ribbon.tone.rowRange(0, a)},
                padded);
    cv::blur(padded, padded, cv::Size(1, 2 * a + 1));
    tone = padded.rowRange(a, a + ribbon.tone.rows).clone();
  }
  const int reach = std::max(1, static_cast<int>(std::lround(options.reach_px / ribbon.step)));
  cv::Mat1f step(tone.size(), 0.0f);
  std::vector<double> sum(tone.cols + 1);
  for (int i = 0; i < tone.rows; ++i) {
    const float* t = tone.ptr<float>(i);
    sum[0] = 0;
    for (int j = 0; j < tone.cols; ++j) sum[j + 1] = sum[j] + t[j];
    for (int j = 0; j < tone.cols; ++j) {
      const int lo = std::max(0, j - reach), hi = std::min(tone.cols, j + reach + 1);
      if (j - lo < 1 || hi - j - 1 < 1) continue;
      const double inside = (sum[j] - sum[lo]) / (j - lo);
      const double outside = (sum[hi] - sum[j + 1]) / (hi - j - 1);
      step(i, j) = static_cast<float>(outside - inside);
    }
  }
  return step;
}

RibbonTrace TraceWithSign(const Ribbon& ribbon, const cv::Mat1f& step, double reference, int sign,
                          const RibbonTraceOptions& options) {
  const float way = static_cast<float>(sign);
  cv::Mat1f cost(step.size());
  for (int i = 0; i < step.rows; ++i) {
    for (int j = 0; j < step.cols; ++j) {
      float c = 0.6f;
      if (ribbon.visible(i, j)) {
        const double agree = way * step(i, j) / reference;
        c = static_cast<float>(1.0 - std::clamp(agree, -0.3, 1.0));
      }
      if (options.prior_px > 0) {
        const double off = ribbon.Offset(j) / options.prior_px;
        c += static_cast<float>(options.prior_weight * off * off);
      }
      cost(i, j) = c;
    }
  }
  const std::vector<int> path = CheapestClosedPath(cost, {options.max_step, options.step_cost});
  RibbonTrace trace;
  trace.sign = sign;
  double sum = 0;
  int seen = 0;
  for (int i = 0; i < step.rows; ++i) {
    const int j = path[i];
    double shift = 0;
    if (j > 0 && j + 1 < step.cols) {
      const double l = way * step(i, j - 1), m = way * step(i, j), r = way * step(i, j + 1);
      const double curve = l - 2 * m + r;
      if (curve < 0) shift = std::clamp(0.5 * (l - r) / curve, -0.5, 0.5);
    }
    trace.offset.push_back(ribbon.Offset(j + shift));
    trace.visible.push_back(static_cast<char>(ribbon.visible(i, j)));
    trace.cost += cost(i, j) / static_cast<float>(step.rows);
    if (ribbon.visible(i, j)) {
      sum += way * step(i, j);
      ++seen;
    }
  }
  trace.mean_step = seen > 0 ? sum / seen : 0;
  int clear = 0;
  for (int i = 0; i < step.rows; ++i) {
    if (ribbon.visible(i, path[i]) && way * step(i, path[i]) > 0.5 * trace.mean_step) ++clear;
  }
  trace.share_clear = seen > 0 ? static_cast<double>(clear) / seen : 0;
  return trace;
}

}  // namespace

namespace {

template <class Sample>
Ribbon UnrollWith(const Sample& sample, int width, int height, std::span<const PointPx> contour,
                  int places, double inward, double outward, double step) {
  Ribbon ribbon;
  const double perimeter = Perimeter(contour);
  ribbon.base = Resampled(contour, perimeter / std::max(8, places));
  ribbon.normal = OutwardNormals(std::span<const PointPx>(ribbon.base));
  const int columns = std::max(3, static_cast<int>(std::lround((inward + outward) / step)) + 1);
  ribbon.from = -inward;
  ribbon.step = step;
  ribbon.tone.create(static_cast<int>(ribbon.base.size()), columns);
  ribbon.visible.create(ribbon.tone.size());
  for (int i = 0; i < ribbon.tone.rows; ++i) {
    for (int j = 0; j < columns; ++j) {
      const PointPx p = ribbon.At(i, ribbon.Offset(j));
      ribbon.tone(i, j) = sample(p);
      ribbon.visible(i, j) = p.x >= 2 && p.y >= 2 && p.x <= width - 3 && p.y <= height - 3 ? 1 : 0;
    }
  }
  return ribbon;
}

}  // namespace

Ribbon Unroll(const cv::Mat1f& image, std::span<const PointPx> contour, int places, double inward,
              double outward, double step) {
  return UnrollWith([&](PointPx p) { return SampleAt(image, p.x, p.y); }, image.cols, image.rows,
                    contour, places, inward, outward, step);
}

Ribbon Unroll(const Micrograph& micrograph, std::span<const PointPx> contour, int places,
              double inward, double outward, double step) {
  const auto sample = [&](PointPx p) {
    const double x = std::clamp(p.x, 0.0, micrograph.width() - 1.001);
    const double y = std::clamp(p.y, 0.0, micrograph.height() - 1.001);
    const int xi = static_cast<int>(x), yi = static_cast<int>(y);
    const float fx = static_cast<float>(x - xi), fy = static_cast<float>(y - yi);
    return (1 - fy) * ((1 - fx) * micrograph.At(xi, yi) + fx * micrograph.At(xi + 1, yi)) +
           fy * ((1 - fx) * micrograph.At(xi, yi + 1) + fx * micrograph.At(xi + 1, yi + 1));
  };
  return UnrollWith(sample, micrograph.width(), micrograph.height(), contour, places, inward,
                    outward, step);
}

RibbonTrace TraceEdge(const Ribbon& ribbon, const RibbonTraceOptions& options) {
  const cv::Mat1f step = StepAt(ribbon, options);
  // What a good edge amounts to here: a high quantile of each place's strongest step.
  std::vector<double> strongest;
  for (int i = 0; i < step.rows; ++i) {
    double top = 0;
    for (int j = 0; j < step.cols; ++j) {
      if (ribbon.visible(i, j)) top = std::max(top, static_cast<double>(std::abs(step(i, j))));
    }
    if (top > 0) strongest.push_back(top);
  }
  const double reference = strongest.empty() ? 1.0 : std::max(1e-4, Quantile(strongest, 0.5));
  RibbonTrace best;
  bool first = true;
  for (int sign : {1, -1}) {
    if (options.sign != 0 && options.sign != sign) continue;
    RibbonTrace trace = TraceWithSign(ribbon, step, reference, sign, options);
    if (first || trace.cost < best.cost) best = trace;
    first = false;
  }
  return best;
}

ContourPx TracedPoints(const Ribbon& ribbon, const RibbonTrace& trace) {
  ContourPx points;
  points.reserve(trace.offset.size());
  for (std::size_t i = 0; i < trace.offset.size(); ++i) {
    points.push_back(ribbon.At(static_cast<int>(i), trace.offset[i]));
  }
  return points;
}

}  // namespace cutface
