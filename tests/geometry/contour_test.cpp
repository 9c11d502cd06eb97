#include <gtest/gtest.h>

#include <algorithm>

#include "geometry/shapes.h"

namespace cutface {
namespace {

const ContourUm kSquare = {{0, 0}, {2, 0}, {2, 2}, {0, 2}};

TEST(Contour, SignedAreaIsPositiveWhenItTurnsFromXTowardsY) {
  EXPECT_EQ(SignedArea(kSquare), 4);
  EXPECT_EQ(SignedArea(ContourUm(kSquare.rbegin(), kSquare.rend())), -4);
  EXPECT_EQ(Area(ContourUm(kSquare.rbegin(), kSquare.rend())), 4);
}

TEST(Contour, DegenerateShapesHaveTheValuesTheyDegenerateTo) {
  const ContourUm empty, point = {{3, 4}}, line = {{0, 0}, {6, 8}};
  const ContourUm flat = {{0, 0}, {6, 8}, {3, 4}};
  const ContourUm repeated = {{1, 1}, {1, 1}, {1, 1}};
  EXPECT_EQ(Area(empty), 0);
  EXPECT_EQ(Area(line), 0);
  EXPECT_EQ(Perimeter(empty), 0);
  EXPECT_EQ(Perimeter(point), 0);
  EXPECT_EQ(Perimeter(line), 20);
  EXPECT_EQ(Centroid(point), (PointUm{3, 4}));
  EXPECT_EQ(Centroid(line), (PointUm{3, 4}));
  EXPECT_EQ(Centroid(flat), (PointUm{3, 4}));
  EXPECT_EQ(Centroid(repeated), (PointUm{1, 1}));
  EXPECT_FALSE(Contains(empty, {0, 0}));
  EXPECT_FALSE(Contains(line, {3, 4.5}));
  EXPECT_EQ(MomentEllipse(line).semi_major, 0);
  EXPECT_EQ(WidthExtremes(point).greatest, 0);
  EXPECT_EQ(WidthExtremes(line).greatest, 10);
  EXPECT_EQ(WidthExtremes(flat).least, 0);
  EXPECT_EQ(WidthExtremes(flat).greatest, 10);
  EXPECT_EQ(ConvexHull(repeated).size(), 1u);
  EXPECT_EQ(OutwardNormals(repeated)[0], (PointUm{0, 0}));
  EXPECT_EQ(Resampled(repeated, 1).size(), 3u);
}

// Areas and perimeters of circular segments, rho = 1 (check-values 2.2, closed forms). A chord of
// angle d misses d^3 / 12 of area and d^3 / 24 of length.
TEST(Contour, AreaAndPerimeterOfCircularSegmentsMatchTheClosedForms) {
  struct Row {
    double h, area, perimeter;
  };
  for (const Row& row :
       {Row{0.25, 0.2266558770, 2.7683441512}, Row{0.5, 0.6141848493, 3.8264459100},
        Row{0.75, 1.0760546125, 4.5727238164}, Row{1.0, 1.5707963268, 5.1415926536}}) {
    const ContourUm segment = CircularSegment(1, row.h, 20000);
    EXPECT_NEAR(Area(segment), row.area, 2e-8) << "h " << row.h;
    EXPECT_NEAR(Perimeter(segment), row.perimeter, 2e-8) << "h " << row.h;
  }
}

TEST(Contour, CentroidOfAHalfDiscIsFourThirdsPiAboveTheFlat) {
  const PointUm centroid = Centroid(CircularSegment(1, 1, 20000));
  EXPECT_NEAR(centroid.x, 0, 1e-12);
  EXPECT_NEAR(centroid.y, 4 / (3 * kPi), 1e-8);
}

// Far from the origin digits are lost only to the coordinates themselves.
TEST(Contour, AreaAndCentroidDoNotSufferFromADistantOrigin) {
  ContourUm shifted = RandomBlob(5, 500, 10);
  const double area = Area(shifted);
  const PointUm centroid = Centroid(shifted);
  for (PointUm& p : shifted) p = p + PointUm{1e6, -2e6};
  EXPECT_NEAR(Area(shifted), area, 1e-6);
  EXPECT_NEAR(Centroid(shifted).x - 1e6, centroid.x, 1e-7);
  EXPECT_NEAR(Centroid(shifted).y + 2e6, centroid.y, 1e-7);
}

TEST(Contour, ContainsIsEvenOddAndCountsAVertexOnTheRayOnce) {
  const ContourUm diamond = {{1, 0}, {2, 1}, {1, 2}, {0, 1}};
  EXPECT_TRUE(Contains(diamond, {1, 1}));    // the ray passes through a vertex
  EXPECT_FALSE(Contains(diamond, {-1, 1}));  // through two
  EXPECT_FALSE(Contains(diamond, {-1, 0}));  // touches one
  const ContourUm bow = {{0, 0}, {4, 4}, {4, 0}, {0, 4}};
  EXPECT_TRUE(Contains(bow, {3.5, 2}));
  EXPECT_FALSE(Contains(bow, {2, 3.5}));
}

TEST(Contour, BoundingBoxHoldsAllVerticesTightly) {
  const auto box = BoundingBox(ContourUm{{1, 5}, {-2, 7}, {4, 6}});
  EXPECT_EQ(box.least, (PointUm{-2, 5}));
  EXPECT_EQ(box.greatest, (PointUm{4, 7}));
}

TEST(Contour, ResampledHasEqualStepsAlongTheArcAndStartsAtVertexZero) {
  const ContourUm fine = Resampled(kSquare, 0.3);
  ASSERT_EQ(fine.size(), 27u);  // 8 / 27 = 0.2963 is the longest step below 0.3
  EXPECT_EQ(fine[0], kSquare[0]);
  for (const PointUm& p : fine) EXPECT_NEAR(LeastDistance(p, kSquare).distance, 0, 1e-15);
  const ContourUm even = Resampled(kSquare, 0.5);
  ASSERT_EQ(even.size(), 16u);
  for (std::size_t i = 0; i < even.size(); ++i) {
    EXPECT_NEAR(Distance(even[i], even[(i + 1) % even.size()]), 0.5, 1e-12);
  }
  EXPECT_EQ(Resampled(kSquare, 100).size(), 3u);
}

TEST(Contour, MomentEllipseOfAnEllipseIsThatEllipse) {
  const Ellipse<FrameUm> truth{{50, -20}, 30, 12, 0.7};
  const auto found = MomentEllipse(EllipsePolygon(5000, truth));
  EXPECT_NEAR(found.centre.x, 50, 1e-9);
  EXPECT_NEAR(found.centre.y, -20, 1e-9);
  EXPECT_NEAR(found.semi_major, 30, 1e-4);
  EXPECT_NEAR(found.semi_minor, 12, 1e-4);
  EXPECT_NEAR(found.angle, 0.7, 1e-9);
}

// Rectangle a x b: axes in the ratio a : b and the rectangle's area.
TEST(Contour, MomentEllipseOfARectangleKeepsAreaAndRatio) {
  const auto found = MomentEllipse(ContourUm{{0, 0}, {6, 0}, {6, 2}, {0, 2}});
  EXPECT_NEAR(kPi * found.semi_major * found.semi_minor, 12, 1e-12);
  EXPECT_NEAR(found.semi_major / found.semi_minor, 3, 1e-12);
  EXPECT_EQ(found.centre, (PointUm{3, 1}));
  const auto upright = MomentEllipse(ContourUm{{0, 0}, {2, 0}, {2, 6}, {0, 6}});
  EXPECT_NEAR(upright.angle, kPi / 2, 1e-12);
}

TEST(Contour, OutwardNormalsOfACircleAreRadialAlsoWithUnevenSteps) {
  Random random(11);
  ContourUm circle;
  for (double angle = 0; angle < 2 * kPi - 0.05; angle += random.Uniform(0.005, 0.05)) {
    circle.push_back({100 * std::cos(angle), 100 * std::sin(angle)});
  }
  for (int turn = 0; turn < 2; ++turn) {
    const ContourUm normals = OutwardNormals(circle);
    for (std::size_t i = 0; i < circle.size(); ++i) {
      EXPECT_NEAR(Norm(normals[i] - 0.01 * circle[i]), 0, 1e-12);
    }
    std::reverse(circle.begin(), circle.end());
  }
}

TEST(Widths, OfARegularHexagonAreItsFlatsAndItsCorners) {
  const auto widths = WidthExtremes(RegularPolygon(6, 1));
  EXPECT_NEAR(widths.least, std::sqrt(3.0), 1e-15);
  EXPECT_NEAR(widths.greatest, 2, 1e-15);
  EXPECT_NEAR(Distance(widths.least_at.a, widths.least_at.b), widths.least, 1e-15);
  EXPECT_NEAR(Distance(widths.greatest_at.a, widths.greatest_at.b), widths.greatest, 1e-15);
}

// A shape of constant width (rounded triangle) has equal widths: two-point ovality misses its lobes
// (check-values 1.7, sampling trap).
TEST(Widths, OfAShapeOfConstantWidthAreEqual) {
  ContourUm reuleaux;
  for (int corner = 0; corner < 3; ++corner) {
    const double to_corner = 2 * kPi * corner / 3;
    const PointUm centre{std::cos(to_corner) / std::sqrt(3.0),
                         std::sin(to_corner) / std::sqrt(3.0)};
    for (int i = 0; i < 3000; ++i) {
      const double angle = to_corner + kPi - kPi / 6 + kPi / 3 * i / 3000;
      reuleaux.push_back(centre + PointUm{std::cos(angle), std::sin(angle)});
    }
  }
  const auto widths = WidthExtremes(ConvexHull(reuleaux));
  EXPECT_NEAR(widths.least, 1, 1e-6);
  EXPECT_NEAR(widths.greatest, 1, 1e-6);
}

// Property: calipers against the extents over all directions that matter, on any points.
TEST(Widths, AgreeWithBruteForceOnRandomPoints) {
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    ContourUm points = seed % 2 ? RandomPoints(seed, random.Integer(3, 40), 100)
                                : RandomBlob(seed, random.Integer(3, 60), 50, {}, 3);
    if (seed % 5 == 0) {  // a coarse grid: many collinear and repeated points
      for (PointUm& p : points) p = {std::round(p.x / 25), std::round(p.y / 25)};
    }
    double greatest = 0, least = 1e300;
    for (const PointUm& a : points) {
      for (const PointUm& b : points) {
        greatest = std::max(greatest, Distance(a, b));
        if (a == b) continue;
        const PointUm along = (1 / Distance(a, b)) * (b - a);
        double low = 1e300, high = -1e300;  // extent square to a-b; the least is square to an edge
        for (const PointUm& p : points) {
          low = std::min(low, Cross(along, p - a));
          high = std::max(high, Cross(along, p - a));
        }
        least = std::min(least, high - low);
      }
    }
    const auto widths = WidthExtremes(points);
    EXPECT_NEAR(widths.greatest, greatest, 1e-12 * greatest);
    EXPECT_NEAR(widths.least, least, 1e-10 * greatest);
  }
}

// Property: a convex polygon of given points that holds them all is the hull.
TEST(ConvexHull, IsConvexHoldsAllPointsAndConsistsOfThem) {
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    ContourUm points = RandomPoints(seed, random.Integer(3, 200), 100);
    if (seed % 4 == 0) {
      for (PointUm& p : points) p = {std::round(p.x / 20), std::round(p.y / 20)};
    }
    const ContourUm hull = ConvexHull(points);
    if (hull.size() < 3) continue;
    for (std::size_t i = 0; i < hull.size(); ++i) {
      const PointUm a = hull[i], b = hull[(i + 1) % hull.size()];
      EXPECT_NE(std::find(points.begin(), points.end(), a), points.end());
      EXPECT_GT(Cross(b - a, hull[(i + 2) % hull.size()] - b), 0);
      for (const PointUm& p : points) EXPECT_GE(Cross(b - a, p - a), -1e-9);
    }
  }
}

TEST(IsSimple, TellsCrossingTouchingAndRepeatedCourses) {
  EXPECT_TRUE(IsSimple(kSquare));
  EXPECT_TRUE(IsSimple(ContourUm{{0, 0}, {0, 0}, {2, 0}, {2, 2}, {2, 2}, {0, 2}, {0, 0}}));
  EXPECT_FALSE(IsSimple(ContourUm{{0, 0}, {4, 4}, {4, 0}, {0, 4}}));          // bow tie
  EXPECT_FALSE(IsSimple(ContourUm{{0, 0}, {4, 0}, {4, 4}, {2, 0}, {0, 4}}));  // vertex on an edge
  EXPECT_FALSE(IsSimple(ContourUm{{0, 0}, {4, 0}, {2, 0}, {2, 3}}));          // back over itself
  EXPECT_FALSE(IsSimple(ContourUm{{0, 0}, {1, 0}}));
  EXPECT_FALSE(IsSimple(ContourUm{}));
  EXPECT_TRUE(IsSimple(ContourUm{{0, 0}, {2, 0}, {4, 0}, {4, 4}}));  // collinear, going on
}

// Property: the tree finds what comparing all edges finds.
TEST(IsSimple, AgreesWithAllPairsOfEdges) {
  int simple = 0, crossed = 0;
  for (std::uint64_t seed = 1; seed <= 300; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    ContourUm contour = RandomBlob(seed, random.Integer(4, 200), 50);
    const double jitter = seed % 2 ? random.Uniform(0, 5) : 0;
    for (PointUm& p : contour) p = p + PointUm{jitter * random.Normal(), jitter * random.Normal()};
    const std::size_t n = contour.size();
    bool meets = false;
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = i + 2; j < n; ++j) {
        if (i == 0 && j == n - 1) continue;
        const PointUm a = contour[i], b = contour[i + 1], c = contour[j], d = contour[(j + 1) % n];
        meets |= Cross(b - a, c - a) * Cross(b - a, d - a) <= 0 &&
                 Cross(d - c, a - c) * Cross(d - c, b - c) <= 0;
      }
    }
    EXPECT_EQ(IsSimple(contour), !meets);
    ++(meets ? crossed : simple);
  }
  EXPECT_GT(simple, 50);
  EXPECT_GT(crossed, 50);
}

}  // namespace
}  // namespace cutface
