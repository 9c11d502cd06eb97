// The truth's own geometry against closed forms.
#include "phantom/shapes.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace cutface::phantom {
namespace {

ContourPx EllipseAt(PointPx centre, double a, double b, int n = 1440) {
  ContourPx out;
  for (int i = 0; i < n; ++i) {
    const double t = 2 * kPi * i / n;
    out.push_back(centre + PointPx{a * std::cos(t), b * std::sin(t)});
  }
  return out;
}

TEST(PhantomShapes, TheRightTriangle345HasItsTextbookSizes) {
  const ContourPx triangle{{0, 0}, {4, 0}, {0, 3}};
  EXPECT_DOUBLE_EQ(AreaOf(triangle), 6);
  EXPECT_DOUBLE_EQ(LengthOf(triangle), 12);
  EXPECT_NEAR(InscribedDisc(triangle).radius, 1, 5e-4);  // area / half the perimeter
  EXPECT_DOUBLE_EQ(WidthsOf(triangle).greatest, 5);
  EXPECT_DOUBLE_EQ(WidthsOf(triangle).least, 2.4);  // height over the longest side
  EXPECT_NEAR(CentroidOf(triangle).x, 4.0 / 3, 1e-12);
  EXPECT_NEAR(CentroidOf(triangle).y, 1, 1e-12);
}

TEST(PhantomShapes, AnEllipseHasItsAxesAsWidths) {
  const ContourPx ellipse = Mapped(EllipseAt({0, 0}, 50, 30), RotationMap(0.7));
  // 1440 corners: the hull dips at most 50 (pi/1440)^2 / 2 = 1.2e-4 px inside.
  EXPECT_NEAR(WidthsOf(ellipse).greatest, 100, 3e-4);
  EXPECT_NEAR(WidthsOf(ellipse).least, 60, 3e-4);
  EXPECT_NEAR(InscribedDisc(ellipse).radius, 30, 8e-4);
}

TEST(PhantomShapes, TheLeastSquaresDiscOfACircleIsTheCircle) {
  const Disc disc = LeastSquaresDisc(EllipseAt({12.5, -3.25}, 40, 40));
  // Chords of a 1440-gon lie 40 (pi/1440)^2 / 3 = 6.3e-5 inside on average.
  EXPECT_NEAR(disc.radius, 40 * (1 - std::pow(kPi / 1440, 2) / 3), 1e-8);
  EXPECT_NEAR(disc.centre.x, 12.5, 1e-9);
  EXPECT_NEAR(disc.centre.y, -3.25, 1e-9);
}

TEST(PhantomShapes, VerticesThatCrowdOnOneSideDoNotPullTheDisc) {
  // A circle with half its vertices on a tenth of its arc, lobed once: weights by arc must give the
  // same as equal steps.
  ContourPx crowded;
  for (int i = 0; i < 2000; ++i) {
    const double u = i / 2000.0, t = 2 * kPi * (u < 0.5 ? 0.2 * u : 0.1 + 0.9 * (2 * u - 1));
    const double r = 40 + std::cos(3 * t);
    crowded.push_back({r * std::cos(t), r * std::sin(t)});
  }
  const Disc a = LeastSquaresDisc(crowded), b = LeastSquaresDisc(EqualSteps(crowded, 1500));
  EXPECT_NEAR(a.radius, b.radius, 1e-3);
  EXPECT_NEAR(Distance(a.centre, b.centre), 0, 1e-3);
}

TEST(PhantomShapes, TwoCirclesAreApartByCentreDistanceLessRadii) {
  const Gap gap = LeastGap(EllipseAt({0, 0}, 40, 40), EllipseAt({100, 0}, 35, 35));
  EXPECT_NEAR(gap.distance, 25, 1e-9);
  EXPECT_NEAR(gap.on_first.x, 40, 1e-9);
  EXPECT_NEAR(gap.on_second.x, 65, 1e-9);
  EXPECT_EQ(LeastGap(EllipseAt({0, 0}, 40, 40), EllipseAt({60, 0}, 35, 35)).distance, 0);
}

TEST(PhantomShapes, TheUnionOfTwoSquaresThatOverlapHasTheSumLessTheOverlap) {
  const ContourPx a{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, b{{5, 5}, {15, 5}, {15, 15}, {5, 15}};
  EXPECT_NEAR(AreaOf(UnionOf({a, b})), 175, 1e-6);
}

TEST(PhantomShapes, AStretchMultipliesLengthsAlongItsAxisOnly) {
  const Affine stretch = StretchMap(1.15, 0.4);
  const PointPx along = stretch({std::cos(0.4), std::sin(0.4)});
  const PointPx across = stretch({-std::sin(0.4), std::cos(0.4)});
  EXPECT_NEAR(Norm(along), 1.15, 1e-12);
  EXPECT_NEAR(Norm(across), 1, 1e-12);
}

}  // namespace
}  // namespace cutface::phantom
