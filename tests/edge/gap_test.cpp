// Potting drawn back from a part of a bore: a dark line beside a part of its edge. The edge is
// where the polymer ends, all around, and the line is no reason to think the picture sharper there.
#include <gtest/gtest.h>

#include <cmath>

#include "edge/pictures.h"

namespace cutface {
namespace {

using namespace pictures;

constexpr double kBlur = 1.15, kRadius = 90, kBody = 0.65, kResin = 0.4;

// Share of a gap's depth at `angle`: 1 over the middle of `extent` radians about 0, fading over the
// last tenth of it on either side.
double GapShare(double angle, double extent) {
  const double away = std::abs(std::remainder(angle, 2 * kPi)), half = extent / 2;
  if (away >= half) return 0;
  return std::min(1.0, (half - away) / (0.1 * extent));
}

// A row of filled bores; the first has a gap of `width` px over `extent` radians.
SettledFace FilledBores(double width, double extent) {
  const BlurredDisc bore(kRadius, kBlur), core(kRadius - width, kBlur);
  const PointPx centres[] = {{120, 120}, {330, 120}, {540, 120}};
  const auto light = [&](double x, double y) {
    double value = kBody;
    for (const PointPx centre : centres) {
      const PointPx at = PointPx{x, y} - centre;
      const double r = Norm(at);
      if (r > kRadius + 12) continue;
      const double inside = bore(r);
      value += (kResin - kBody) * inside;
      if (centre.x == centres[0].x)
        value += (0.14 - kResin) * (inside - core(r)) * GapShare(std::atan2(at.y, at.x), extent);
    }
    return value;
  };
  std::vector<EdgeInput> inputs;
  for (const PointPx centre : centres) {
    EdgeInput input;
    input.start = CirclePoints(centre, kRadius + 0.4, 200);
    input.expected_step = 1 - kResin / kBody;
    inputs.push_back(input);
  }
  EdgeOptions options;
  options.gamma = 1.2;
  const Micrograph picture = Taken(660, 240, light, {1.2, 0.008, 7});
  return SettleEdges(picture, EvenLight(std::pow(kBody, 1 / 1.2)), inputs, options);
}

TEST(SettledGap, AGapAlongMoreThanHalfOfABoreLeavesItsEdgeWhereThePolymerEnds) {
  for (const double extent : {1.2 * kPi, 1.6 * kPi}) {
    const SettledFace face = FilledBores(1.9, extent);
    EXPECT_NEAR(EqualAreaRadius(face.contours[0]), kRadius, 0.1) << extent;
    EXPECT_NEAR(EqualAreaRadius(face.contours[1]), kRadius, 0.05) << extent;
  }
}

TEST(SettledGap, AGapMakesNoEdgeSharper) {
  const SettledFace face = FilledBores(1.9, 1.6 * kPi);
  for (const SettledContour& contour : face.contours) EXPECT_NEAR(contour.blur_px, kBlur, 0.06);
}

}  // namespace
}  // namespace cutface
