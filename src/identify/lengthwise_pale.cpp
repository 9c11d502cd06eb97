#include "identify/lengthwise_pale.h"

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr std::size_t kPaleSectors = 8;
constexpr double kPaleShare = 0.1;       // of the others' contrast
constexpr double kPaleNoises = 8;        // of the mean over the disc
constexpr double kEvenSector = 0.4;      // of the contrast, that each part of the round shows
constexpr double kEvenDepth = 0.35;      // of the contrast, between the middle and near the edge
constexpr double kBody_px[] = {2, 3.5};  // beyond the edge: the body
constexpr double kMetalAt[] = {0.3, 0.55, 0.8};  // of the radius: the metal
constexpr double kLaid_px = 0.5;                 // of an edge that was laid, not traced

// Tones in and about a shape laid at a place.
struct LaidTones {
  double in[std::size(kMetalAt)] = {}, step = 0, least_sector = 0;
};

class LaidShape {
 public:
  LaidShape(const Micrograph& micrograph, const LightField& light, const ContourPx& shape)
      : micrograph_(micrograph), light_(light), shape_(shape) {
    for (PointPx p : shape) reach_ = std::max(reach_, Norm(p) + kBody_px[1]);
  }

  // Nothing where the picture ends.
  std::optional<LaidTones> At(PointPx c) const {
    if (c.x < reach_ + 1 || c.y < reach_ + 1 || c.x > micrograph_.width() - reach_ - 2 ||
        c.y > micrograph_.height() - reach_ - 2)
      return std::nullopt;
    LaidTones disc;
    double sector[kPaleSectors] = {};
    for (std::size_t k = 0; k < shape_.size(); ++k) {
      const PointPx p = shape_[k];
      const PointPx way = (1 / std::max(1e-9, Norm(p))) * p;
      double in = 0, out = 0;
      for (std::size_t q = 0; q < std::size(kMetalAt); ++q) {
        const double tone = RelativeTone(micrograph_, light_, c + kMetalAt[q] * p);
        disc.in[q] += tone / static_cast<double>(shape_.size());
        in += tone / static_cast<double>(std::size(kMetalAt));
      }
      for (double away : kBody_px)
        out += RelativeTone(micrograph_, light_, c + p + away * way) / std::size(kBody_px);
      disc.step += (in - out) / static_cast<double>(shape_.size());
      sector[k * kPaleSectors / shape_.size()] +=
          (in - out) * kPaleSectors / static_cast<double>(shape_.size());
    }
    disc.least_sector = *std::min_element(std::begin(sector), std::end(sector));
    return disc;
  }

 private:
  const Micrograph& micrograph_;
  const LightField& light_;
  const ContourPx& shape_;
  double reach_ = 0;
};

// Where the step is greatest, from a place on, in a square of this half width.
PointPx BestLaid(const LaidShape& layer, PointPx from, double half, double step) {
  PointPx best = from;
  double most = -1;
  for (double dy = -half; dy <= half; dy += step) {
    for (double dx = -half; dx <= half; dx += step) {
      const auto disc = layer.At(from + PointPx{dx, dy});
      if (!disc || disc->step <= most) continue;
      most = disc->step;
      best = from + PointPx{dx, dy};
    }
  }
  return best;
}

}  // namespace

ContourPx UsualEdge(const std::vector<const CutWire*>& wires) {
  ContourPx shape;
  if (wires.empty()) return shape;
  for (std::size_t k = 0; k < wires.front()->edge.size(); ++k) {
    std::vector<double> x, y;
    for (const CutWire* wire : wires) {
      x.push_back(wire->edge[k].x - wire->centre.x);
      y.push_back(wire->edge[k].y - wire->centre.y);
    }
    shape.push_back({Median(std::move(x)), Median(std::move(y))});
  }
  return shape;
}

std::optional<CutWire> FindPaleWire(const Micrograph& micrograph, const LightField& light,
                                    PointPx place, double reach_px, const ContourPx& shape,
                                    double brighter, double noise) {
  if (shape.size() < 4 * kPaleSectors) return std::nullopt;
  const LaidShape layer(micrograph, light, shape);
  PointPx at = BestLaid(layer, place, reach_px, 1);
  at = BestLaid(layer, at, 1, 0.25);
  const auto disc = layer.At(at);
  if (!disc) return std::nullopt;
  const double step = disc->step;
  const double pixels = std::max(4.0, 0.25 * Area(shape));  // samples share pixels
  if (step < std::max(kPaleShare * brighter, kPaleNoises * noise / std::sqrt(pixels)))
    return std::nullopt;
  if (disc->least_sector < kEvenSector * step) return std::nullopt;
  if (std::abs(disc->in[0] - disc->in[std::size(kMetalAt) - 1]) > kEvenDepth * step)
    return std::nullopt;
  CutWire wire;
  wire.centre = at;
  for (PointPx p : shape) wire.edge.push_back(at + p);
  wire.seen.assign(shape.size(), 1);
  wire.seen_share = 1;
  wire.sigma_px = kLaid_px;
  wire.tone = (disc->in[0] + disc->in[1]) / 2;
  wire.doubt = "a dull wire: its edge was not traced but laid from the others'";
  return wire;
}

}  // namespace cutface
