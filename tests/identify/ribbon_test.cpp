// A contour's surroundings unrolled, and the edge traced in them.
#include "identify/ribbon.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/stats.h"

namespace cutface {
namespace {

ContourPx RoundPx(PointPx centre, double radius) {
  ContourPx out;
  for (int k = 0; k < 200; ++k) {
    const double a = 2 * kPi * k / 200;
    out.push_back({centre.x + radius * std::cos(a), centre.y + radius * std::sin(a)});
  }
  return out;
}

// A dark disc on grey, its edge softened over two px.
cv::Mat1f Disc(PointPx centre, double radius, double noise) {
  cv::Mat1f image(160, 160);
  Random random(8);
  for (int y = 0; y < image.rows; ++y) {
    for (int x = 0; x < image.cols; ++x) {
      const double d = std::hypot(x - centre.x, y - centre.y) - radius;
      image(y, x) = static_cast<float>(0.3 + 0.2 * std::tanh(d) + noise * random.Normal());
    }
  }
  return image;
}

TEST(Ribbon, RowsAreEvenPlacesAndColumnsOffsetsAlongTheOutwardNormal) {
  const PointPx centre{80.2, 79.4};
  const Ribbon ribbon = Unroll(Disc(centre, 40, 0), RoundPx(centre, 40), 180, 8, 10, 0.5);
  ASSERT_EQ(ribbon.tone.rows, 180);
  EXPECT_EQ(ribbon.from, -8);
  EXPECT_NEAR(ribbon.Offset(ribbon.tone.cols - 1), 10, 0.5);
  for (int k = 0; k < 180; ++k) {
    EXPECT_NEAR(Distance(ribbon.At(k, 5), centre), 45, 0.05);
    EXPECT_LT(ribbon.tone(k, 0), 0.11);
    EXPECT_GT(ribbon.tone(k, ribbon.tone.cols - 1), 0.49);
  }
}

TEST(Ribbon, ATracedEdgeIsRightToAPixelFromAStartSixPixelsOff) {
  constexpr double kTraceError = 1;  // px: what the settled edge needs of its start is two
  const PointPx centre{80.2, 79.4};
  for (const int sign : {0, 1}) {
    const Ribbon ribbon =
        Unroll(Disc(centre, 40, 0.02), RoundPx({centre.x + 4, centre.y - 3}, 43), 240, 12, 12, 0.5);
    RibbonTraceOptions options;
    options.sign = sign;
    const RibbonTrace trace = TraceEdge(ribbon, options);
    EXPECT_EQ(trace.sign, 1);
    EXPECT_GT(trace.mean_step, 0.2);
    EXPECT_GT(trace.share_clear, 0.95);
    for (const PointPx p : TracedPoints(ribbon, trace))
      EXPECT_NEAR(Distance(p, centre), 40, kTraceError);
  }
}

TEST(Ribbon, TheWrongSignDoesNotFollowTheEdge) {
  const PointPx centre{80.2, 79.4};
  const Ribbon ribbon = Unroll(Disc(centre, 40, 0.02), RoundPx(centre, 40), 240, 12, 12, 0.5);
  RibbonTraceOptions options;
  options.sign = -1;
  EXPECT_LT(std::abs(TraceEdge(ribbon, options).mean_step), 0.1);
}

TEST(Ribbon, WhatLiesBeyondTheFrameIsNotVisible) {
  const PointPx centre{10, 80};
  const Ribbon ribbon = Unroll(Disc(centre, 40, 0), RoundPx(centre, 40), 200, 6, 6, 0.5);
  const RibbonTrace trace = TraceEdge(ribbon, {});
  ASSERT_EQ(trace.visible.size(), 200u);
  const ContourPx points = TracedPoints(ribbon, trace);
  for (std::size_t k = 0; k < points.size(); ++k) {
    if (points[k].x < -1) {
      EXPECT_FALSE(trace.visible[k]);
    }
    if (points[k].x > 2) {
      EXPECT_TRUE(trace.visible[k]);
      EXPECT_NEAR(Distance(points[k], centre), 40, 0.75);
    }
  }
}

}  // namespace
}  // namespace cutface
