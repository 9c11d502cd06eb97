// What lies along an edge is no metal, and metal along an edge stands out from it.
#include "identify/wire_rims.h"

#include <gtest/gtest.h>

#include <cmath>

namespace cutface {
namespace {

constexpr PointPx kMiddle{100, 100};
constexpr double kBore_px = 60, kRim_px = 5;
constexpr float kLumenTone = 0.1f, kBodyTone = 1.0f, kRimTone = 1.35f, kMetalTone = 1.7f;

ContourPx Round(double radius) {
  ContourPx out;
  for (int k = 0; k < 360; ++k) {
    const double a = k * M_PI / 180;
    out.push_back(kMiddle + radius * PointPx{std::cos(a), std::sin(a)});
  }
  return out;
}

// A dark lumen with a bright rim, and metal over `share` of the rim.
cv::Mat1f Face(double share) {
  cv::Mat1f tone(200, 200, kBodyTone);
  for (int y = 0; y < tone.rows; ++y) {
    for (int x = 0; x < tone.cols; ++x) {
      const PointPx d = PointPx{1.0 * x, 1.0 * y} - kMiddle;
      const double r = Norm(d), turn = 0.5 + std::atan2(d.y, d.x) / (2 * M_PI);
      if (r < kBore_px) tone(y, x) = kLumenTone;
      if (r > kBore_px && r < kBore_px + kRim_px) tone(y, x) = turn < share ? kMetalTone : kRimTone;
    }
  }
  return tone;
}

class RimsOfABore : public testing::Test {
 protected:
  float At(double radius, double turn, double share) const {
    const cv::Mat1b known(200, 200, uchar{1});
    RimTones rims(known, {Round(kBore_px)});
    rims.Tell(Face(share), cv::Mat1f(200, 200, kBodyTone), 0.3);
    const double a = (turn - 0.5) * 2 * M_PI;
    return rims.At(static_cast<int>(std::lround(kMiddle.y + radius * std::sin(a))),
                   static_cast<int>(std::lround(kMiddle.x + radius * std::cos(a))), kBodyTone);
  }
};

TEST_F(RimsOfABore, ARimIsToldAllAroundAndUnderTheMetalInIt) {
  for (const double turn : {0.05, 0.4, 0.8}) {
    EXPECT_NEAR(At(kBore_px + 2.5, turn, 0.2), kRimTone, 1e-5) << turn;
    EXPECT_NEAR(At(kBore_px - 5, turn, 0.2), kLumenTone, 1e-5) << turn;
    EXPECT_NEAR(At(kBore_px + 9, turn, 0.2), kBodyTone, 1e-5) << turn;
  }
}

TEST_F(RimsOfABore, FarFromTheEdgeTheBodyRules) {
  EXPECT_EQ(At(kBore_px + 20, 0.3, 0.2), kBodyTone);
  EXPECT_EQ(At(5, 0.3, 0.2), kBodyTone);
}

TEST_F(RimsOfABore, MetalOverMostOfTheRimIsTakenForIt) {
  // What the header says: the share that is taken for no metal is the quantile, here 0.3.
  EXPECT_NEAR(At(kBore_px + 2.5, 0.9, 0.65), kRimTone, 1e-5);
  EXPECT_NEAR(At(kBore_px + 2.5, 0.9, 0.8), kMetalTone, 1e-5);
}

TEST(RimTones, NoEdgesLeaveTheBody) {
  RimTones rims(cv::Mat1b(20, 20, uchar{1}), {});
  rims.Tell(cv::Mat1f(20, 20, 0.5f), cv::Mat1f(20, 20, 1.0f), 0.3);
  EXPECT_EQ(rims.At(10, 10, 0.9f), 0.9f);
}

}  // namespace
}  // namespace cutface
