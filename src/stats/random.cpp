// xoshiro256** 1.0 and splitmix64 after Blackman & Vigna, "Scrambled linear pseudorandom number
// generators" (ACM TOMS 47, 2021); written from the description of the algorithm.
#include <bit>
#include <cmath>
#include <numbers>

#include "cutface/base.h"
#include "cutface/stats.h"

namespace cutface {
namespace {

std::uint64_t SplitMix(std::uint64_t& state) {
  state += 0x9e3779b97f4a7c15U;
  std::uint64_t z = state;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
  return z ^ (z >> 31);
}

// Above this mean the Poisson product method gets slow and the normal shape is good to 1 %.
constexpr double kPoissonProductLimit = 50.0;

}  // namespace

Random::Random(std::uint64_t seed) : state_{} {
  for (std::uint64_t& word : state_) word = SplitMix(seed);
}

Random Random::FromState(const std::array<std::uint64_t, 4>& state) {
  CF_CHECK((state[0] | state[1] | state[2] | state[3]) != 0);
  Random random(0);
  for (std::size_t i = 0; i < 4; ++i) random.state_[i] = state[i];
  return random;
}

std::uint64_t Random::Next() {
  const std::uint64_t result = std::rotl(state_[1] * 5, 7) * 9;
  const std::uint64_t shifted = state_[1] << 17;
  state_[2] ^= state_[0];
  state_[3] ^= state_[1];
  state_[1] ^= state_[2];
  state_[0] ^= state_[3];
  state_[2] ^= shifted;
  state_[3] = std::rotl(state_[3], 45);
  return result;
}

double Random::Uniform() { return static_cast<double>(Next() >> 11) * 0x1.0p-53; }

double Random::Uniform(double least, double greatest) {
  return least + (greatest - least) * Uniform();
}

double Random::Normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  // 1 - Uniform() lies in (0, 1], so the logarithm is finite.
  const double radius = std::sqrt(-2 * std::log(1 - Uniform()));
  const double angle = 2 * std::numbers::pi * Uniform();
  spare_ = radius * std::sin(angle);
  has_spare_ = true;
  return radius * std::cos(angle);
}

int Random::Integer(int least, int greatest) {
  CF_CHECK(least <= greatest);
  const auto range = static_cast<std::uint64_t>(static_cast<std::int64_t>(greatest) - least) + 1;
  // Numbers beyond the last whole multiple of the range would favour small results.
  const std::uint64_t excess = (0 - range) % range;  // 2^64 mod range
  std::uint64_t drawn = Next();
  while (drawn < excess) drawn = Next();
  return static_cast<int>(least + static_cast<std::int64_t>(drawn % range));
}

bool Random::Chance(double probability) { return Uniform() < probability; }

double Random::ChiSquared(double degrees_of_freedom) {
  CF_CHECK(degrees_of_freedom > 0);
  // Marsaglia & Tsang, "A simple method for generating gamma variables" (ACM TOMS 26, 2000): shape
  // half of the degrees of freedom, below 1 drawn one above and taken down by a power.
  const double shape = degrees_of_freedom / 2;
  const double small = shape < 1 ? std::pow(1 - Uniform(), 1 / shape) : 1;
  const double d = (shape < 1 ? shape + 1 : shape) - 1.0 / 3;
  const double c = 1 / std::sqrt(9 * d);
  for (;;) {
    const double z = Normal();
    const double root = 1 + c * z;
    if (root <= 0) continue;
    const double v = root * root * root;
    if (std::log(1 - Uniform()) < 0.5 * z * z + d - d * v + d * std::log(v))
      return 2 * d * v * small;
  }
}

std::int64_t Random::Poisson(double mean) {
  CF_CHECK(mean >= 0);
  if (mean > kPoissonProductLimit) {
    const double drawn = std::floor(mean + std::sqrt(mean) * Normal() + 0.5);
    return drawn < 0 ? 0 : static_cast<std::int64_t>(drawn);
  }
  const double end = std::exp(-mean);
  std::int64_t count = 0;
  double product = Uniform();
  while (product > end) {
    product *= Uniform();
    ++count;
  }
  return count;
}

}  // namespace cutface
