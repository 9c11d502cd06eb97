#include "identify/wire_astray.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/wire_ruler.h"

namespace cutface {
namespace {

constexpr double kAreaOff = 0.45;   // of a wire's area
constexpr double kAxisOff = 0.3;    // of its half axes
constexpr double kLikeGain = 0.48;  // of the usual share explained: an edge beside it hides some
constexpr double kUpright = 0.06;   // rad; less is no tilt but noise

// Calls set(v, u) for the field's pixels nearer than `grown` to the wire.
template <class Set>
void ForPixelsOf(const WireField& field, const FittedWire& wire, double grown, Set set) {
  const PointPx p = field.frame.ToPicture(wire.At());
  const int around = static_cast<int>(1.2 * wire.size.along + grown) + 3;
  const cv::Rect box(static_cast<int>(p.x) - field.roi.x - around,
                     static_cast<int>(p.y) - field.roi.y - around, 2 * around + 1, 2 * around + 1);
  const WireRuler ruler(wire);
  const cv::Rect within = box & cv::Rect(0, 0, field.roi.width, field.roi.height);
  for (int v = within.y; v < within.y + within.height; ++v) {
    for (int u = within.x; u < within.x + within.width; ++u) {
      const PointPx q = field.frame.FromPicture({1.0 * (u + field.roi.x), 1.0 * (v + field.roi.y)});
      if (ruler.Distance(q) < grown) set(v, u);
    }
  }
}

}  // namespace

void MaskWires(WireField& field, const std::vector<FittedWire>& wires, double grown_px) {
  for (const FittedWire& wire : wires) {
    ForPixelsOf(field, wire, grown_px, [&](int v, int u) {
      field.known(v, u) = 0;
      field.metal(v, u) = 0;
    });
  }
}

UsualWire UsualOf(const CombFit& fit, const std::vector<FittedWire>& wires) {
  std::vector<double> tone, gain, misfit, brightness;
  for (const CombSlot& slot : fit.slots) {
    if (slot.wire < 0) continue;
    const FittedWire& wire = wires[static_cast<std::size_t>(slot.wire)];
    tone.push_back(wire.tone);
    gain.push_back(wire.gain);
    misfit.push_back(wire.misfit);
    brightness.push_back(wire.brightness);
  }
  UsualWire usual;
  if (tone.size() < 3) return usual;
  usual.told = true;
  usual.tone_off = std::max(0.06, 5 * RobustSigma(tone));
  usual.tone = Median(std::move(tone));
  usual.gain = Median(std::move(gain));
  usual.misfit = Median(std::move(misfit));
  usual.brightness = Median(std::move(brightness));
  return usual;
}

bool UsualWire::Like(const FittedWire& wire, bool bright) const {
  return told && wire.brightness >= 0.75 * brightness && wire.beyond <= 0.45 &&
         wire.misfit <= 2.2 * misfit + 0.02 && (bright || wire.tone <= tone + tone_off) &&
         wire.gain >= kLikeGain * gain;
}

std::vector<FittedWire> LoneWires(const WireField& field, const WireSize& size,
                                  const FitLimits& limits) {
  const cv::Mat1b metal((field.metal >= 0.5f) & (field.known > 0));
  cv::Mat1i labels;
  cv::Mat stats;
  cv::Mat1d centroids;
  const int n = cv::connectedComponentsWithStats(metal, labels, stats, centroids, 4);
  std::vector<FittedWire> found;
  for (int i = 1; i < n; ++i) {
    const double area = stats.at<int>(i, cv::CC_STAT_AREA);
    if (area < (1 - kAreaOff) * size.Area() || area > (1 + kAreaOff) * size.Area()) continue;
    const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                       stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    // In the layer's frame, where wires have their drawn shape.
    ContourPx at;
    PointPx middle;
    for (int v = box.y; v < box.y + box.height; ++v) {
      for (int u = box.x; u < box.x + box.width; ++u) {
        if (labels(v, u) != i) continue;
        at.push_back(field.frame.FromPicture({1.0 * (u + field.roi.x), 1.0 * (v + field.roi.y)}));
        middle = middle + at.back();
      }
    }
    middle = (1.0 / static_cast<double>(at.size())) * middle;
    double xx = 0, xy = 0, yy = 0;
    for (PointPx p : at) {
      const PointPx d = p - middle;
      xx += d.x * d.x, xy += d.x * d.y, yy += d.y * d.y;
    }
    const double count = static_cast<double>(at.size());
    xx /= count, xy /= count, yy /= count;
    const double half = std::hypot(0.5 * (xx - yy), xy), mean = 0.5 * (xx + yy);
    const double along = 2 * std::sqrt(mean + half), across = 2 * std::sqrt(mean - half);
    // A bar has 2 / sqrt(3) times an ellipse's moments.
    const double bar = size.flat ? 2 / std::sqrt(3.0) : 1.0;
    if (std::abs(along - bar * size.along) > kAxisOff * size.along + 1) continue;
    if (std::abs(across - bar * size.across) > kAxisOff * size.across + 1) continue;
    FittedWire wire;
    wire.angle = std::atan2(middle.y, middle.x);
    wire.radius = Norm(middle);
    wire.size = size;
    if (wire.radius < limits.inner || wire.radius > limits.outer) continue;
    // Positive tilt lifts the end that lies clockwise as drawn.
    const PointPx radial{std::cos(wire.angle), std::sin(wire.angle)};
    const double axis = 0.5 * std::atan2(2 * xy, xx - yy);
    const PointPx way{std::cos(axis), std::sin(axis)};
    const double on = Cross(radial, way), up = Dot(radial, way);
    if (size.along > 1.15 * size.across) wire.tilt = std::atan(up / (on == 0 ? 1e-9 : on));
    if (std::abs(wire.tilt) < kUpright) wire.tilt = 0;
    std::vector<FittedWire> alone{wire};
    SettleWires(field, limits, alone);
    if (!alone.empty()) found.push_back(alone.front());
  }
  return found;
}

namespace {

struct RestBlob {
  int area = 0;
  PointPx middle;  // of the picture
};

// Blobs of metal between two radii that no wire explains.
std::vector<RestBlob> RestBlobs(const WireField& field, const std::vector<FittedWire>& wires,
                                double soft_px, double from, double to) {
  cv::Mat1b rest(field.metal.size(), uchar{0});
  for (int v = 0; v < rest.rows; ++v) {
    for (int u = 0; u < rest.cols; ++u) {
      if (!field.known(v, u) || field.metal(v, u) < 0.5f) continue;
      const double r =
          Norm(field.frame.FromPicture({1.0 * (u + field.roi.x), 1.0 * (v + field.roi.y)}));
      if (r > from && r < to) rest(v, u) = 1;
    }
  }
  for (const FittedWire& wire : wires)
    ForPixelsOf(field, wire, 0.6 * soft_px + 0.5, [&](int v, int u) { rest(v, u) = 0; });
  cv::Mat1i labels;
  cv::Mat stats;
  cv::Mat1d centroids;
  const int n = cv::connectedComponentsWithStats(rest, labels, stats, centroids, 4);
  std::vector<RestBlob> blobs;
  for (int i = 1; i < n; ++i) {
    blobs.push_back({stats.at<int>(i, cv::CC_STAT_AREA),
                     {centroids(i, 0) + field.roi.x, centroids(i, 1) + field.roi.y}});
  }
  return blobs;
}

}  // namespace

std::vector<FittedWire> WiresInRest(const WireField& field, const std::vector<FittedWire>& wires,
                                    const WireSize& size, const FitLimits& limits) {
  constexpr double kLeastShare = 0.3;  // of a wire's area that is left of it beside others
  constexpr double kMostShare = 1.3;
  constexpr double kLeastGain = 0.5, kMostBeyond = 0.4;
  std::vector<FittedWire> all = wires, found;
  for (const RestBlob& blob : RestBlobs(field, wires, limits.soft_px, limits.inner, limits.outer)) {
    if (blob.area < kLeastShare * size.Area() || blob.area > kMostShare * size.Area()) continue;
    FittedWire wire;
    const PointPx q = field.frame.FromPicture(blob.middle);
    wire.angle = std::atan2(q.y, q.x);
    wire.radius = Norm(q);
    wire.size = size;
    wire.strength = std::clamp<double>(field.MetalAt(blob.middle), 0.5, 1.0);
    std::vector<FittedWire> tried{wire};
    tried.insert(tried.end(), all.begin(), all.end());
    FitLimits gentle = limits;
    gentle.least_gain = 0.05;
    SettleWires(field, gentle, tried, 1);
    if (tried.size() != all.size() + 1) continue;
    const FittedWire& settled = tried.front();
    if (settled.gain < kLeastGain || settled.beyond > kMostBeyond) continue;
    all.push_back(settled);
    found.push_back(settled);
  }
  return found;
}

bool AnyOverlap(const std::vector<FittedWire>& wires, const WireSize& size) {
  constexpr double kInEachOther = 1.5;  // of the two wires that touch at 2
  WireSize twice = size;
  twice.along *= kInEachOther;
  twice.across *= kInEachOther;
  for (std::size_t i = 0; i < wires.size(); ++i) {
    FittedWire wide = wires[i];
    wide.size = twice;
    for (std::size_t j = 0; j < wires.size(); ++j) {
      if (i != j && DistanceToWire(wide, wires[j].At()) < 0) return true;
    }
  }
  return false;
}

int UnexplainedBlobs(const WireField& field, const std::vector<FittedWire>& wires,
                     const WireSize& size, double soft_px, double from, double to, double share) {
  const std::vector<RestBlob> blobs = RestBlobs(field, wires, soft_px, from, to);
  return static_cast<int>(std::count_if(blobs.begin(), blobs.end(), [&](const RestBlob& blob) {
    return blob.area >= share * size.Area();
  }));
}

}  // namespace cutface
