#include "identify/edge_strip.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr int kEdgeSmooth = 3;            // places to either side
constexpr double kBesideEdges_px = 3.5;   // of another edge
constexpr std::size_t kMostUsual = 3000;  // places that tell what is usual

int Around(int k, int n) { return ((k % n) + n) % n; }

// Mean of the places around each, column by column; not a number where too few are seen.
cv::Mat1f SmoothedAlong(const cv::Mat1f& tones) {
  const int n = tones.rows;
  cv::Mat1f out(n, tones.cols);
  std::vector<double> sum(static_cast<std::size_t>(tones.cols));
  std::vector<int> count(sum.size());
  for (int k = 0; k < n; ++k) {
    std::fill(sum.begin(), sum.end(), 0);
    std::fill(count.begin(), count.end(), 0);
    for (int i = -kEdgeSmooth; i <= kEdgeSmooth; ++i) {
      const float* row = tones[Around(k + i, n)];
      for (std::size_t j = 0; j < sum.size(); ++j) {
        const bool seen = std::isfinite(row[j]);
        sum[j] += seen ? static_cast<double>(row[j]) : 0.0;
        count[j] += seen ? 1 : 0;
      }
    }
    for (std::size_t j = 0; j < sum.size(); ++j)
      out[k][j] = count[j] > kEdgeSmooth ? static_cast<float>(sum[j] / count[j]) : NAN;
  }
  return out;
}

// What is usual in a column, and its scatter; `left` becomes what differs from it.
void TakeUsual(int column, EdgeStrip& strip) {
  const int n = strip.left.rows;
  std::vector<double> seen;
  for (int k = 0; k < n; ++k) {
    if (std::isfinite(strip.left(k, column))) seen.push_back(strip.left(k, column));
  }
  if (3 * seen.size() < static_cast<std::size_t>(n)) {
    strip.usual.push_back(NAN);
    strip.noise.push_back(NAN);
    strip.left.col(column).setTo(NAN);
    return;
  }
  const std::size_t step = 1 + seen.size() / kMostUsual;
  if (step > 1) {
    std::size_t kept = 0;
    for (std::size_t k = 0; k < seen.size(); k += step) seen[kept++] = seen[k];
    seen.resize(kept);
  }
  strip.usual.push_back(Median(seen));
  strip.noise.push_back(RobustSigma(std::move(seen)));
  strip.left.col(column) -= strip.usual.back();
}

}  // namespace

OtherEdges::OtherEdges(const Section& section, const Scale& scale, int reduction, cv::Size size)
    : reduction_(reduction), size_(size) {
  const auto add = [&](const TracedContour& contour, Kind kind) {
    if (contour.vertices.size() < 3) return;
    std::vector<cv::Point> line;
    for (const PointPx p : InPx(contour, scale))
      line.emplace_back(static_cast<int>(p.x / reduction), static_cast<int>(p.y / reduction));
    const cv::Rect box = cv::boundingRect(line);
    drawn_.push_back({&contour, kind, std::move(line), box});
  };
  if (section.outline) add(*section.outline, Kind::kLine);
  for (const LumenTrace& lumen : section.lumens) add(lumen.bore, Kind::kLumen);
  for (const LinerTrace& liner : section.liners) add(liner.outer, Kind::kLine);
  for (const RingTrace& ring : section.rings) add(ring.inner, Kind::kLine);
  for (const Void& v : section.voids) add(v.contour, Kind::kVoid);
  for (const WireTrace& wire : section.wires) add(wire.contour, Kind::kWire);
}

OtherEdges::Mask OtherEdges::Without(const TracedContour& mine, bool near_wires) const {
  Mask out;
  const auto own = std::find_if(drawn_.begin(), drawn_.end(),
                                [&](const Drawn& d) { return d.contour == &mine; });
  CF_CHECK(own != drawn_.end());
  const int reach = 2 + static_cast<int>(std::ceil(EdgeStrip::kReachLayers_px / reduction_));
  const cv::Rect area = cv::Rect(own->box.x - reach, own->box.y - reach, own->box.width + 2 * reach,
                                 own->box.height + 2 * reach) &
                        cv::Rect({}, size_);
  out.origin_ = area.tl();
  out.mask_ = cv::Mat1b(area.size(), uchar{0});
  const int thick = std::max(3, 2 * static_cast<int>(std::ceil(kBesideEdges_px / reduction_)) + 1);
  for (const Drawn& other : drawn_) {
    if (&other == &*own) continue;
    const int wide = other.kind == Kind::kWire && !near_wires ? 2 * thick + 1 : thick;
    const cv::Rect near(other.box.x - wide, other.box.y - wide, other.box.width + 2 * wide,
                        other.box.height + 2 * wide);
    if ((near & area).empty()) continue;
    const cv::Point shift = -area.tl();
    if (other.kind != Kind::kLine) {
      cv::fillPoly(out.mask_, std::vector<std::vector<cv::Point>>{other.line}, cv::Scalar(255),
                   cv::LINE_8, 0, shift);
    }
    std::vector<cv::Point> line = other.line;
    for (cv::Point& p : line) p += shift;
    cv::polylines(out.mask_, line, true, cv::Scalar(255), wide);
  }
  return out;
}

EdgeStrip StripAlong(const ToneReader& tone, const ContourPx& contour, bool polymer_outside,
                     const OtherEdges::Mask& others, int reduction) {
  EdgeStrip strip;
  strip.at = Resampled(std::span<const PointPx>(contour), 1.0);
  const int n = strip.size();
  ContourPx calm(strip.at.size());
  for (int k = 0; k < n; ++k) {
    PointPx sum;
    for (int j = -4; j <= 4; ++j) sum = sum + strip.at[static_cast<std::size_t>(Around(k + j, n))];
    calm[static_cast<std::size_t>(k)] = (1.0 / 9) * sum;
  }
  strip.normal = OutwardNormals(std::span<const PointPx>(calm));
  if (!polymer_outside) {
    for (PointPx& normal : strip.normal) normal = -1.0 * normal;
  }
  cv::Mat1f tones(n, EdgeStrip::kColumns, NAN);
  for (int k = 0; k < n; ++k) {
    const auto at = static_cast<std::size_t>(k);
    for (int j = 0; j < EdgeStrip::kColumns; ++j) {
      const PointPx p = strip.at[at] + strip.S(j) * strip.normal[at];
      if (tone.Inside(p) && !others.Hides(p, reduction)) tones(k, j) = static_cast<float>(tone(p));
    }
  }
  // Smoothed along the arc, then what is usual at each distance.
  strip.left = SmoothedAlong(tones);
  for (int j = 0; j < EdgeStrip::kColumns; ++j) TakeUsual(j, strip);
  return strip;
}

}  // namespace cutface
