#include "identify/dark_arcs.h"

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/raster.h"

namespace cutface {
namespace {

constexpr double kArcReach = 1.5;     // of the layer's thickness, beyond its drawn seams
constexpr double kArcReachLeast = 8;  // px
constexpr double kBoreRoom_px = 4;    // about a bore: its rim
constexpr double kThinnest = 0.25, kThickest = 2.0;  // of the drawn thickness
constexpr double kThinnest_px = 2.5;
constexpr double kLongerThanWide = 2.0;
constexpr double kRadialStep = 0.5;  // px
constexpr std::size_t kLeastDarkPlaces = 40;

// Bores with their rims, within a square about a place.
class BoreMask {
 public:
  BoreMask(const std::vector<ContourPx>& bores, PointPx centre, double half)
      : corner_{std::floor(centre.x - half) - 2, std::floor(centre.y - half) - 2},
        mask_(static_cast<int>(2 * half) + 6, static_cast<int>(2 * half) + 6, uchar{0}) {
    for (const ContourPx& bore : bores) {
      ContourPx moved;
      for (const PointPx p : bore) moved.push_back(p - corner_);
      FillContour(mask_, moved, 255);
    }
    const int rim = 2 * static_cast<int>(kBoreRoom_px) + 1;
    cv::dilate(mask_, mask_, cv::getStructuringElement(cv::MORPH_ELLIPSE, {rim, rim}));
  }
  bool operator()(PointPx p) const {
    const int x = static_cast<int>(std::lround(p.x - corner_.x)),
              y = static_cast<int>(std::lround(p.y - corner_.y));
    return x >= 0 && y >= 0 && x < mask_.cols && y < mask_.rows && mask_(y, x) != 0;
  }

 private:
  PointPx corner_;
  cv::Mat1b mask_;
};

double Largest(const Polar& polar) {
  return *std::max_element(polar.radius.begin(), polar.radius.end());
}

// The surroundings of a layer, unrolled: rows by the clock, columns by the distance from its inner
// seam as drawn.
class Unrolled {
 public:
  Unrolled(const ToneReader& tone, const ContourPx& inner, const ContourPx& outer,
           const std::vector<ContourPx>& bores) {
    const PointPx centre = Centroid(std::span<const PointPx>(inner));
    const int n = std::max(360, static_cast<int>(Perimeter(std::span<const PointPx>(inner))));
    low_ = PolarOf(inner, centre, n);
    const Polar high = PolarOf(outer, centre, n);
    double thick = 0;
    for (int k = 0; k < n; ++k) thick += Cyclic(high.radius, k) - Cyclic(low_.radius, k);
    thick_ = thick / n;
    const double reach = std::max(kArcReachLeast, kArcReach * thick_);
    from_ = -reach;
    const int columns = static_cast<int>((thick_ + 2 * reach) / kRadialStep) + 1;
    const BoreMask masked(bores, centre, Largest(high) + reach);
    tones_ = cv::Mat1f(n, columns, NAN);
    for (int k = 0; k < n; ++k) {
      for (int j = 0; j < columns; ++j) {
        const PointPx p = At(k, j);
        if (tone.Inside(p) && !masked(p)) tones_(k, j) = static_cast<float>(tone(p));
      }
    }
  }

  double Radius(double place, double column) const {
    return std::max(0.0, Between(low_.radius, place) + from_ + kRadialStep * column);
  }
  PointPx At(int k, int j) const { return low_.centre + Radius(k, j) * low_.Way(k); }

  const Polar& low() const { return low_; }
  double thick() const { return thick_; }
  const cv::Mat1f& tones() const { return tones_; }

 private:
  Polar low_;
  double thick_ = 0, from_ = 0;
  cv::Mat1f tones_;
};

// Between which columns a row of one component lies, at the level; to < from: nowhere.
struct Span {
  double from = 0, to = -1;
  double width() const { return std::max(0.0, to - from); }
};

Span SpanOf(const cv::Mat1f& tones, const cv::Mat1i& labels, int row, int label, double level) {
  Span span;
  int first = -1, last = -1;
  for (int j = 0; j < labels.cols; ++j) {
    if (labels(row, j) != label) continue;
    if (first < 0) first = j;
    last = j;
  }
  if (first < 0) return span;
  const int source = row % tones.rows;
  const auto crossing = [&](int in, int out) {
    if (out < 0 || out >= tones.cols || !std::isfinite(tones(source, out))) return 1.0 * in;
    const double a = tones(source, in), b = tones(source, out);
    return in + (out - in) * (b > a ? std::clamp((level - a) / (b - a), 0.0, 1.0) : 0.5);
  };
  return {crossing(first, first - 1), crossing(last, last + 1)};
}

// Of one component: nothing where it is no arc of the layer.
std::vector<GapFound> ArcOf(const Unrolled& strip, const std::vector<Span>& rows) {
  std::vector<double> widths;
  for (const Span& span : rows) {
    if (span.width() > 0) widths.push_back(kRadialStep * span.width());
  }
  if (widths.size() < 3) return {};
  const double width = Quantile(widths, 0.6);
  if (width < std::max(kThinnest_px, kThinnest * strip.thick()) ||
      width > kThickest * strip.thick())
    return {};
  int first = -1, last = -1;
  for (int k = 0; k < static_cast<int>(rows.size()); ++k) {
    if (kRadialStep * rows[static_cast<std::size_t>(k)].width() < 0.5 * width) continue;
    if (first < 0) first = k;
    last = k;
  }
  GapFound gap;
  const int n = strip.low().size();
  gap.from = first - 0.5;
  gap.to = last + 0.5;
  const double radius = Cyclic(strip.low().radius, first);
  const double length = (gap.to - gap.from) / n * kWholeTurn * radius;
  if (!LongEnough(gap.from, gap.to, strip.low(), radius) || length < kLongerThanWide * width)
    return {};
  const auto at = [&](double place) {
    return rows[static_cast<std::size_t>(
        std::clamp(static_cast<int>(std::lround(place)), first, last))];
  };
  gap.contour = ArcOutline(
      strip.low(), gap.from, gap.to, [&](double p) { return strip.Radius(p, at(p).from); },
      [&](double p) { return strip.Radius(p, at(p).to); });
  gap.width_px = width;
  return {gap};
}

}  // namespace

std::vector<GapFound> DarkArcs(const ToneReader& tone, const ContourPx& inner,
                               const ContourPx& outer, const std::vector<ContourPx>& bores) {
  const Unrolled strip(tone, inner, outer, bores);
  std::vector<double> all, dark;
  for (const float t : strip.tones()) {
    if (std::isfinite(t)) all.push_back(t);
  }
  if (all.size() < kLeastDarkPlaces) return {};
  const double solid = Quantile(all, 0.6);
  for (double t : all) {
    if (t < kOpenShare * solid) dark.push_back(t);
  }
  if (dark.size() < kLeastDarkPlaces) return {};
  const double level = 0.5 * (solid + Quantile(std::move(dark), 0.25));
  // Two turns, so that no component is cut where the clock begins.
  const int n = strip.tones().rows;
  cv::Mat1b open(2 * n, strip.tones().cols, uchar{0});
  for (int k = 0; k < 2 * n; ++k) {
    for (int j = 0; j < open.cols; ++j) {
      const float t = strip.tones()(k % n, j);
      open(k, j) = std::isfinite(t) && t < level ? 255 : 0;
    }
  }
  cv::Mat1i labels;
  cv::Mat stats;
  cv::Mat1d centroids;
  const int count = cv::connectedComponentsWithStats(open, labels, stats, centroids, 8);
  std::vector<GapFound> arcs;
  for (int i = 1; i < count; ++i) {
    const int top = stats.at<int>(i, cv::CC_STAT_TOP), high = stats.at<int>(i, cv::CC_STAT_HEIGHT);
    // Each is there twice, whole at least once; open all around is no gap that this can tell.
    if (top == 0 || top > n || high >= n || top + high >= 2 * n) continue;
    std::vector<Span> rows(static_cast<std::size_t>(top + high));
    for (int k = top; k < top + high; ++k)
      rows[static_cast<std::size_t>(k)] = SpanOf(strip.tones(), labels, k, i, level);
    for (GapFound& gap : ArcOf(strip, rows)) arcs.push_back(std::move(gap));
  }
  return arcs;
}

}  // namespace cutface
