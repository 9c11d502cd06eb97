// The warm-started solvers of the draws against the room geometry's, which start from nothing.
#include "measure/extremes.h"

#include <gtest/gtest.h>

#include "measure/draws.h"
#include "measure/faces.h"
#include "measure/gap.h"

namespace cutface::measure {
namespace {

// A blob with seeded lobes and a little ripple.
ContourUm Blob(std::uint64_t seed, int count) {
  Random random(seed);
  double amplitude[5], phase[5];
  for (int k = 0; k < 5; ++k) {
    amplitude[k] = random.Uniform(0, 40.0 / (k + 1));
    phase[k] = random.Uniform(0, 2 * kPi);
  }
  ContourUm points;
  for (int i = 0; i < count; ++i) {
    const double t = 2 * kPi * i / count;
    double r = 400 + 0.05 * random.Normal();
    for (int k = 0; k < 5; ++k) r += amplitude[k] * std::cos((k + 2) * t + phase[k]);
    points.push_back(r * PointUm{std::cos(t), std::sin(t)});
  }
  return points;
}

TEST(Extremes, OrderedHullAndWidthsAgreeWithGeometry) {
  for (std::uint64_t seed = 1; seed <= 100; ++seed) {
    const ContourUm blob = Blob(seed, 500);
    ContourUm hull;
    OrderedHull(blob, hull);
    EXPECT_EQ(hull.size(), ConvexHull<FrameUm>(blob).size()) << "seed " << seed;
    const WidthPair fast = HullWidths(hull);
    const Widths<FrameUm> slow = WidthExtremes<FrameUm>(blob);
    EXPECT_NEAR(fast.least, slow.least, 1e-9) << "seed " << seed;
    EXPECT_NEAR(fast.greatest, slow.greatest, 1e-9) << "seed " << seed;
  }
}

TEST(Extremes, HullOfContourThatStartsOnAStraightEdgeKeepsItsCorners) {
  const ContourUm box = faces::RectanglePoints({0, 0}, 400, 200, 10);
  ContourUm hull;
  OrderedHull(box, hull);
  const WidthPair widths = HullWidths(hull);
  EXPECT_NEAR(widths.least, 200, 1e-9);
  EXPECT_NEAR(widths.greatest, std::hypot(400, 200), 1e-9);
}

TEST(Extremes, ZoneAgreesWithGeometry) {
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    const ContourUm blob = Blob(seed, 400);
    const auto slow = MinimumZone<FrameUm>(blob);
    ASSERT_TRUE(slow.has_value());
    Contacts contacts;
    EXPECT_NEAR(FitZone(blob, Centroid<FrameUm>(blob), Effort{}, contacts).width, slow->Width(),
                1e-4)
        << "seed " << seed;
    // From a near centre two relinearisations do.
    const PointUm near = slow->centre + PointUm{0.7, -0.5};
    EXPECT_NEAR(FitZone(blob, near, Effort{2, 1e-3}, contacts).width, slow->Width(), 0.01)
        << "seed " << seed;
  }
}

TEST(Extremes, EnclosingCircleAgreesWithGeometry) {
  for (std::uint64_t seed = 1; seed <= 100; ++seed) {
    const ContourUm blob = Blob(seed, 400);
    ContourUm hull;
    OrderedHull(blob, hull);
    const auto slow = EnclosingCircle<FrameUm>(blob);
    ASSERT_TRUE(slow.has_value());
    EXPECT_NEAR(FitEnclosing(hull, {1, 2}).radius, slow->radius, 1e-5) << "seed " << seed;
  }
}

TEST(Extremes, InscribedCircleClimbsToGeometrysFromNearby) {
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    const ContourUm blob = Blob(seed, 900);
    const auto slow = InscribedCircle<FrameUm>(blob, 1e-6);
    ASSERT_TRUE(slow.has_value());
    Contacts contacts;
    const auto fast =
        FitInscribed(blob, slow->centre + PointUm{0.7, -0.5}, Effort{2, 1e-3}, contacts);
    // Vertices instead of edges: 2.8 um apart at 400 um.
    EXPECT_NEAR(fast.radius, slow->radius, 0.02) << "seed " << seed;
  }
}

TEST(Extremes, ArcCircleDoesNotCareHowTheArcIsSampled) {
  // Twice as many vertices on one half.
  ContourUm uneven, even = faces::EllipsePoints({5, 7}, 420, 400, 2000);
  for (std::size_t i = 0; i < even.size(); ++i) {
    if (i < even.size() / 2 || i % 2 == 0) uneven.push_back(even[i]);
  }
  const Circle<FrameUm> start{{0, 0}, 380};
  const Circle<FrameUm> a = FitArcCircle(even, start, 50), b = FitArcCircle(uneven, start, 50);
  EXPECT_NEAR(a.radius, b.radius, 1e-3);
  EXPECT_NEAR(a.centre.x, b.centre.x, 1e-3);
  const auto fit = FitCircle<FrameUm>(even);
  ASSERT_TRUE(fit.has_value());
  EXPECT_NEAR(a.radius, fit->radius, 1e-3);
}

TEST(Gap, BlockSearchAgreesWithBruteForce) {
  int compared = 0;
  for (std::uint64_t seed = 1; seed <= 100; ++seed) {
    const ContourUm a = Blob(seed, 300);
    ContourUm b = Blob(seed + 1000, 500);
    for (PointUm& p : b) p = p + PointUm{1100, 150};
    const EdgeBlocks blocks_a(a), blocks_b(b);
    const GapPlace fast = FindGap(blocks_a, blocks_b, 1.0, 1e9);
    const auto slow = LeastDistance<FrameUm>(a, b, true);
    ASSERT_GT(slow.distance, 0) << "seed " << seed;
    EXPECT_NEAR(fast.distance, slow.distance, 1e-9) << "seed " << seed;
    EXPECT_FALSE(fast.near.empty());
    // No vertex within the margin is missed.
    std::size_t near = 0;
    for (const PointUm p : a) near += LeastDistance<FrameUm>(p, b).distance <= slow.distance + 1.0;
    for (const PointUm p : b) near += LeastDistance<FrameUm>(p, a).distance <= slow.distance + 1.0;
    EXPECT_EQ(fast.near.size(), near) << "seed " << seed;
    ++compared;
  }
  EXPECT_EQ(compared, 100);
}

TEST(Draws, BalancedNormalsAreExactlyStandard) {
  Random random(11);
  const auto columns = BalancedNormals(random, 10, 64);
  for (std::size_t c = 0; c < columns.size(); ++c) {
    EXPECT_NEAR(Mean(columns[c]), 0, 1e-12);
    EXPECT_NEAR(StandardDeviation(columns[c]), 1, 1e-12);
    for (std::size_t other = 0; other < c; ++other) {
      double product = 0;
      for (std::size_t d = 0; d < 64; ++d) product += columns[c][d] * columns[other][d];
      EXPECT_NEAR(product / 63, 0, 1e-10);
    }
  }
}

// Variance 1 everywhere and correlation exp(-(d / length)^2), across the seam too.
TEST(Draws, ArcProcessHasItsCorrelation) {
  std::vector<double> places;
  for (int i = 0; i < 300; ++i) places.push_back(10.0 * i);
  const ArcProcess process(places, 3000, 60);
  Random random(5);
  std::vector<double> z;
  double square = 0, at_30 = 0, at_60 = 0, seam = 0;
  constexpr int kTrials = 4000;
  for (int trial = 0; trial < kTrials; ++trial) {
    process.Draw(random, z);
    square += z[100] * z[100];
    at_30 += z[100] * z[103];
    at_60 += z[201] * z[207];
    seam += z[299] * z[2];
  }
  // Standard error of a correlation over 4000 trials: below 0.016; four of them.
  EXPECT_NEAR(square / kTrials, 1, 4 * 0.0224);
  EXPECT_NEAR(at_30 / kTrials, std::exp(-0.25), 0.065);
  EXPECT_NEAR(at_60 / kTrials, std::exp(-1.0), 0.065);
  EXPECT_NEAR(seam / kTrials, std::exp(-0.25), 0.065);
}

}  // namespace
}  // namespace cutface::measure
