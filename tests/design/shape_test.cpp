// Circles, ellipses and rectangles as contours.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/design.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr double kToleranceUm = 0.02;

std::span<const PointUm> View(const Shape& shape) { return shape.contour; }

Shape Circle(double diameter_um, PointUm centre) {
  Shape shape;
  shape.kind = Shape::Kind::kCircle;
  shape.diameter_um = diameter_um;
  shape.centre = centre;
  EXPECT_THAT(FlattenShape(shape, 1000), IsOk());
  return shape;
}

Shape Rectangle(double x_um, double y_um, double corner_um, double angle_rad) {
  Shape shape;
  shape.kind = Shape::Kind::kRectangle;
  shape.size_x_um = x_um;
  shape.size_y_um = y_um;
  shape.corner_radius_um = corner_um;
  shape.angle_rad = angle_rad;
  shape.centre = {300, -200};
  EXPECT_THAT(FlattenShape(shape, 1000), IsOk());
  return shape;
}

TEST(Shape, ACircleLiesOnItsRadiusAndItsChordsWithinTheTolerance) {
  for (const double diameter : {20.0, 300.0, 2500.0, 12000.0, 200'000.0}) {
    const Shape shape = Circle(diameter, {100, -50});
    const double r = diameter / 2;
    ASSERT_GE(shape.contour.size(), 180u);  // at most two degrees each
    for (std::size_t i = 0; i < shape.contour.size(); ++i) {
      const PointUm a = shape.contour[i], b = shape.contour[(i + 1) % shape.contour.size()];
      EXPECT_NEAR(Distance(a, shape.centre), r, 1e-9 * r);
      EXPECT_LE(r - Distance(0.5 * (a + b), shape.centre), kToleranceUm * (1 + 1e-6));
    }
    EXPECT_GT(SignedArea(View(shape)), 0);
    EXPECT_FALSE(shape.contour.front() == shape.contour.back());
  }
}

TEST(Shape, AnEllipseIsTurnedAboutItsCentre) {
  Shape shape;
  shape.kind = Shape::Kind::kEllipse;
  shape.size_x_um = 800;
  shape.size_y_um = 200;
  shape.angle_rad = kPi / 5;
  shape.centre = {10, 20};
  ASSERT_THAT(FlattenShape(shape, 1000), IsOk());
  EXPECT_NEAR(Area(View(shape)), kPi / 4 * 800 * 200, kToleranceUm * Perimeter(View(shape)));
  const auto fitted = MomentEllipse(View(shape));
  EXPECT_NEAR(fitted.angle, kPi / 5, 1e-6);  // +x towards +y
}

TEST(Shape, ARoundedRectangleHasItsAreaAndExtent) {
  const Shape shape = Rectangle(1200, 800, 200, 0);
  EXPECT_NEAR(Area(View(shape)), 1200 * 800 - (4 - kPi) * 200 * 200,
              kToleranceUm * Perimeter(View(shape)));
  const Box<FrameUm> box = BoundingBox(View(shape));
  EXPECT_NEAR(box.least.x, 300 - 600, 1e-9);
  EXPECT_NEAR(box.greatest.x, 300 + 600, 1e-9);
  EXPECT_NEAR(box.least.y, -200 - 400, 1e-9);
  EXPECT_NEAR(box.greatest.y, -200 + 400, 1e-9);
}

TEST(Shape, ASharpRectangleHasFourCornersAndTurnsTowardsPlusY) {
  const Shape shape = Rectangle(1000, 10, 0, kPi / 6);
  ASSERT_EQ(shape.contour.size(), 4u);
  double most_x = -1e9, y_there = 0;
  for (const PointUm p : shape.contour) {
    if (p.x > most_x) {
      most_x = p.x;
      y_there = p.y;
    }
  }
  EXPECT_GT(y_there, shape.centre.y + 200);  // the right end went down (y down)
}

TEST(Shape, AFullyRoundedRectangleIsASlotWithRoundEnds) {
  const Shape shape = Rectangle(1000, 400, 200, 0);
  EXPECT_NEAR(Area(View(shape)), 600 * 400 + kPi * 200 * 200,
              kToleranceUm * Perimeter(View(shape)));
  EXPECT_TRUE(IsSimple(View(shape)));
}

TEST(Shape, SizesThatAreNoneFail) {
  Shape shape;
  for (const double diameter : {0.0, -1.0, 2e6, std::nan("")}) {
    shape.diameter_um = diameter;
    EXPECT_THAT(FlattenShape(shape, 1000), FailsWith(Code::kJsonValue)) << diameter;
  }
  shape.kind = Shape::Kind::kRectangle;
  shape.size_x_um = 100;
  shape.size_y_um = 50;
  shape.corner_radius_um = 26;
  EXPECT_THAT(FlattenShape(shape, 1000), FailsWith(Code::kJsonValue));
}

}  // namespace
}  // namespace cutface
