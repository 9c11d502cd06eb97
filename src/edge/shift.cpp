#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "edge/work.h"

namespace cutface {
namespace {

constexpr double kMostShift = 1.2;    // px per pass: the linear range of an edge
constexpr double kLevelPrior = 0.08;  // relative: how far levels wander along a contour
constexpr double kOutlier = 3.5;      // deviations

using PlaceSums = std::array<double, 9>;  // upper triangle of 3x3, then right side

// Model, slope and noise of one arc, as a table: a pixel needs one look.
struct ArcTable {
  static constexpr std::size_t kSize = 512, kRows = kSize + 1;
  struct Row {
    double tone = 0, slope = 0, part = 0;
    double weight = 0;  // 1 / variance
    double root = 0;    // of it
    double near = 0;    // only what lies near the edge says where it is
  };
  double from, to;
  std::array<Row, kRows> rows;

  ArcTable(const ArcFit& fit, const EdgeShape& shape, const NoiseLaw& law, double reach)
      : from(-reach - 1), to(reach + 1) {
    const double step = (to - from) / static_cast<double>(kSize);
    const double near_width = 4 * shape.state().blur + 2;
    const auto seen = [&](double s) { return law.Seen(fit.Linear(shape, s)); };
    for (std::size_t t = 0; t <= kSize; ++t) {
      const double s = from + step * static_cast<double>(t);
      const double level = fit.Linear(shape, s);
      Row& row = rows[t];
      row.tone = law.Seen(level);
      row.part = shape.Step(s - fit.x0);
      row.weight = 1 / law.Variance(level);
      row.root = std::sqrt(row.weight);
      row.near = std::exp(-0.5 * std::pow((s - fit.x0) / near_width, 2));
    }
    // Rows stand as close as the ends of a difference should.
    double before = seen(from - step);
    for (std::size_t t = 0; t <= kSize; ++t) {
      const double after = t < kSize ? rows[t + 1].tone : seen(to + step);
      rows[t].slope = (after - before) / (2 * step);
      before = rows[t].tone;
    }
  }
};

void SumArc(const Work& w, const Arc& arc, const EdgeShape& shape, double reach,
            std::vector<PlaceSums>& sums) {
  const ArcTable table(arc.fit, shape, w.law, reach);
  const double per_px = static_cast<double>(ArcTable::kSize) / (table.to - table.from);
  for (std::size_t i = arc.begin; i < arc.end; ++i) {
    PlaceSums& sum = sums[i];
    sum.fill(0);
    for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
      const BandPixel& pixel = w.band.pixels[k];
      if (!std::isfinite(pixel.linear)) continue;
      const double at = std::clamp((pixel.s - table.from) * per_px, 0.0,
                                   static_cast<double>(ArcTable::kSize) - 1e-6);
      const std::size_t t = static_cast<std::size_t>(at);
      const double f = at - static_cast<double>(t), e = 1 - f;
      const ArcTable::Row &low = table.rows[t], &high = table.rows[t + 1];
      const double r = pixel.linear - (e * low.tone + f * high.tone);
      const double d = -(e * low.slope + f * high.slope);
      const double q = e * low.part + f * high.part, v = 1 - q;
      // Levels are taken from a little further than the place.
      const double deviations = std::abs(r) * low.root;
      const double weight = (e * low.near + f * high.near) * low.weight *
                            (deviations <= kOutlier ? 1.0 : kOutlier / deviations);
      const double wd = weight * d, wv = weight * v, wq = weight * q;
      sum[0] += wd * d;
      sum[1] += wd * v;
      sum[2] += wd * q;
      sum[3] += wv * v;
      sum[4] += wv * q;
      sum[5] += wq * q;
      sum[6] += wd * r;
      sum[7] += wv * r;
      sum[8] += wq * r;
    }
  }
}

}  // namespace

void ShiftPlaces(Work& w, const EdgeShapes& shapes, double reach, double window) {
  const std::size_t n = w.track.at.size();
  std::vector<PlaceSums> sums(n);
  for (const Arc& arc : w.arcs)
    SumArc(w, arc, shapes.At(arc.blur_factor, w.input.inner_boundary), reach, sums);
  const int half =
      std::min<int>(static_cast<int>(n / 2),
                    std::max(1, static_cast<int>(std::ceil(2.5 * window / w.track.spacing))));
  std::vector<double> kernel;
  for (int k = -half; k <= half; ++k)
    kernel.push_back(std::exp(-0.5 * std::pow(k * w.track.spacing / window, 2)));
  w.shift.assign(n, 0);
  w.sigma.assign(n, 0);
  const double prior = 1 / (kLevelPrior * kLevelPrior);
  std::vector<double> base(n);
  for (const Arc& arc : w.arcs) {
    for (std::size_t i = arc.begin; i < arc.end; ++i) base[i] = arc.fit.x0;
  }
  for (std::size_t i = 0; i < n; ++i) {
    PlaceSums s{};
    double squared = 0;
    for (int k = -half; k <= half; ++k) {
      const std::size_t j = (i + n + static_cast<std::size_t>(k + static_cast<int>(n))) % n;
      const double g = kernel[static_cast<std::size_t>(k + half)];
      for (std::size_t a = 0; a < 9; ++a) s[a] += g * sums[j][a];
      squared += g * g * sums[j][0];
    }
    Eigen::Matrix3d m;
    m << s[0], s[1], s[2], s[1], s[3] + prior, s[4], s[2], s[4], s[5] + prior;
    m(0, 0) += 1e-9;
    const Eigen::Vector3d x = m.ldlt().solve(Eigen::Vector3d(s[6], s[7], s[8]));
    w.shift[i] = base[i] + (s[0] > 0 ? std::clamp(x(0), -kMostShift, kMostShift) : 0.0);
    const double information = s[0] > 0 ? 1.0 / m.inverse()(0, 0) : 0;
    const double share = s[0] > 0 ? squared / s[0] : 1;
    w.sigma[i] = information > 0 ? std::min(9.0, std::sqrt(share / information)) : 9;
  }
}

}  // namespace cutface
