#include <gtest/gtest.h>

#include "geometry/shapes.h"

namespace cutface {
namespace {

double MeanRadius(const ContourUm& contour, PointUm centre = {}) {
  double sum = 0;
  for (const PointUm& p : contour) sum += Distance(p, centre);
  return sum / static_cast<double>(contour.size());
}

// Share of a ripple of `waves` undulations on a circle of radius 1000 that smoothing lets pass.
double Transmission(int waves, double cutoff) {
  ContourUm contour;
  constexpr int kCorners = 4000;
  for (int i = 0; i < kCorners; ++i) {
    const double a = 2 * kPi * i / kCorners, r = 1000 + 0.01 * std::cos(waves * a);
    contour.push_back({r * std::cos(a), r * std::sin(a)});
  }
  const ContourUm smooth = Smoothed(contour, cutoff);
  double sum = 0;
  for (int i = 0; i < kCorners; ++i) {
    sum += 2 * Norm(smooth[static_cast<std::size_t>(i)]) * std::cos(waves * 2 * kPi * i / kCorners);
  }
  return sum / kCorners / 0.01;
}

// ISO 16610-21: a Gaussian profile filter passes one half of the cut-off wavelength. On a contour
// of radius R a ripple moves with the curve it rides on, which adds terms of (wavelength / R)^2.
TEST(Smoothed, PassesHalfOfARippleOfTheCutOffWavelength) {
  const int waves = 100;
  const double wavelength = 2 * kPi * 1000 / waves;
  EXPECT_NEAR(Transmission(waves, wavelength), 0.5, 0.002);
  // 2 S - S S of the Gaussian S: with cut-off c, 1 - (1 - H)^2 with H = (1 - sqrt(1/2))^((c /
  // w)^2).
  for (const double ratio : {3.0, 1.5, 0.7}) {
    const double h = std::pow(1 - std::sqrt(0.5), 1 / (ratio * ratio));
    EXPECT_NEAR(Transmission(waves, wavelength / ratio), 1 - (1 - h) * (1 - h), 0.003) << ratio;
  }
}

TEST(Smoothed, KeepsTheRadiusOfCirclesDownToThreeCutOffs) {
  for (const double radius : {30.0, 60.0, 500.0}) {
    const ContourUm smooth = Smoothed(RegularPolygon(600, radius, {70, -40}), 10);
    EXPECT_NEAR(MeanRadius(smooth, {70, -40}) / radius, 1, 1e-4) << radius;
  }
}

TEST(Smoothed, KeepsTheRadiusWithUnevenSteps) {
  Random random(4);
  ContourUm circle;
  for (double a = 0; a < 2 * kPi - 0.03; a += random.Uniform(0.005, 0.03)) {
    circle.push_back({100 * std::cos(a), 100 * std::sin(a)});
  }
  const ContourUm smooth = Smoothed(circle, 20);
  ASSERT_EQ(smooth.size(), circle.size());
  for (const PointUm& p : smooth) EXPECT_NEAR(Norm(p), 100, 0.05);
}

TEST(Smoothed, TakesNoiseAwayAndKeepsTheArea) {
  Random random(9);
  ContourUm noisy = RegularPolygon(1500, 400);
  for (PointUm& p : noisy) p = (1 + 0.5 * random.Normal() / 400) * p;
  const ContourUm smooth = Smoothed(noisy, 60);
  double before = 0, after = 0;
  for (std::size_t i = 0; i < noisy.size(); ++i) {
    before += std::pow(Norm(noisy[i]) - 400, 2);
    after += std::pow(Norm(smooth[i]) - 400, 2);
  }
  EXPECT_LT(after, 0.15 * before);
  EXPECT_NEAR(Area(smooth) / Area(noisy), 1, 1e-4);
}

TEST(Smoothed, LeavesStraightSidesAndTinyContoursAlone) {
  const ContourUm square = Resampled(ContourUm{{0, 0}, {400, 0}, {400, 400}, {0, 400}}, 2);
  const ContourUm smooth = Smoothed(square, 30);
  for (std::size_t i = 0; i < square.size(); ++i) {
    const PointUm p = square[i];
    const double to_corner =
        std::min(std::min(Norm(p), Norm(p - PointUm{400, 400})),
                 std::min(Norm(p - PointUm{400, 0}), Norm(p - PointUm{0, 400})));
    if (to_corner > 90) {  // twice the reach of the weights
      EXPECT_NEAR(Distance(smooth[i], p), 0, 1e-9);
    }
  }
  EXPECT_EQ(Smoothed(square, 0), square);
  const ContourUm tiny = RegularPolygon(12, 1);
  EXPECT_EQ(Smoothed(tiny, 50), tiny);
  EXPECT_TRUE(Smoothed(ContourUm{}, 5).empty());
}

TEST(Smoothed, DoesNotDependOnWhereTheContourStarts) {
  const ContourUm contour = RandomBlob(3, 400, 200, {}, 1);
  ContourUm turned(contour.begin() + 137, contour.end());
  turned.insert(turned.end(), contour.begin(), contour.begin() + 137);
  const ContourUm a = Smoothed(contour, 25), b = Smoothed(turned, 25);
  for (std::size_t i = 0; i < a.size(); ++i) {
    EXPECT_NEAR(Distance(b[i], a[(i + 137) % a.size()]), 0, 1e-11);
  }
}

// Steiner's formula: area + perimeter d + pi d^2 outside a convex contour.
TEST(Offset, OfAConvexContourFollowsSteiner) {
  for (const ContourUm& contour :
       {ContourUm{{0, 0}, {60, 0}, {60, 40}, {0, 40}}, RegularPolygon(7, 50)}) {
    const double d = 12;
    const ContourUm outside = Offset(contour, d);
    // Arcs are chords: they leave the arc by 1e-4 of the distance.
    EXPECT_NEAR(Area(outside), Area(contour) + d * Perimeter(contour) + kPi * d * d,
                1e-4 * d * 2 * kPi * d);
    EXPECT_NEAR(LeastDistance(contour, outside).distance, d, 2e-4 * d);
  }
  const ContourUm square = {{0, 0}, {60, 0}, {60, 40}, {0, 40}};
  EXPECT_NEAR(Area(Offset(square, -10)), 40 * 20, 1e-5);
}

TEST(Offset, KeepsTheWindingAndEndsEmptyWhenNothingIsLeft) {
  ContourUm contour = RegularPolygon(50, 30, {100, 100});
  EXPECT_GT(SignedArea(Offset(contour, 5)), 0);
  std::reverse(contour.begin(), contour.end());
  EXPECT_LT(SignedArea(Offset(contour, 5)), 0);
  EXPECT_TRUE(Offset(contour, -40).empty());
  EXPECT_TRUE(Offset(ContourUm{{0, 0}, {1, 1}}, 5).empty());
}

TEST(Offset, InwardsOfADumbbellIsItsLargerPiece) {
  // Squares of 40 and 20 joined by a neck 4 wide; 3 inwards closes the neck.
  const ContourUm dumbbell = {{0, 0},   {40, 0},  {40, 18}, {60, 18}, {60, 10}, {80, 10},
                              {80, 30}, {60, 30}, {60, 22}, {40, 22}, {40, 40}, {0, 40}};
  const ContourUm inside = Offset(dumbbell, -3);
  // At the neck's mouth two arcs of radius 3 about its corners leave a little cusp:
  // integral of 4 - 2 sqrt(9 - u^2) from sqrt(5) to 3.
  const double root = std::sqrt(5.0);
  const double cusp = 4 * (3 - root) - 2 * (4.5 * (kPi / 2 - std::asin(root / 3)) - root);
  EXPECT_NEAR(Area(inside), 34 * 34 + cusp, 2e-3);
  EXPECT_LT(BoundingBox(inside).greatest.x, 40);
}

// Lenses of two equal circles, rho = 1 (check-values 2.2, closed forms).
TEST(IntersectionArea, OfTwoCirclesIsTheLens) {
  struct Row {
    double d, area;
  };
  for (const Row& row : {Row{0.5, 2.1521092250}, Row{1, 1.2283696986}, Row{1.5, 0.4533117540},
                         Row{1.9, 0.0418460487}}) {
    const ContourUm a = RegularPolygon(20000, 1), b = RegularPolygon(20000, 1, {row.d, 0});
    EXPECT_NEAR(IntersectionArea(a, b), row.area, 1e-7) << row.d;
  }
}

TEST(IntersectionArea, HandlesHoldingMissingAndReversedContours) {
  ContourUm big = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
  const ContourUm small = {{2, 2}, {4, 2}, {4, 4}, {2, 4}};
  const ContourUm far = {{20, 20}, {21, 20}, {21, 21}};
  EXPECT_NEAR(IntersectionArea(big, small), 4, 1e-7);
  std::reverse(big.begin(), big.end());
  EXPECT_NEAR(IntersectionArea(big, small), 4, 1e-7);
  EXPECT_EQ(IntersectionArea(big, far), 0);
  EXPECT_EQ(IntersectionArea(big, ContourUm{}), 0);
  EXPECT_NEAR(IntersectionArea(big, big), 100, 1e-6);
}

}  // namespace
}  // namespace cutface
