#include "measure/layers.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace cutface::measure {
namespace {

constexpr std::ptrdiff_t kNearEdges = 2;  // to either side of the nearest one: draws move little

struct Foot {
  double distance = 0;
  PointUm at;
};

Foot OnEdge(PointUm p, PointUm a, PointUm b) {
  const PointUm e = b - a;
  const double square = Dot(e, e);
  const double t = square > 0 ? std::clamp(Dot(p - a, e) / square, 0.0, 1.0) : 0.0;
  const PointUm foot = a + t * e;
  return {Distance(p, foot), foot};
}

ContourUm ThinCalm(const Feature& feature) {
  ContourUm points;
  for (std::uint32_t u : feature.thin) points.push_back(feature.calm[feature.used[u]]);
  return points;
}

}  // namespace

namespace {

// Sums of the waves round the inner edge, about a centre.
struct Waves {
  PointUm centre;
  void Add(Thickness& now, PointUm at, double turn, double d) const {
    const PointUm r = at - centre;
    const double size = std::hypot(r.x, r.y);
    if (!(size > 0)) return;
    const double c = r.x / size, s = r.y / size;
    double ck = 1, sk = 0;
    for (std::size_t k = 0; k < now.wave_cos.size(); ++k) {
      const double next = ck * c - sk * s;
      sk = sk * c + ck * s;
      ck = next;
      now.wave_cos[k] += turn * d * ck / std::numbers::pi;
      now.wave_sin[k] += turn * d * sk / std::numbers::pi;
    }
  }
  // Angle that a vertex stands for: half of that between its neighbours.
  double Turn(PointUm before, PointUm after) const {
    const PointUm a = before - centre, b = after - centre;
    return 0.5 * std::atan2(Cross(a, b), Dot(a, b));
  }
};

}  // namespace

LayerGauge::LayerGauge(const Face& face, const Layer& layer) : layer_(layer) {
  if (layer.inner < 0 || layer.outer < 0) return;
  const Feature& inner = face.features[static_cast<std::size_t>(layer.inner)];
  const Feature& outer = face.features[static_cast<std::size_t>(layer.outer)];
  if (!inner.Measurable() || !outer.Measurable()) return;
  known_ = true;
  const ContourIndex<FrameUm> index{std::span<const PointUm>(outer.full)};
  const auto nearest = index.NearestToEach(std::span<const PointUm>(inner.full));
  raw_ = {1e300, 0, -1, {}, {}};
  double length = 0;
  const std::size_t n = inner.full.size();
  centre_ = Centroid<FrameUm>(inner.full);
  const Waves waves{centre_};
  for (std::size_t i = 0; i < n; ++i) {
    const double d = nearest[i].distance;
    const Segment<FrameUm> place{inner.full[i], nearest[i].on_second};
    if (d < raw_.least) {
      raw_.least = d;
      places_.least = place;
      places_.least_vertex = i;
      places_.least_edge = nearest[i].edge_second;
    }
    if (d > raw_.greatest) {
      raw_.greatest = d;
      places_.greatest = place;
      places_.greatest_vertex = i;
      places_.greatest_edge = nearest[i].edge_second;
    }
    const double share = 0.5 * (Distance(inner.full[(i + n - 1) % n], inner.full[i]) +
                                Distance(inner.full[i], inner.full[(i + 1) % n]));
    raw_.mean += share * d;
    waves.Add(raw_, inner.full[i], waves.Turn(inner.full[(i + n - 1) % n], inner.full[(i + 1) % n]),
              d);
    length += share;
  }
  raw_.mean /= length;
}

void LayerGauge::Prepare(const Face& face) {
  if (!known_) return;
  const ContourUm inner = ThinCalm(face.features[static_cast<std::size_t>(layer_.inner)]);
  const ContourUm outer = ThinCalm(face.features[static_cast<std::size_t>(layer_.outer)]);
  const ContourIndex<FrameUm> index{std::span<const PointUm>(outer)};
  const auto nearest = index.NearestToEach(std::span<const PointUm>(inner));
  const std::size_t n = inner.size();
  for (std::size_t i = 0; i < n; ++i) {
    turn_.push_back(Waves{centre_}.Turn(inner[(i + n - 1) % n], inner[(i + 1) % n]));
    near_.push_back(static_cast<std::uint32_t>(nearest[i].edge_second));
    weight_.push_back(0.5 * (Distance(inner[(i + n - 1) % n], inner[i]) +
                             Distance(inner[i], inner[(i + 1) % n])));
  }
}

Thickness LayerGauge::Evaluate(const Face& face, const std::vector<ContourUm>& moved) const {
  if (!known_) return {};
  const auto inner = static_cast<std::size_t>(layer_.inner);
  const auto outer = static_cast<std::size_t>(layer_.outer);
  const std::vector<std::uint32_t>& from = face.features[inner].thin;
  const std::vector<std::uint32_t>& to = face.features[outer].thin;
  const auto count = static_cast<std::ptrdiff_t>(to.size());
  const auto at = [&](std::ptrdiff_t k) {
    return moved[outer][to[static_cast<std::size_t>((k % count + count) % count)]];
  };
  Thickness now{1e300, 0, -1, {}, {}};
  const Waves waves{centre_};
  double length = 0;
  for (std::size_t i = 0; i < from.size(); ++i) {
    const PointUm p = moved[inner][from[i]];
    double least = 1e300;
    for (std::ptrdiff_t k = -kNearEdges; k <= kNearEdges; ++k) {
      const std::ptrdiff_t edge = static_cast<std::ptrdiff_t>(near_[i]) + k;
      least = std::min(least, OnEdge(p, at(edge), at(edge + 1)).distance);
    }
    now.least = std::min(now.least, least);
    now.greatest = std::max(now.greatest, least);
    now.mean += weight_[i] * least;
    waves.Add(now, p, turn_[i], least);
    length += weight_[i];
  }
  now.mean /= length;
  return now;
}

}  // namespace cutface::measure
