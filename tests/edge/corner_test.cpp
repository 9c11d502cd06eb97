// Right-angled corners of a blurred rectangle (closed form): blur rounds them off, and how sharp
// they were is put half way and said to be open.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "edge/pictures.h"
#include "edge/pull.h"

namespace cutface {
namespace {

using namespace pictures;

constexpr double kBlur = 1.4, kHalfA = 70, kHalfB = 45, kTurn = 0.31;
constexpr PointPx kMiddle{130, 110};

SettledContour RectangularBore() {
  const auto light = [](double x, double y) {
    const PointPx at = Rotated(PointPx{x, y} - kMiddle, -kTurn);
    return 0.6 - 0.35 * BlurredRectangle(at.x, at.y, kHalfA, kHalfB, kBlur);
  };
  EdgeInput input;
  input.start = RectanglePoints(kMiddle, kHalfA, kHalfB, kTurn);
  input.expected_step = 0.58;
  EdgeOptions options;
  options.gamma = 1;
  const Micrograph picture = Taken(260, 220, light, {1, 0.006, 3});
  return SettleEdges(picture, EvenLight(0.6), {input}, options).contours[0];
}

TEST(SettledCorner, ASharpCornerLiesWithinWhatItsPlacesLeaveOpen) {
  const SettledContour contour = RectangularBore();
  for (const double a : {-kHalfA, kHalfA}) {
    for (const double b : {-kHalfB, kHalfB}) {
      const PointPx corner = kMiddle + Rotated(PointPx{a, b}, kTurn);
      const auto nearest =
          *std::min_element(contour.places.begin(), contour.places.end(),
                            [&](const SettledPlace& p, const SettledPlace& q) {
                              return Distance(p.at, corner) < Distance(q.at, corner);
                            });
      const double away = Distance(nearest.at, corner);
      EXPECT_LT(away, 0.55 * kBlur);
      EXPECT_LT(away, 2 * std::hypot(nearest.sigma_px, nearest.doubt_px, 0.05));
    }
  }
}

TEST(SettledCorner, StraightSidesAreLeftAlone) {
  const SettledContour contour = RectangularBore();
  double worst = 0;
  for (const SettledPlace& place : contour.places) {
    const PointPx at = Rotated(place.at - kMiddle, -kTurn);
    if (std::abs(at.x) > kHalfA - 12) continue;  // the long sides
    worst = std::max(worst, std::abs(std::abs(at.y) - kHalfB));
  }
  EXPECT_LT(worst, 0.25);
}

// Verbeek & van Vliet 1994: an arc that is bent no more than its contour as a whole is no corner.
TEST(CurvaturePull, ACircleIsPutBackByHalfTheSquaredBlurOverItsRadius) {
  for (const double radius : {6.0, 20.0, 300.0}) {
    const CurvedPlace place{1.2, 1 / radius, 1 / radius};
    EXPECT_DOUBLE_EQ(CurvaturePull(place), 0.5 * 1.2 * 1.2 / radius);
    EXPECT_EQ(CornerDoubt(place), 0);
  }
  EXPECT_GT(CurvaturePull({1.2, 0.4, 0.01}), 0.5 * 1.2 * 1.2 * 0.4);
  EXPECT_LT(CurvaturePull({1.2, -0.4, 0.01}), -0.5 * 1.2 * 1.2 * 0.4);
}

}  // namespace
}  // namespace cutface
