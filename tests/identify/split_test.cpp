// Lumens that touch in the picture: parted along a septum that shows, kept together without one.
#include "identify/split.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

using testing::ElementsAre;

constexpr double kLeastContrast = 0.12;

// Two discs whose septum, at x = 60, is so thin that blur leaves a ridge of `contrast` of it:
// ratio 1 in a lumen, 0 in the body, 1 - contrast on the ridge.
struct Pair {
  cv::Mat1f ratio = cv::Mat1f(100, 120, 0.0f);
  cv::Mat1b region = cv::Mat1b(100, 120, uchar{0});
  cv::Mat1s nominal = cv::Mat1s(100, 120, short{0});
};

Pair TwoDiscs(double contrast, int breach_from = 0, int breach_to = 0) {
  Pair pair;
  const cv::Point left(38, 50), right(82, 50);
  for (int y = 0; y < 100; ++y) {
    for (int x = 0; x < 120; ++x) {
      const double a = std::hypot(x - left.x, y - left.y), b = std::hypot(x - right.x, y - right.y);
      const bool inside = (x < 60 ? a : b) < 28;
      if (!inside) continue;
      pair.region(y, x) = 255;
      const bool breach = y >= breach_from && y < breach_to;
      const double ridge = breach ? 0 : contrast * std::exp(-0.5 * std::pow((x - 60) / 1.5, 2));
      pair.ratio(y, x) = static_cast<float>(1 - ridge);
      if (x != 60) pair.nominal(y, x) = x < 60 ? 1 : 2;
    }
  }
  return pair;
}

struct Grouped {
  std::vector<std::vector<int>> groups;
  cv::Mat1s owner;
  std::vector<double> contrast;
};

Grouped Group(const Pair& pair, double least = kLeastContrast) {
  Grouped g;
  g.groups =
      GroupByRidge(pair.ratio, pair.region, pair.nominal, {0, 1}, least, g.owner, g.contrast);
  return g;
}

TEST(GroupByRidge, PartsTwoLumensAtAThinSeptum) {
  for (const double contrast : {0.5, 0.3, 0.2}) {
    const Grouped g = Group(TwoDiscs(contrast));
    ASSERT_THAT(g.groups, ElementsAre(ElementsAre(0), ElementsAre(1))) << contrast;
    // Known to a step of the levels that are tried.
    for (const double found : g.contrast) EXPECT_NEAR(found, contrast, 0.06);
  }
}

TEST(GroupByRidge, TheBorderLiesOnTheRidgeAndEachPixelOfTheRegionHasAnOwner) {
  const Pair pair = TwoDiscs(0.4);
  const Grouped g = Group(pair);
  ASSERT_EQ(g.groups.size(), 2u);
  for (int y = 0; y < 100; ++y) {
    for (int x = 0; x < 120; ++x) {
      if (!pair.region(y, x)) {
        EXPECT_EQ(g.owner(y, x), -1);
      } else if (std::abs(x - 60) > 1) {
        EXPECT_EQ(g.owner(y, x), x < 60 ? 0 : 1) << x << ", " << y;
      } else {
        EXPECT_GE(g.owner(y, x), 0);
      }
    }
  }
}

TEST(GroupByRidge, ABrokenSeptumLeavesOneMergedLumen) {
  const Grouped g = Group(TwoDiscs(0.5, 46, 54));
  EXPECT_THAT(g.groups, ElementsAre(ElementsAre(0, 1)));
  EXPECT_THAT(g.contrast, ElementsAre(0));
}

TEST(GroupByRidge, ARidgeBelowTheNoiseIsNoSeptum) {
  EXPECT_EQ(Group(TwoDiscs(0.1)).groups.size(), 1u);
  EXPECT_EQ(Group(TwoDiscs(0.0)).groups.size(), 1u);
  EXPECT_EQ(Group(TwoDiscs(0.3), 0.5).groups.size(), 1u);
}

TEST(GroupByRidge, MergedLumensOwnTheWholeRegion) {
  const Pair pair = TwoDiscs(0.0);
  const Grouped g = Group(pair);
  for (int y = 0; y < 100; ++y) {
    for (int x = 0; x < 120; ++x) EXPECT_EQ(g.owner(y, x), pair.region(y, x) ? 0 : -1);
  }
}

void AddNoise(cv::Mat1f& picture, double noise) {
  Random random(11);
  for (float& v : picture) v += static_cast<float>(noise * random.Normal());
}

Grouped GroupByLines(const Pair& pair, double noise) {
  Grouped g;
  double least = 1;
  const cv::Mat1f lines =
      SeptumLines(pair.ratio, pair.region, pair.nominal, {0, 1}, 10, noise, least);
  g.groups = GroupByRidge(lines, pair.region, pair.nominal, {0, 1}, std::max(0.04, least), g.owner,
                          g.contrast);
  return g;
}

TEST(SeptumLines, ShowASeptumThatHidesInNoise) {
  Pair pair = TwoDiscs(0.2);
  AddNoise(pair.ratio, 0.07);
  ASSERT_THAT(Group(pair, 3.5 * 0.07).groups, ElementsAre(ElementsAre(0, 1)));
  const Grouped g = GroupByLines(pair, 0.07);
  ASSERT_THAT(g.groups, ElementsAre(ElementsAre(0), ElementsAre(1)));
  EXPECT_FALSE(HasBreach(pair.ratio, g.owner, 0.07));
}

TEST(SeptumLines, ShowNoneInNoiseAlone) {
  Pair pair = TwoDiscs(0);
  AddNoise(pair.ratio, 0.06);
  const Grouped g = GroupByLines(pair, 0.06);
  EXPECT_TRUE(g.groups.size() == 1 || HasBreach(pair.ratio, g.owner, 0.06));
}

TEST(SeptumLines, DoNotBridgeABreachOfNinePixels) {
  Pair pair = TwoDiscs(0.4, 46, 55);
  AddNoise(pair.ratio, 0.03);
  const Grouped g = GroupByLines(pair, 0.03);
  EXPECT_TRUE(g.groups.size() == 1 || HasBreach(pair.ratio, g.owner, 0.03));
}

// Two discs 14 px apart with a channel between them that blur has made half as deep as a lumen.
Pair WithChannel(double depth) {
  Pair pair;
  for (int y = 0; y < 100; ++y) {
    for (int x = 0; x < 120; ++x) {
      const bool left = std::hypot(x - 30, y - 50) < 23, right = std::hypot(x - 90, y - 50) < 23;
      if (left) pair.nominal(y, x) = 1;
      if (right) pair.nominal(y, x) = 2;
      const double across = (y - 50) / 1.8;
      const double channel = x > 30 && x < 90 ? depth * std::exp(-0.5 * across * across) : 0;
      pair.ratio(y, x) = static_cast<float>(left || right ? 1 : channel);
      pair.region(y, x) = pair.ratio(y, x) > 0.5f ? 255 : 0;
    }
  }
  return pair;
}

TEST(JoinChannels, JoinsLumensThroughAPaleNarrowChannel) {
  const Pair pair = WithChannel(0.7);
  Grouped g = Group(pair);
  ASSERT_EQ(g.groups.size(), 2u);
  const std::vector<bool> joined = JoinChannels(pair.ratio, g.owner, g.groups, g.contrast);
  EXPECT_THAT(g.groups, ElementsAre(ElementsAre(0, 1)));
  EXPECT_THAT(joined, ElementsAre(true));
}

TEST(JoinChannels, LeavesAThinSeptum) {
  const Pair pair = TwoDiscs(0.3);
  Grouped g = Group(pair);
  JoinChannels(pair.ratio, g.owner, g.groups, g.contrast);
  EXPECT_THAT(g.groups, ElementsAre(ElementsAre(0), ElementsAre(1)));
}

}  // namespace
}  // namespace cutface
