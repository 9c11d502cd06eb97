#include <gtest/gtest.h>

#include "geometry/shapes.h"

namespace cutface {
namespace {

// Gap between circles: d - r1 - r2 (check-values 2.4, plane geometry). A 3600-corner polygon dips
// r (1 - cos(pi / 3600)) inside its circle, 1.6e-4 um each here.
TEST(LeastDistance, BetweenCirclesIsCentreDistanceMinusRadii) {
  constexpr double kPolygonSlackUm = 3.2e-4;
  const auto near = LeastDistance(RegularPolygon(3600, 400), RegularPolygon(3600, 400, {1000, 0}));
  EXPECT_NEAR(near.distance, 200.0, kPolygonSlackUm);
  EXPECT_NEAR(near.on_first.x, 400.0, kPolygonSlackUm);
  EXPECT_NEAR(near.on_second.x, 600.0, kPolygonSlackUm);
}

// Gap of a round lumen to the outer circle: R - e - r (check-values 2.4).
TEST(LeastDistance, FromACircleInsideAnotherIsTheThinnestWall) {
  const auto near = LeastDistance(RegularPolygon(3600, 300, {100, 50}), RegularPolygon(3600, 1000));
  EXPECT_NEAR(near.distance, 1000 - std::hypot(100.0, 50.0) - 300, 1e-3);
}

// Two equal D-lumens on either side of a septum of a circle: 2 rho - 2 h (check-values 2.4).
TEST(LeastDistance, BetweenTwoHalvesOfARoundBoreIsTheSeptum) {
  const double rho = 500, h = 450;
  ContourUm upper = CircularSegment(rho, h, 900), lower = upper;
  for (PointUm& p : upper) p.y += rho - h;
  for (PointUm& p : lower) p.y = -(p.y + rho - h);
  EXPECT_NEAR(LeastDistance(upper, lower).distance, 2 * rho - 2 * h, 1e-9);
}

TEST(LeastDistance, OfTouchingAndCrossingContoursIsZeroWithACommonPoint) {
  const ContourUm square = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
  const ContourUm crossing = {{5, 5}, {15, 5}, {15, 7}, {5, 7}};
  const auto crossed = LeastDistance(square, crossing);
  EXPECT_EQ(crossed.distance, 0);
  EXPECT_EQ(crossed.on_first, (PointUm{10, 5}));
  EXPECT_EQ(crossed.on_second, crossed.on_first);
  const ContourUm touching = {{10, 2}, {20, 0}, {20, 4}};
  EXPECT_EQ(LeastDistance(square, touching).distance, 0);
  EXPECT_EQ(LeastDistance(square, touching).on_first, (PointUm{10, 2}));
}

TEST(LeastDistance, WorksOnSinglePointsAndTwoPoints) {
  const ContourUm point = {{3, 4}}, line = {{-5, 0}, {5, 0}};
  EXPECT_EQ(LeastDistance(point, line).distance, 4);
  EXPECT_EQ(LeastDistance(point, point).distance, 0);
  EXPECT_EQ(LeastDistance(PointUm{0, 2}, line).on_second, (PointUm{0, 0}));
}

// Property: the trees may make the answer faster, never different, also with equal distances.
TEST(LeastDistance, FastWayAgreesWithBruteForceToTheLastDigit) {
  int apart = 0;
  for (std::uint64_t seed = 1; seed <= 150; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed * 977);
    const int n = random.Integer(1, 120), m = random.Integer(1, 120);
    const ContourUm a = RandomBlob(seed, n, 100, {}, random.Chance(0.3) ? 20 : 0);
    const PointUm shift{random.Uniform(-400, 400), random.Uniform(-400, 400)};
    ContourUm b = random.Chance(0.2) ? a : RandomBlob(seed + 1000, m, 100);
    for (PointUm& p : b) p = p + shift;
    const auto fast = LeastDistance(a, b);
    const auto slow = LeastDistance(View(a), View(b), /*brute_force=*/true);
    ASSERT_EQ(fast.distance, slow.distance);
    ASSERT_EQ(fast.edge_first, slow.edge_first);
    ASSERT_EQ(fast.edge_second, slow.edge_second);
    ASSERT_EQ(fast.on_first, slow.on_first);
    ASSERT_EQ(fast.on_second, slow.on_second);
    if (fast.distance > 0) ++apart;
  }
  EXPECT_GT(apart, 50);  // guards against a test in which everything crosses
}

TEST(LeastDistance, OfConcentricPolygonsPicksTheFirstOfManyEqualPairs) {
  const ContourUm inner = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
  const ContourUm outer = {{-2, -2}, {2, -2}, {2, 2}, {-2, 2}};
  const auto fast = LeastDistance(inner, outer);
  EXPECT_EQ(fast.distance, 1);
  EXPECT_EQ(fast.edge_first, 0u);
  EXPECT_EQ(fast.edge_second, 0u);
}

TEST(LeastDistance, SwappedArgumentsSwapThePointsOnly) {
  const ContourUm a = RandomBlob(7, 200, 100), b = RandomBlob(8, 150, 100, {500, 30});
  const auto ab = LeastDistance(a, b), ba = LeastDistance(b, a);
  EXPECT_EQ(ab.distance, ba.distance);
  EXPECT_EQ(ab.on_first, ba.on_second);
  EXPECT_EQ(ab.edge_first, ba.edge_second);
}

TEST(LeastDistanceNear, FindsTheSamePairAfterASmallMove) {
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    ContourUm a = RandomBlob(seed, 400, 100), b = RandomBlob(seed + 50, 300, 100, {450, 0});
    const auto hint = LeastDistance(a, b);
    for (PointUm& p : a) p = p + PointUm{0.05 * random.Normal(), 0.05 * random.Normal()};
    EXPECT_EQ(LeastDistanceNear(a, b, hint, 40).distance, LeastDistance(a, b).distance);
    // A window over everything is the full search.
    EXPECT_EQ(LeastDistanceNear(a, b, {}, 1000).distance, LeastDistance(a, b).distance);
  }
}

TEST(ContourIndex, AnswersAsTheLinearSearch) {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    const ContourUm contour =
        RandomBlob(seed, random.Integer(1, 300), 100, {}, seed % 3 == 1 ? 5 : 0);
    const ContourIndex<FrameUm> index{View(contour)};
    ContourUm points;
    for (int i = 0; i < 200; ++i) {
      points.push_back({random.Uniform(-200, 200), random.Uniform(-200, 200)});
    }
    const auto each = index.NearestToEach(points);
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto linear = LeastDistance(points[i], contour);
      const auto nearest = index.NearestTo(points[i], 1e9);
      ASSERT_TRUE(nearest);
      EXPECT_EQ(nearest->distance, linear.distance);
      EXPECT_EQ(nearest->on_second, linear.on_second);
      EXPECT_EQ(nearest->edge_second, linear.edge_second);
      EXPECT_EQ(nearest->on_first, points[i]);
      EXPECT_EQ(each[i].distance, linear.distance);
      EXPECT_EQ(each[i].edge_second, linear.edge_second);
      const bool inside = Contains(contour, points[i]);
      EXPECT_EQ(index.Holds(points[i]), inside);
      EXPECT_EQ(index.SignedDistance(points[i], 1e9), inside ? -linear.distance : linear.distance);
    }
  }
}

TEST(NearestToEachNear, FindsTheSamePlacesAfterASmallMove) {
  ContourUm inner = RegularPolygon(300, 400), outer = RegularPolygon(400, 500, {10, 5});
  const auto hints = ContourIndex<FrameUm>(View(outer)).NearestToEach(inner);
  Random random(5);
  for (ContourUm* contour : {&inner, &outer}) {
    for (PointUm& p : *contour) p = p + PointUm{0.3 * random.Normal(), 0.3 * random.Normal()};
  }
  const auto near = NearestToEachNear<FrameUm>(inner, outer, hints, 12);
  const auto all = NearestToEachNear<FrameUm>(inner, outer, hints, 1000);
  for (std::size_t i = 0; i < inner.size(); ++i) {
    EXPECT_EQ(near[i].distance, LeastDistance(inner[i], outer).distance);
    EXPECT_EQ(all[i].distance, near[i].distance);
    EXPECT_EQ(near[i].on_first, inner[i]);
  }
}

TEST(ContourIndex, BeyondTheLimitThereIsNoAnswer) {
  const ContourIndex<FrameUm> index{View(RegularPolygon(100, 10))};
  EXPECT_FALSE(index.NearestTo({20, 0}, 9.9));
  EXPECT_TRUE(index.NearestTo({20, 0}, 10.0));
  EXPECT_EQ(index.SignedDistance({50, 0}, 3), 3);
  EXPECT_EQ(index.SignedDistance({0, 0}, 3), -3);
}

// A contour as edges are settled: steps of about a pixel, rough by a twentieth of it; asked from
// the edge that is nearest to a place some pixels away. Roughness may hold a walk at a dent: no
// more than that is allowed.
TEST(ContourIndex, AWalkFromANearbyEdgeEndsAtTheNearestPlace) {
  constexpr double kRough = 0.05, kAllowed = 4 * kRough;
  Random random(8);
  ContourUm contour = RegularPolygon(400, 64);
  for (PointUm& p : contour) p = (1 + kRough / 64 * random.Normal()) * p;
  const ContourIndex<FrameUm> index{View(contour)};
  int same = 0;
  constexpr int kAsked = 500;
  for (int i = 0; i < kAsked; ++i) {
    const double turn = random.Uniform(0, 2 * M_PI), radius = random.Uniform(44, 84);
    const PointUm p{radius * std::cos(turn), radius * std::sin(turn)};
    const double beside = turn + random.Uniform(-0.2, 0.2);  // up to 13 px away
    std::size_t edge =
        index.NearestTo({64 * std::cos(beside), 64 * std::sin(beside)}, 1e9)->edge_second;
    const double walked = index.SignedDistanceFrom(p, edge), nearest = index.SignedDistance(p, 1e9);
    EXPECT_NEAR(walked, nearest, kAllowed);
    EXPECT_EQ(walked < 0, nearest < 0);
    same += walked == nearest ? 1 : 0;
    // From the nearest edge itself there is nothing left to walk.
    std::size_t there = index.NearestTo(p, 1e9)->edge_second;
    EXPECT_EQ(index.SignedDistanceFrom(p, there), nearest);
  }
  EXPECT_GT(same, kAsked * 8 / 10);
}

TEST(ContourIndex, LeastDistanceToIsLeastDistance) {
  const ContourUm a = RandomBlob(3, 200, 100), b = RandomBlob(4, 150, 100, {500, 30});
  const ContourIndex<FrameUm> ia{View(a)}, ib{View(b)};
  EXPECT_EQ(ia.LeastDistanceTo(ib).distance, LeastDistance(a, b).distance);
}

}  // namespace
}  // namespace cutface
