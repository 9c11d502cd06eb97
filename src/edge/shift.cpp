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

// Model, slope and noise of one arc, as tables: a pixel needs three look-ups.
struct ArcTable {
  static constexpr int kSize = 512;
  double from, to;
  std::vector<double> tone, slope, part, weight;

  ArcTable(const ArcFit& fit, const EdgeShape& shape, const NoiseLaw& law, double reach)
      : from(-reach - 1),
        to(reach + 1),
        tone(kSize + 1),
        slope(kSize + 1),
        part(kSize + 1),
        weight(kSize + 1) {
    for (std::size_t t = 0; t <= kSize; ++t) {
      const double s = from + (to - from) * static_cast<double>(t) / kSize;
      const double level = fit.Linear(shape, s);
      tone[t] = law.Seen(level);
      slope[t] =
          (law.Seen(fit.Linear(shape, s + 0.05)) - law.Seen(fit.Linear(shape, s - 0.05))) / 0.1;
      part[t] = shape.Step(s - fit.x0);
      weight[t] = 1 / law.Variance(level);
    }
  }
};

void SumArc(const Work& w, const Arc& arc, const EdgeShape& shape, double reach,
            std::vector<PlaceSums>& sums) {
  const ArcTable table(arc.fit, shape, w.law, reach);
  const double near_width = 4 * shape.state().blur + 2;
  for (std::size_t i = arc.begin; i < arc.end; ++i) {
    sums[i].fill(0);
    for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
      const BandPixel& pixel = w.band.pixels[k];
      if (!std::isfinite(pixel.linear)) continue;
      const double at =
          std::clamp((pixel.s - table.from) / (table.to - table.from) * ArcTable::kSize, 0.0,
                     ArcTable::kSize - 1e-6);
      const std::size_t t = static_cast<std::size_t>(at);
      const double f = at - static_cast<double>(t);
      const double r = pixel.linear - ((1 - f) * table.tone[t] + f * table.tone[t + 1]);
      const double d = -((1 - f) * table.slope[t] + f * table.slope[t + 1]);
      const double q = (1 - f) * table.part[t] + f * table.part[t + 1];
      // Only what lies near the edge says where it is; levels are taken from a little further.
      const double near = std::exp(-0.5 * std::pow((pixel.s - arc.fit.x0) / near_width, 2));
      const double deviations = std::abs(r) * std::sqrt(table.weight[t]);
      const double weight =
          near * table.weight[t] * (deviations <= kOutlier ? 1.0 : kOutlier / deviations);
      const double row[3] = {d, 1 - q, q};
      std::size_t at_sum = 0;
      for (int a = 0; a < 3; ++a) {
        for (int b = a; b < 3; ++b) sums[i][at_sum++] += weight * row[a] * row[b];
        sums[i][6 + static_cast<std::size_t>(a)] += weight * row[a] * r;
      }
    }
  }
}

}  // namespace

void ShiftPlaces(Work& w, const EdgeShape& shape, double reach, double window) {
  const std::size_t n = w.track.at.size();
  std::vector<PlaceSums> sums(n);
  for (const Arc& arc : w.arcs) SumArc(w, arc, shape, reach, sums);
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
