// Statistics and repeatable random numbers.
// Keywords: normal, quantile, binomial interval, Clopper-Pearson, random, seed.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

namespace cutface {

double NormalCdf(double z);
double NormalQuantile(double p);                           // REQUIRES: 0 < p < 1
double Mean(std::span<const double> values);               // REQUIRES: not empty
double StandardDeviation(std::span<const double> values);  // n - 1. REQUIRES: 2 values or more
// Linear interpolation between order statistics (the usual "type 7"). REQUIRES: not empty.
double Quantile(std::vector<double> values, double p);
double Median(std::vector<double> values);  // REQUIRES: not empty
// Median absolute deviation scaled to the standard deviation of a normal sample (1.4826).
double RobustSigma(std::vector<double> values);
// Clopper-Pearson interval of a share, `hits` of `trials` (Biometrika 26, 1934); each tail holds at
// most half of 1 - confidence. No trials tell nothing: 0 to 1. REQUIRES: 0 <= hits <= trials,
// 0 < confidence < 1.
std::pair<double, double> BinomialInterval(std::int64_t hits, std::int64_t trials,
                                           double confidence = 0.95);

// xoshiro256** (Blackman & Vigna 2018) with splitmix64 seeding: the same numbers on every machine
// and compiler, unlike the distributions of the standard library.
class Random {
 public:
  explicit Random(std::uint64_t seed);
  // The generator in a given state, not all zero: for published test vectors.
  static Random FromState(const std::array<std::uint64_t, 4>& state);
  std::uint64_t Next();
  double Uniform();                               // [0, 1)
  double Uniform(double least, double greatest);  // [least, greatest)
  double Normal();                                // mean 0, standard deviation 1 (Box-Muller)
  int Integer(int least, int greatest);           // both ends included, unbiased
  bool Chance(double probability);
  double ChiSquared(double degrees_of_freedom);  // Marsaglia & Tsang (2000). REQUIRES: > 0
  std::int64_t Poisson(double mean);  // normal approximation above 50. REQUIRES: mean >= 0

 private:
  std::uint64_t state_[4];
  double spare_ = 0;
  bool has_spare_ = false;
};

}  // namespace cutface
