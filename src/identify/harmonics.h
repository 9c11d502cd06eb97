// A periodic line through scattered, uneven and partly wrong values: low harmonics, weighted and
// robust (Tukey's biweight), held where nothing was seen by a weak belief that high harmonics are
// small. Keywords: Fourier series, robust fit, bridging.
#pragma once

#include <Eigen/Dense>
#include <span>
#include <vector>

namespace cutface {

struct HarmonicSample {
  double turn = 0;  // place, in turns: 0..1
  double value = 0;
  double sigma = 1;   // standard uncertainty as stated
  double weight = 1;  // set by the fit: 0 = not believed
};

class Harmonics {
 public:
  Harmonics() = default;
  // REQUIRES: samples not empty. Fills the samples' weights.
  Harmonics(std::vector<HarmonicSample>& samples, int order);

  bool known() const { return order_ >= 0; }
  int order() const { return order_; }
  double At(double turn) const { return Row(turn).dot(value_); }
  // Standard uncertainty of the line there, from the samples' own scatter where that is greater.
  double Sigma(double turn) const;
  double excess() const { return excess_; }  // scatter / stated, never below 1
  double cost() const { return cost_; }      // robust sum of squares over stated variance

 private:
  Eigen::VectorXd Row(double turn) const;
  int order_ = -1;
  Eigen::VectorXd value_;
  Eigen::MatrixXd covariance_;
  double excess_ = 1, cost_ = 0;
};

// The order with the least Bayesian information criterion (Schwarz 1978).
Harmonics BestHarmonics(std::vector<HarmonicSample>& samples, std::span<const int> orders);

}  // namespace cutface
