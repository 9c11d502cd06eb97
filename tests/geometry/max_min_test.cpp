#include "geometry/max_min.h"

#include <gtest/gtest.h>

#include <vector>

#include "cutface/stats.h"

namespace cutface {
namespace {

// Property: the value is attained where it says, inside the square, and no sampled place is higher.
TEST(MaximiseLeast, IsAttainedAndNotBeatenBySampling) {
  for (std::uint64_t seed = 1; seed <= 400; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    std::vector<LinearBound<FrameUm>> bounds;
    for (int i = random.Integer(1, 30); i > 0; --i) {
      const double a = random.Uniform(0, 6.28), steep = seed % 2 ? 1 : random.Uniform(0, 2);
      bounds.push_back({random.Uniform(1, 2), {steep * std::cos(a), steep * std::sin(a)}});
    }
    const double half = random.Uniform(0.1, 2);
    const auto value = [&](PointUm p) {
      double least = 1e300;
      for (const auto& k : bounds) least = std::min(least, k.at_centre + Dot(k.gradient, p));
      return least;
    };
    const auto found = MaximiseLeast<FrameUm>(bounds, half);
    EXPECT_LE(std::max(std::abs(found.at.x), std::abs(found.at.y)), half * (1 + 1e-12));
    EXPECT_NEAR(value(found.at), found.value, 1e-10);
    for (int i = 0; i < 500; ++i) {
      const PointUm p{random.Uniform(-half, half), random.Uniform(-half, half)};
      ASSERT_LE(value(p), found.value + 1e-12);
    }
  }
}

TEST(MaximiseLeast, OfTwoOpposedSlopesIsTheirCrossing) {
  const std::vector<LinearBound<FrameUm>> bounds = {{3, {1, 0}}, {5, {-1, 0}}};
  const auto found = MaximiseLeast<FrameUm>(bounds, 10);
  EXPECT_NEAR(found.value, 4, 1e-14);
  EXPECT_NEAR(found.at.x, 1, 1e-14);
  EXPECT_NEAR(MaximiseLeast<FrameUm>(bounds, 0.25).value, 3.25, 1e-14);
}

}  // namespace
}  // namespace cutface
