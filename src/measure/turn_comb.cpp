#include "measure/turn_comb.h"

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"

namespace cutface::measure {
namespace {

constexpr double kSteersFit = 4;      // robust deviations: wires further off do not steer the comb
constexpr double kLeastSteer = 0.05;  // of the pitch: those nearer always do

void FitOnce(const std::vector<Turn>& turns, CombFit& fit) {
  double sxx = 0;
  PointUm sxy{0, 0}, mean_at[2]{};
  double mean_n[2] = {0, 0};
  fit.rows[0] = fit.rows[1] = 0;
  for (const Turn& t : turns) {
    if (t.slot < 0 || !t.steers) continue;
    mean_at[t.row] = mean_at[t.row] + t.wire->centroid;
    mean_n[t.row] += t.slot;
    ++fit.rows[t.row];
  }
  for (int row = 0; row < 2; ++row) {
    const double n = std::max(1.0, fit.rows[row]);
    mean_at[row] = (1 / n) * mean_at[row];
    mean_n[row] /= n;
  }
  for (const Turn& t : turns) {
    if (t.slot < 0 || !t.steers) continue;
    const double n = t.slot - mean_n[t.row];
    sxx += n * n;
    sxy = sxy + n * (t.wire->centroid - mean_at[t.row]);
  }
  fit.sum_squares = sxx;
  fit.step = (1 / std::max(1e-9, sxx)) * sxy;
  for (int row = 0; row < 2; ++row) fit.base[row] = mean_at[row] - mean_n[row] * fit.step;
}

}  // namespace

CombFit FitComb(std::vector<Turn>& turns) {
  CombFit fit;
  for (int round = 0; round < 5; ++round) {
    FitOnce(turns, fit);
    const PointUm u = fit.axis();
    std::vector<double> along, across;
    for (Turn& t : turns) {
      if (t.slot < 0) continue;
      t.off = t.wire->centroid - fit.base[t.row] - static_cast<double>(t.slot) * fit.step;
      along.push_back(Dot(u, t.off));
      across.push_back(Cross(u, t.off));
    }
    fit.along = RobustSigma(along);
    fit.across = RobustSigma(across);
    const double most =
        std::max(kSteersFit * std::hypot(fit.along, fit.across), kLeastSteer * fit.pitch());
    bool changed = false;
    for (Turn& t : turns) {
      const bool steers = Norm(t.off) <= most;
      changed = changed || steers != t.steers;
      t.steers = steers;
    }
    if (!changed) break;
  }
  // The usual deviation of what steers: residuals have two parameters of each row and the step
  // less.
  double sum_along = 0, sum_across = 0, n = 0;
  const PointUm u = fit.axis();
  for (const Turn& t : turns) {
    if (t.slot < 0 || !t.steers) continue;
    sum_along += std::pow(Dot(u, t.off), 2);
    sum_across += std::pow(Cross(u, t.off), 2);
    ++n;
  }
  fit.along = std::sqrt(sum_along / std::max(1.0, n - 3));
  fit.across = std::sqrt(sum_across / std::max(1.0, n - 3));
  return fit;
}

}  // namespace cutface::measure
