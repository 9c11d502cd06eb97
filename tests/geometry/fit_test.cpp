#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "geometry/shapes.h"
#include "reference/reference.h"
#include "support/matchers.h"

namespace cutface {
namespace {

ContourUm PointsOf(const std::vector<ReferenceRow>& rows) {
  ContourUm points;
  for (const ReferenceRow& row : rows) {
    if (row.word == "point") points.push_back({row.values[0], row.values[1]});
  }
  return points;
}

double SumOfSquares(const ContourUm& points, const Circle<FrameUm>& circle) {
  double sum = 0;
  for (const PointUm& p : points) {
    sum += std::pow(Distance(p, circle.centre) - circle.radius, 2);
  }
  return sum;
}

// Gander, Golub & Strebel 1994 and Coope 1993, with further digits from 30-digit arithmetic.
TEST(FitCircle, GivesThePublishedGeometricFits) {
  for (const char* file : {"gander-golub-strebel-1994/circle6.txt", "coope-1993/circle8.txt"}) {
    SCOPED_TRACE(file);
    const auto rows = ReadReference(file);
    const auto fit = ReferenceValues(rows, "fit");
    const ContourUm points = PointsOf(rows);
    const auto circle = FitCircle(points);
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(circle->centre.x, fit[0], 1e-13);
    EXPECT_NEAR(circle->centre.y, fit[1], 1e-13);
    EXPECT_NEAR(circle->radius, fit[2], 1e-13);
    EXPECT_NEAR(SumOfSquares(points, *circle), ReferenceValues(rows, "sum_of_squares")[0], 1e-13);
  }
}

// NIST L2 reference pairs: full circle and arcs. Coordinates near 800 carry 1e-13; on a 92 degree
// arc the centre moves some 30 times as much as the points.
TEST(FitCircle, GivesTheNistReferencePairs) {
  for (const char* set : {"cir2d1", "cir2d2", "cir2d5", "cir2d15"}) {
    SCOPED_TRACE(set);
    const auto rows = ReadReference(std::string("nist-circle-pairs/") + set + ".txt");
    const auto fit = ReferenceValues(rows, "published_fit");
    const auto circle = FitCircle(PointsOf(rows));
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(circle->centre.x, fit[0], 2e-11);
    EXPECT_NEAR(circle->centre.y, fit[1], 2e-11);
    EXPECT_NEAR(2 * circle->radius, fit[2], 2e-11);
  }
}

TEST(FitCircle, AStartNearOrFarChangesNothing) {
  const auto rows = ReadReference("coope-1993/circle8.txt");
  const ContourUm points = PointsOf(rows);
  const auto plain = FitCircle(points);
  ASSERT_THAT(plain, IsOk());
  for (const Circle<FrameUm>& start : {Circle<FrameUm>{{3, 0.7}, 4}, Circle<FrameUm>{{50, -80}, 1},
                                       Circle<FrameUm>{points[0], 2}}) {
    const auto circle = FitCircle(points, start);
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(Distance(circle->centre, plain->centre), 0, 1e-10);
    EXPECT_NEAR(circle->radius, plain->radius, 1e-10);
  }
}

// Property: no circle nearby fits better, on noisy circles and arcs.
TEST(FitCircle, IsALeastSquaresMinimum) {
  for (std::uint64_t seed = 1; seed <= 100; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    const double arc = random.Uniform(0.5, 2 * kPi), radius = random.Uniform(10, 1000);
    ContourUm points;
    const int n = random.Integer(4, 200);
    for (int i = 0; i < n; ++i) {
      const double r = radius * (1 + 0.01 * random.Normal()), angle = arc * i / n;
      points.push_back({500 + r * std::cos(angle), -300 + r * std::sin(angle)});
    }
    const auto circle = FitCircle(points);
    ASSERT_THAT(circle, IsOk());
    const double least = SumOfSquares(points, *circle);
    for (int i = 0; i < 50; ++i) {
      const double step = radius * std::pow(10, random.Uniform(-6, -1));
      const Circle<FrameUm> other{
          {circle->centre.x + step * random.Normal(), circle->centre.y + step * random.Normal()},
          circle->radius + step * random.Normal()};
      EXPECT_GE(SumOfSquares(points, other), least * (1 - 1e-12));
    }
  }
}

TEST(FitCircle, OfExactPointsIsExact) {
  const auto circle = FitCircle(RegularPolygon(7, 250, {1e4, -3e4}));
  ASSERT_THAT(circle, IsOk());
  EXPECT_NEAR(circle->radius, 250, 1e-10);
  EXPECT_NEAR(circle->centre.x, 1e4, 1e-10);
  const auto three = FitCircle(ContourUm{{0, 0}, {4, 0}, {0, 3}});
  ASSERT_THAT(three, IsOk());
  EXPECT_NEAR(three->radius, 2.5, 1e-14);
}

TEST(FitCircle, RefusesWhatIsNoCircle) {
  EXPECT_THAT(FitCircle(ContourUm{}), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitCircle(ContourUm{{0, 0}, {1, 0}}), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitCircle(ContourUm{{0, 0}, {1, 2}, {2, 4}, {5, 10}}),
              FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitCircle(ContourUm{{0, 0}, {0, 0}, {2, 4}, {2, 4}}),
              FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitCircle(ContourUm(5, PointUm{3, 3})), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitCircle(ContourUm{{0, 0}, {1, 0}, {NAN, 1}}), FailsWith(Code::kInvalidContour));
  ContourUm strip;  // mirror images across a line: no curvature is better than none
  for (int i = 0; i < 10; ++i) {
    strip.push_back({static_cast<double>(i), 0.1});
    strip.push_back({static_cast<double>(i), -0.1});
  }
  EXPECT_THAT(FitCircle(strip), FailsWith(Code::kInvalidContour));
}

double DistanceToEllipse(PointUm p, const Ellipse<FrameUm>& e) {
  // Slow and independent: dense samples of the curve, then a golden section around the nearest.
  const auto at = [&](double t) {
    return Distance(
        p, e.centre +
               Rotated(PointUm{e.semi_major * std::cos(t), e.semi_minor * std::sin(t)}, e.angle));
  };
  double best = 0;
  for (int i = 1; i < 400; ++i) {
    if (at(2 * kPi * i / 400) < at(best)) best = 2 * kPi * i / 400;
  }
  double low = best - 2 * kPi / 400, high = best + 2 * kPi / 400;
  for (int i = 0; i < 80; ++i) {
    const double a = high - (high - low) * 0.6180339887498949,
                 b = low + (high - low) * 0.6180339887498949;
    (at(a) < at(b) ? high : low) = at(a) < at(b) ? b : a;
  }
  return at(0.5 * (low + high));
}

double RootSumOfSquares(const ContourUm& points, const Ellipse<FrameUm>& ellipse) {
  double sum = 0;
  for (const PointUm& p : points) sum += std::pow(DistanceToEllipse(p, ellipse), 2);
  return std::sqrt(sum);
}

// Gander, Golub & Strebel 1994, Table 5.1, and the widely copied variant with two x swapped.
TEST(FitEllipse, GivesThePublishedGeometricFits) {
  for (const char* file : {"gander-golub-strebel-1994/ellipse8.txt",
                           "gander-golub-strebel-1994/ellipse8-swapped.txt"}) {
    SCOPED_TRACE(file);
    const auto rows = ReadReference(file);
    const auto fit = ReferenceValues(rows, "fit");
    const ContourUm points = PointsOf(rows);
    const auto ellipse = FitEllipse(points);
    ASSERT_THAT(ellipse, IsOk());
    EXPECT_NEAR(ellipse->centre.x, fit[0], 1e-10);
    EXPECT_NEAR(ellipse->centre.y, fit[1], 1e-10);
    EXPECT_NEAR(ellipse->semi_major, fit[2], 1e-10);
    EXPECT_NEAR(ellipse->semi_minor, fit[3], 1e-10);
    EXPECT_NEAR(ellipse->angle, fit[4], 1e-10);
    EXPECT_NEAR(RootSumOfSquares(points, *ellipse), ReferenceValues(rows, "root_sum_of_squares")[0],
                6e-7);
  }
}

TEST(FitEllipse, OfExactPointsIsThatEllipseInAnyDirection) {
  for (int i = -8; i < 10; ++i) {
    const Ellipse<FrameUm> truth{{500, -200}, 300, 120, i * kPi / 19};
    SCOPED_TRACE(truth.angle);
    const auto found = FitEllipse(EllipsePolygon(40, truth));
    ASSERT_THAT(found, IsOk());
    EXPECT_NEAR(found->centre.x, 500, 1e-9);
    EXPECT_NEAR(found->centre.y, -200, 1e-9);
    EXPECT_NEAR(found->semi_major, 300, 1e-8);
    EXPECT_NEAR(found->semi_minor, 120, 1e-8);
    EXPECT_NEAR(found->angle, truth.angle, 1e-10);
  }
}

TEST(FitEllipse, OfACircleHasEqualAxes) {
  const auto found = FitEllipse(RegularPolygon(100, 50, {7, 8}));
  ASSERT_THAT(found, IsOk());
  EXPECT_NEAR(found->semi_major, 50, 1e-9);
  EXPECT_NEAR(found->semi_minor, 50, 1e-9);
  EXPECT_NEAR(found->centre.x, 7, 1e-9);
}

// Property: no ellipse nearby fits better, measured with an independent distance.
TEST(FitEllipse, IsALeastSquaresMinimum) {
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    const double a = random.Uniform(20, 100);
    const Ellipse<FrameUm> truth{{random.Uniform(-50, 50), random.Uniform(-50, 50)},
                                 a,
                                 a * random.Uniform(0.3, 0.95),
                                 random.Uniform(-1.5, 1.5)};
    ContourUm points = EllipsePolygon(random.Integer(8, 40), truth);
    for (PointUm& p : points)
      p = p + PointUm{0.02 * a * random.Normal(), 0.02 * a * random.Normal()};
    const auto found = FitEllipse(points);
    ASSERT_THAT(found, IsOk());
    const double least = RootSumOfSquares(points, *found);
    for (int i = 0; i < 20; ++i) {
      const double step = a * std::pow(10, random.Uniform(-4, -1.5));
      const Ellipse<FrameUm> other{
          {found->centre.x + step * random.Normal(), found->centre.y + step * random.Normal()},
          found->semi_major + step * random.Normal(),
          found->semi_minor + step * random.Normal(),
          found->angle + step / a * random.Normal()};
      EXPECT_GE(RootSumOfSquares(points, other), least * (1 - 1e-9));
    }
  }
}

TEST(FitEllipse, RefusesWhatIsNoEllipse) {
  EXPECT_THAT(FitEllipse(ContourUm{{0, 0}, {1, 0}, {0, 1}, {1, 1}}),
              FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitEllipse(ContourUm{{0, 0}, {1, 1}, {2, 2}, {3, 3}, {4, 4}, {7, 7}}),
              FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitEllipse(ContourUm(9, PointUm{1, 2})), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(FitEllipse(ContourUm{{0, 0}, {1, 0}, {2, 1}, {1, 3}, {0, INFINITY}}),
              FailsWith(Code::kInvalidContour));
  ContourUm parabola;
  for (int i = -5; i <= 5; ++i) parabola.push_back({static_cast<double>(i), i * i * 1.0});
  EXPECT_THAT(FitEllipse(parabola), FailsWith(Code::kInvalidContour));
}

}  // namespace
}  // namespace cutface
