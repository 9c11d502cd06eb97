// Lines beside an edge: how sure they are around a contour, and what a narrow one leaves open.
#include "edge/line.h"

#include <gtest/gtest.h>

#include <cmath>

#include "edge/shape.h"

namespace cutface {
namespace {

// Every way to lay lines around the ring, weighed by the rule of line.h: a stretch of a line counts
// its evidence less what going on costs, where it begins its cost in place of that, and where the
// tone changes the smaller of both: that, or the squared change in parts of 0.15. One all around
// pays the least of the beginnings.
std::vector<double> AllWays(const std::vector<StretchEvidence>& stretches) {
  const std::size_t n = stretches.size();
  std::vector<double> sum(n, 0);
  double all = 0;
  for (unsigned way = 0; way < (1u << n); ++way) {
    double gain = 0;
    bool possible = true;
    for (std::size_t i = 0; i < n; ++i) {
      if ((way >> i & 1u) == 0) continue;
      const StretchEvidence& here = stretches[i];
      const std::size_t before = (i + n - 1) % n;
      const double begin = here.cost - here.stay;
      const double change = std::pow((here.tone - stretches[before].tone) / 0.15, 2);
      const bool begins = n == 1 || (way >> before & 1u) == 0;
      gain += here.evidence - here.stay - (begins ? begin : std::min(begin, change));
      possible = possible && here.possible;
    }
    if (!possible) continue;
    if (n > 1 && way + 1 == 1u << n) {
      double least = 1e300;
      for (const StretchEvidence& s : stretches) least = std::min(least, s.cost - s.stay);
      gain -= least;
    }
    const double weight = std::exp(0.5 * gain);
    all += weight;
    for (std::size_t i = 0; i < n; ++i) sum[i] += (way >> i & 1u) != 0 ? weight : 0;
  }
  for (double& s : sum) s /= all;
  return sum;
}

void ExpectChances(const std::vector<StretchEvidence>& stretches) {
  const std::vector<double> expected = AllWays(stretches), got = LineChances(stretches);
  ASSERT_EQ(got.size(), expected.size());
  for (std::size_t i = 0; i < got.size(); ++i) EXPECT_NEAR(got[i], expected[i], 1e-9) << i;
}

TEST(LineChances, AStretchByItselfWeighsBothStories) {
  EXPECT_NEAR(LineChances({{true, 7, 6, 2, 0.3}})[0], 1 / (1 + std::exp(-0.5)), 1e-12);
  EXPECT_EQ(LineChances({{}})[0], 0);
  EXPECT_TRUE(LineChances({}).empty());
}

TEST(LineChances, AgreeWithTheSumOverAllWaysAroundTheRing) {
  const auto at = [](double evidence, double cost, double tone) {
    return StretchEvidence{true, evidence, cost, 2, tone};
  };
  ExpectChances({at(3, 9, 0), at(5, 7, 0)});
  ExpectChances({at(5, 9, 0.2), at(6, 9, 0.3), at(4, 9, 0.2), at(1, 5, 0.9), {}});
  ExpectChances({at(5, 9, -0.2), at(6, 9, 0.3), at(0.5, 9, 0), at(7, 12, 0.1), at(4, 6, 0)});
  ExpectChances({{}, at(40, 9, 0), at(-3, 9, 0), at(40, 9, 0.1), at(2.5, 5, 0.5)});
}

// What no stretch could tell by itself.
TEST(LineChances, ALineThatRunsOnIsToldByAllOfIt) {
  const std::vector<StretchEvidence> faint(6, {true, 6, 9, 2, 0.3});
  EXPECT_LT(LineChances({faint[0], {}, {}})[0], 0.2);
  for (const double chance : LineChances(faint)) EXPECT_GT(chance, 0.85);
}

// Noiseless profile of a dark line of this width just outside an edge at 0, as of bins of 0.01.
LinearProfile Gap(const EdgeShape& shape, double width, double level) {
  constexpr double kSigma = 0.01;
  ArcFit truth;
  truth.v = 0.5;
  truth.p = 1;
  truth.line = level - truth.v;
  truth.line_width = width;
  LinearProfile profile;
  for (double s = -9; s < 10; s += 0.25) {
    profile.s.push_back(s);
    profile.y.push_back(truth.Linear(shape, s));
    profile.w.push_back(1 / (kSigma * kSigma));
    profile.square += profile.w.back() * profile.y.back() * profile.y.back();
  }
  return profile;
}

TEST(OverWidths, ANarrowLineLeavesItsWidthOpenAndSaysSo) {
  const EdgeShape shape({RimKind::kStep, 3, 0.3, 1.5});
  for (const double width : {0.8, 1.2, 1.8}) {
    const LinearProfile profile = Gap(shape, width, 0.1);
    const ArcFit found = FitArcWithLine(profile, shape, 0);
    const LineSpread spread = OverWidths(profile, shape, found, false);
    EXPECT_GT(spread.u_px, 0.05) << width;
    EXPECT_LT(std::abs(spread.fit.x0), 2 * spread.u_px) << width;
  }
}

TEST(OverWidths, AWideLineTellsItsWidth) {
  const EdgeShape shape({RimKind::kStep, 3, 0.3, 1.0});
  const LinearProfile profile = Gap(shape, 5.6, 0.1);
  const LineSpread spread = OverWidths(profile, shape, FitArcWithLine(profile, shape, 0), false);
  EXPECT_LT(spread.u_px, 0.05);
  EXPECT_NEAR(spread.fit.x0, 0, 0.05);
}

}  // namespace
}  // namespace cutface
