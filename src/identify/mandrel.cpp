#include "identify/mandrel.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/geometry.h"
#include "cutface/stats.h"
#include "identify/repaint.h"

namespace cutface {
namespace {

constexpr double kAtLimit = 0.97;     // of full scale
constexpr double kDullOutside = 0.8;  // median of the picture: brighter ones may clip anywhere
// Radius against the largest circle in a lumen, both with the tilt's stretch allowed for.
constexpr double kLeastOfLumen = 0.70, kMostOfLumen = 0.97;
constexpr double kMostLong = 1.25;    // long against short axis
constexpr double kOffEllipse = 0.04;  // of the area
constexpr double kAloneShare = 0.9;   // of its ellipse that is as bright
constexpr double kDiscMargin_px = 3;  // its blurred edge
constexpr double kSurround_px = 3;    // width of what is taken for its surroundings
constexpr double kBeyondBore = 1.12, kBeyondBoreMost = 1.25;  // of a lumen's radius: its wall
constexpr double kBrightStep = 0.04;  // of full scale, from the bore to its wall
constexpr int kSectors = 48;
constexpr double kRough = 0.02;    // of a disc's radius: how far its edge may be off an ellipse
constexpr int kDarkSmoothing = 5;  // px of the reduced picture
constexpr double kOpaqueOfGround = 0.3;  // tone of metal before a light ground
constexpr double kOpaque = 0.3;          // relative light of the body: metal lets none through,
constexpr double kShining = 1.6;         // or throws back more than any polymer
constexpr double kLeastDisc_px = 20;     // radius in the reduced picture: smaller ones are wires

std::vector<double> LumenRadii(double um_per_px, const SectionDesign& plane) {
  std::vector<double> radii;
  for (const LumenDesign& lumen : plane.lumens) {
    const auto circle = InscribedCircle(std::span<const PointUm>(lumen.shape.contour));
    if (circle) radii.push_back(circle->radius / um_per_px);
  }
  return radii;
}

// A tilt keeps the short axis.
bool FitsInto(double across, double lumen) {
  return across > kLeastOfLumen * lumen && across < kMostOfLumen * lumen;
}

// Distance beyond the ellipse, to first order; negative within.
double BeyondDisc(const Mandrel& m, PointPx p) {
  const PointPx d = Rotated(p - m.centre, -m.axis_rad);
  const double k = std::hypot(d.x / m.along, d.y / m.across);
  if (k < 1e-6) return -m.across;
  return k * (k - 1) / std::hypot(d.x / (m.along * m.along), d.y / (m.across * m.across));
}

// The median over the round of the tones between two distances beyond the edge: most sectors show
// what fills the rest of the bore.
double ToneAbout(const Micrograph& micrograph, const Mandrel& m, double from, double to,
                 double& noise) {
  std::vector<double> sectors, spread;
  for (int s = 0; s < kSectors; ++s) {
    std::vector<double> tones;
    const double a = 2 * M_PI * s / kSectors;
    for (double off = from; off < to; off += 1) {
      const PointPx p =
          m.centre + Rotated(PointPx{(m.along + off) * std::cos(a), (m.across + off) * std::sin(a)},
                             m.axis_rad);
      const int x = static_cast<int>(std::lround(p.x)), y = static_cast<int>(std::lround(p.y));
      if (x < 0 || y < 0 || x >= micrograph.width() || y >= micrograph.height()) continue;
      tones.push_back(micrograph.At(x, y));
    }
    if (tones.size() < 2) continue;
    spread.push_back(StandardDeviation(tones));
    sectors.push_back(Median(std::move(tones)));
  }
  noise = spread.empty() ? 0 : Median(std::move(spread));
  return sectors.empty() ? 0 : Median(std::move(sectors));
}

// A bright hole in a body looks like a mandrel, but the body begins at its edge: about a mandrel
// lies first what fills the bore.
bool LiesInABore(const Micrograph& micrograph, const Mandrel& m, double lumen) {
  double noise = 0;
  const double near =
      ToneAbout(micrograph, m, kDiscMargin_px, kDiscMargin_px + kSurround_px, noise);
  double other = 0;
  const double far = ToneAbout(micrograph, m, kBeyondBore * lumen - m.across,
                               kBeyondBoreMost * lumen - m.across, other);
  return std::abs(far - near) > kBrightStep;
}

// Whole discs among the places of `mask` (a work raster) that fit into a lumen.
std::vector<Mandrel> DiscsAmong(const cv::Mat1b& mask, const Micrograph& micrograph,
                                double um_per_px, const SectionDesign& plane, bool must_show_bore) {
  std::vector<Mandrel> found;
  const double r = micrograph.reduction;
  cv::Mat1i labels;
  cv::Mat stats;
  cv::Mat1d centroids;
  const int n = cv::connectedComponentsWithStats(mask, labels, stats, centroids, 4);
  std::vector<double> radii;
  for (int i = 1; i < n; ++i) {
    const double area = stats.at<int>(i, cv::CC_STAT_AREA);
    if (area < M_PI * kLeastDisc_px * kLeastDisc_px) continue;
    const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                       stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    if (box.x == 0 || box.y == 0 || box.br().x == mask.cols || box.br().y == mask.rows) continue;
    const cv::Moments m = cv::moments(cv::Mat1b(labels(box) == i), true);
    const double xx = m.mu20 / m.m00, yy = m.mu02 / m.m00, xy = m.mu11 / m.m00;
    const double half = std::hypot(0.5 * (xx - yy), xy), mean = 0.5 * (xx + yy);
    Mandrel mandrel;
    mandrel.along = 2 * std::sqrt(mean + half) * r;
    mandrel.across = 2 * std::sqrt(std::max(0.0, mean - half)) * r;
    mandrel.axis_rad = 0.5 * std::atan2(2 * xy, xx - yy);
    // A block's middle lies half a block less half a pixel beyond its first pixel.
    mandrel.centre = {(box.x + m.m10 / m.m00) * r + 0.5 * (r - 1),
                      (box.y + m.m01 / m.m00) * r + 0.5 * (r - 1)};
    const double ellipse = M_PI * mandrel.along * mandrel.across / (r * r);
    if (mandrel.along > kMostLong * mandrel.across) continue;
    if (std::abs(area / ellipse - 1) > kOffEllipse || m.m00 < kAloneShare * ellipse) continue;
    if (radii.empty()) radii = LumenRadii(um_per_px, plane);
    const bool fits = std::any_of(radii.begin(), radii.end(), [&](double lumen) {
      return FitsInto(mandrel.across, lumen) &&
             (!must_show_bore || LiesInABore(micrograph, mandrel, lumen));
    });
    if (fits) found.push_back(mandrel);
  }
  return found;
}

// Median of every seventh block of the picture, or of its outermost ones.
double UsualTone(const cv::Mat1f& work, bool border) {
  std::vector<double> tones;
  for (int y = 0; y < work.rows; y += border ? std::max(1, work.rows - 1) : 7) {
    for (int x = 0; x < work.cols; x += 7) tones.push_back(work(y, x));
  }
  if (border) {
    for (int y = 0; y < work.rows; y += 7) {
      tones.push_back(work(y, 0));
      tones.push_back(work(y, work.cols - 1));
    }
  }
  return tones.empty() ? 0 : Median(std::move(tones));
}

}  // namespace

std::vector<Mandrel> FindMandrels(const Micrograph& micrograph, double um_per_px,
                                  const SectionDesign& plane) {
  const cv::Mat1f work = micrograph.reduced_mean;
  if (work.empty() || UsualTone(work, false) > kDullOutside) return {};
  return DiscsAmong(cv::Mat1b(work >= static_cast<float>(kAtLimit)), micrograph, um_per_px, plane,
                    true);
}

std::vector<Mandrel> FindOpaqueDiscs(const Micrograph& micrograph, double um_per_px,
                                     const SectionDesign& plane) {
  if (micrograph.reduced_mean.empty()) return {};
  // Dark tones are lifted by the camera's gamma, and their noise with them.
  cv::Mat1f work;
  cv::blur(micrograph.reduced_mean, work, {kDarkSmoothing, kDarkSmoothing});
  const double ground = UsualTone(work, true);
  return DiscsAmong(cv::Mat1b(work <= static_cast<float>(kOpaqueOfGround * ground)), micrograph,
                    um_per_px, plane, false);
}

std::optional<Mandrel> MandrelAlong(const SettledContour& edge, double um_per_px,
                                    const LumenDesign& lumen) {
  if (edge.void_level > kOpaque && edge.void_level < kShining) return std::nullopt;
  ContourPx places;
  for (const SettledPlace& p : edge.places) places.push_back(p.at);
  if (places.size() < 12) return std::nullopt;
  const Ellipse<FramePx> ellipse = MomentEllipse(std::span<const PointPx>(places));
  const Mandrel m{ellipse.centre, ellipse.semi_major, ellipse.semi_minor, ellipse.angle};
  if (!(m.across > 0) || m.along > kMostLong * m.across) return std::nullopt;
  double square = 0;
  for (const PointPx p : places) square += std::pow(BeyondDisc(m, p), 2);
  if (std::sqrt(square / static_cast<double>(places.size())) > kRough * m.across)
    return std::nullopt;
  const auto circle = InscribedCircle(std::span<const PointUm>(lumen.shape.contour));
  if (!circle || !FitsInto(m.across, circle->radius / um_per_px)) return std::nullopt;
  return m;
}

LeftMandrel InUm(const Mandrel& mandrel, const Scale& scale) {
  const double pitch = scale.mean_pitch_um();
  return {scale.ToUm(mandrel.centre), 2 * mandrel.along * pitch, 2 * mandrel.across * pitch};
}

Micrograph WithoutMandrels(const Micrograph& micrograph, const std::vector<Mandrel>& mandrels) {
  Micrograph out = micrograph;
  out.tone = micrograph.tone.clone();
  Random random(23);
  for (const Mandrel& m : mandrels) {
    double noise = 0;
    const double tone =
        ToneAbout(micrograph, m, kDiscMargin_px, kDiscMargin_px + kSurround_px, noise);
    const double reach = m.along + kDiscMargin_px + 1;
    for (int y = std::max(0, static_cast<int>(m.centre.y - reach));
         y < std::min<double>(out.height(), m.centre.y + reach + 1); ++y) {
      for (int x = std::max(0, static_cast<int>(m.centre.x - reach));
           x < std::min<double>(out.width(), m.centre.x + reach + 1); ++x) {
        if (BeyondDisc(m, {1.0 * x, 1.0 * y}) > kDiscMargin_px) continue;
        StoreTone(out, x, y, tone + noise * random.Normal());
      }
    }
  }
  ReduceAgain(out);
  return out;
}

}  // namespace cutface
