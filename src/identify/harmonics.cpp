#include "identify/harmonics.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kCut = 4.0;      // robust deviations: beyond, a value is not believed
constexpr double kFirst_px = 20;  // expected size of mean and first harmonic
constexpr double kHigher_px = 3;  // of the second; falls with the square of the order

double Expected(int k) { return k < 2 ? kFirst_px : kHigher_px * 4 / (k * k); }

}  // namespace

Eigen::VectorXd Harmonics::Row(double turn) const {
  Eigen::VectorXd row(2 * order_ + 1);
  row(0) = 1;
  for (int k = 1; k <= order_; ++k) {
    const double angle = 2 * std::numbers::pi * k * turn;
    row(2 * k - 1) = std::cos(angle);
    row(2 * k) = std::sin(angle);
  }
  return row;
}

Harmonics::Harmonics(std::vector<HarmonicSample>& samples, int order) {
  // Half as many unknowns as values at most.
  order_ = std::max(1, std::min(order, (static_cast<int>(samples.size()) / 2 - 1) / 2));
  const int size = 2 * order_ + 1;
  const auto count = static_cast<Eigen::Index>(samples.size());
  Eigen::MatrixXd columns(size, count);  // one for each sample
  Eigen::VectorXd wanted(count), sigma(count), weight(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const HarmonicSample& s = samples[static_cast<std::size_t>(i)];
    columns.col(i) = Row(s.turn);
    wanted(i) = s.value;
    sigma(i) = s.sigma;
  }
  Eigen::VectorXd belief(size);
  belief(0) = 1 / (kFirst_px * kFirst_px);
  for (int k = 1; k <= order_; ++k)
    belief(2 * k - 1) = belief(2 * k) = 1 / (Expected(k) * Expected(k));
  value_ = Eigen::VectorXd::Zero(size);
  for (HarmonicSample& s : samples) s.weight = 1;
  for (int round = 0; round < 8; ++round) {
    for (Eigen::Index i = 0; i < count; ++i)
      weight(i) = samples[static_cast<std::size_t>(i)].weight / (sigma(i) * sigma(i));
    const Eigen::MatrixXd weighted = columns * weight.asDiagonal();
    Eigen::MatrixXd normal = weighted * columns.transpose();
    normal.diagonal() += belief;
    covariance_ = normal.inverse();
    value_ = covariance_ * (weighted * wanted);
    const Eigen::VectorXd line = columns.transpose() * value_;
    std::vector<double> off;
    for (Eigen::Index i = 0; i < count; ++i)
      off.push_back(std::abs(wanted(i) - line(i)) / sigma(i));
    excess_ = std::max(1.0, 1.4826 * Median(off));
    cost_ = 0;
    for (std::size_t i = 0; i < samples.size(); ++i) {
      const double u = off[i] / (kCut * excess_);
      samples[i].weight = u < 1 ? (1 - u * u) * (1 - u * u) : 0;
      cost_ += std::pow(std::min(off[i], kCut * excess_), 2);
    }
  }
}

double Harmonics::Sigma(double turn) const {
  const Eigen::VectorXd row = Row(turn);
  return excess_ * std::sqrt(std::max(0.0, row.dot(covariance_ * row)));
}

Harmonics BestHarmonics(std::vector<HarmonicSample>& samples, std::span<const int> orders) {
  std::vector<Harmonics> fits;
  for (int order : orders) fits.emplace_back(samples, order);
  // What the greatest order leaves is the scatter of single values.
  const double unit = std::pow(fits.back().excess(), 2);
  std::size_t best = 0;
  double least = 1e300;
  for (std::size_t k = 0; k < fits.size(); ++k) {
    const double score = fits[k].cost() / unit +
                         (2 * fits[k].order() + 1) * std::log(static_cast<double>(samples.size()));
    if (score < least) least = score, best = k;
  }
  return Harmonics(samples, fits[best].order());
}

}  // namespace cutface
