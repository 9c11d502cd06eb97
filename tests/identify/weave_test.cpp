// Hands of a braid that cross at the cut: which wire is of which is then told from the weave that
// braids of so many carriers usually have, and said not to be known.
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/stats.h"
#include "identify/wire_weave.h"

namespace cutface {
namespace {

// Pairs of wires at the same clock, one over and one under: nothing says whose is which.
WeaveFit Crossing(int groups) {
  constexpr double kRadius = 200, kRise = 5;
  Random random(11);
  std::vector<double> angles, heights, odd;
  for (int k = 0; k < groups; ++k) {
    for (const double side : {1.0, -1.0}) {
      angles.push_back(0.1 + 2 * M_PI * k / groups + 0.002 * random.Normal());
      heights.push_back(kRadius + side * kRise + 0.3 * random.Normal());
      odd.push_back(0);
    }
  }
  WeavePlan plan;
  plan.radius = kRadius;
  plan.rise = kRise;
  plan.combs.families = 2;
  plan.combs.groups = groups;
  plan.combs.scatter_rad = 0.0175;
  plan.combs.gate_rad = 0.42 * 2 * M_PI / groups;
  return FitWeave(angles, heights, odd, plan);
}

// Whether the wire on top is of the same hand in every group (+1), by turns (-1) or neither (0).
int OnTop(const WeaveFit& fit, int groups) {
  std::vector<int> hand(static_cast<std::size_t>(groups), -1);
  for (const CombSlot& slot : fit.combs.slots) {
    if (slot.wire >= 0 && slot.wire % 2 == 0)
      hand[static_cast<std::size_t>(slot.wire / 2)] = slot.family;
  }
  int same = 0, other = 0;
  for (int k = 0; k < groups; ++k) {
    const int next = hand[static_cast<std::size_t>((k + 1) % groups)];
    (hand[static_cast<std::size_t>(k)] == next ? same : other)++;
  }
  return same == groups ? 1 : other == groups ? -1 : 0;
}

// One over two: a strand that goes over at one crossing of the round goes under at the next but
// one, so that the hands change places from crossing to crossing. One over one: they do not.
TEST(Weave, WhereTheHandsCrossTheUsualWeaveDecidesAndProvesNothing) {
  for (const int groups : {8, 12, 16}) {
    const WeaveFit fit = Crossing(groups);
    EXPECT_EQ(OnTop(fit, groups), -1) << groups;
    EXPECT_TRUE(fit.combs.crossed) << groups;
  }
  const WeaveFit half = Crossing(4);
  EXPECT_EQ(OnTop(half, 4), 1);
  EXPECT_TRUE(half.combs.crossed);
}

}  // namespace
}  // namespace cutface
