// Holds this room against scipy: library_check.py computes the same quantiles and intervals.
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <limits>

#include "cutface/stats.h"

namespace cutface {
namespace {

TEST(Stats, AgreesWithScipy) {
  const std::string file = std::string(CUTFACE_BINARY_DIR) + "/stats_library_check.txt";
  {
    std::ofstream out(file);
    out.precision(std::numeric_limits<double>::max_digits10);
    for (double p = 1e-12; p < 1; p = p < 0.01 ? p * 7 : p + 0.013) {
      out << "normal_quantile " << p << ' ' << NormalQuantile(p) << '\n';
    }
    for (double z = -12; z < 9; z += 0.37) out << "normal_cdf " << z << ' ' << NormalCdf(z) << '\n';
    Random random(1);
    for (int i = 0; i < 300; ++i) {
      const int trials = random.Integer(1, i % 2 ? 40 : 100000);
      const int hits = random.Integer(0, trials);
      const double confidence = random.Uniform(0.5, 0.999);
      const auto [low, high] = BinomialInterval(hits, trials, confidence);
      out << "binomial " << hits << ' ' << trials << ' ' << confidence << ' ' << low << ' ' << high
          << '\n';
    }
    for (int i = 0; i < 100; ++i) {
      std::vector<double> values;
      for (int n = random.Integer(2, 30); n > 0; --n) values.push_back(random.Normal());
      const double p = random.Uniform();
      out << "sample " << p << ' ' << Quantile(values, p) << ' ' << Median(values) << ' '
          << Mean(values) << ' ' << StandardDeviation(values) << ' ' << RobustSigma(values);
      for (const double value : values) out << ' ' << value;
      out << '\n';
    }
    ASSERT_TRUE(out.flush());
  }
  const std::string command = std::string("/usr/bin/python3 ") + CUTFACE_SOURCE_DIR +
                              "/tests/stats/library_check.py " + file;
  EXPECT_EQ(std::system(command.c_str()), 0) << "what differs stands above";
}

}  // namespace
}  // namespace cutface
