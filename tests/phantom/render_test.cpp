// Does a rendered edge lie where its polygon is? Checked against closed forms and plain sums.
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/phantom.h"
#include "phantom/coverage.h"
#include "support/matchers.h"

namespace cutface {
namespace {

PhantomScene CleanScene(int width, int height, ContourPx outline, double blur) {
  PhantomScene scene;
  scene.width_px = width;
  scene.height_px = height;
  scene.outline = std::move(outline);
  scene.body_tone = 0.8;
  scene.resin_tone = 0.2;
  scene.blur_px = blur;
  scene.noise = 0;
  scene.bits = 16;
  return scene;
}

double ToneAt(const cv::Mat& picture, int x, int y) {
  return picture.at<std::uint16_t>(y, x) / 65535.0;
}

ContourPx CircleAt(PointPx centre, double radius, int n = 1440) {
  ContourPx out;
  for (int i = 0; i < n; ++i) {
    const double t = 2 * kPi * i / n;
    out.push_back(centre + PointPx{radius * std::cos(t), radius * std::sin(t)});
  }
  return out;
}

// A half plane right of the line through `at` with normal direction `angle`, cut to a big
// rectangle.
ContourPx HalfPlane(PointPx at, double angle) {
  const PointPx n{std::cos(angle), std::sin(angle)}, t{-n.y, n.x};
  return {at - 500.0 * t, at - 500.0 * t + 500.0 * n, at + 500.0 * t + 500.0 * n, at + 500.0 * t};
}

// What a sensor pixel (a square of one pixel) sees of a step blurred by a Gaussian: the mean of the
// normal distribution function over the square, by the midpoint rule with 24 x 24 points (error of
// a smooth integrand of this width below 1e-4).
double BlurredStep(PointPx pixel, PointPx at, double angle, double sigma) {
  double sum = 0;
  for (int i = 0; i < 24; ++i) {
    for (int j = 0; j < 24; ++j) {
      const PointPx p = pixel + PointPx{(i + 0.5) / 24 - 0.5, (j + 0.5) / 24 - 0.5};
      const double d = Dot(p - at, PointPx{std::cos(angle), std::sin(angle)});
      sum += 0.5 * std::erfc(-d / (sigma * std::numbers::sqrt2));
    }
  }
  return sum / (24 * 24);
}

TEST(PhantomRender, AStraightEdgeIsTheBlurredStepOfTheClosedForm) {
  // The promise is 0.01 px. At the steepest place a shift s changes the tone by s * contrast /
  // (sqrt(2 pi) sigma), so the tone may differ by that for s = 0.01 and no more.
  for (const double sigma : {0.7, 1.0, 1.6, 2.5}) {
    for (const double angle : {0.0, 0.3, 0.785, 1.2, 2.5, 4.0}) {
      const PointPx at{23.37, 21.81};
      const PhantomScene scene = CleanScene(48, 44, HalfPlane(at, angle), sigma);
      const cv::Mat picture = RenderPhantom(scene, 1);
      const double allowed = 0.01 * 0.6 / (std::sqrt(2 * kPi) * sigma);
      double worst = 0;
      // The blur at the frame's border repeats the last cells; stay away from it.
      for (int y = 12; y < 32; ++y) {
        for (int x = 12; x < 36; ++x) {
          const double expected =
              0.2 +
              0.6 * BlurredStep({static_cast<double>(x), static_cast<double>(y)}, at, angle, sigma);
          worst = std::max(worst, std::abs(ToneAt(picture, x, y) - expected));
        }
      }
      EXPECT_LT(worst, allowed) << "sigma " << sigma << " angle " << angle;
    }
  }
}

TEST(PhantomRender, ADiscKeepsItsAreaAndCentreToAThousandthOfAPixel) {
  for (const double radius : {10.0, 40.0}) {
    for (const PointPx centre : {PointPx{60.0, 55.0}, PointPx{60.33, 55.71}}) {
      const cv::Mat picture = RenderPhantom(CleanScene(120, 112, CircleAt(centre, radius), 1.3), 1);
      double sum = 0, sx = 0, sy = 0;
      for (int y = 0; y < 112; ++y) {
        for (int x = 0; x < 120; ++x) {
          const double share = (ToneAt(picture, x, y) - 0.2) / 0.6;
          sum += share;
          sx += share * x;
          sy += share * y;
        }
      }
      // A blur keeps area and centroid. An n-gon has n/2 r^2 sin(2 pi/n).
      const double area = 720 * radius * radius * std::sin(2 * kPi / 1440);
      EXPECT_NEAR(2 * std::sqrt(sum / kPi), 2 * std::sqrt(area / kPi), 1e-3);
      EXPECT_NEAR(sx / sum, centre.x, 1e-3);
      EXPECT_NEAR(sy / sum, centre.y, 1e-3);
    }
  }
}

TEST(PhantomRender, CoverageOfAnAxisParallelSquareIsExact) {
  const ContourPx square{{2.25, 3.5}, {6.75, 3.5}, {6.75, 5.0}, {2.25, 5.0}};
  const phantom::Tile tile = phantom::CoverageOf(square, 12, 10, 1);
  cv::Mat whole = cv::Mat::zeros(10, 12, CV_32FC1);
  tile.coverage.copyTo(whole(tile.cells));
  // Pixel 2 spans 1.5 .. 2.5, row 4 spans 3.5 .. 4.5, row 5 spans 4.5 .. 5.5.
  EXPECT_NEAR(whole.at<float>(4, 2), 0.25, 1e-6);
  EXPECT_NEAR(whole.at<float>(4, 4), 1.0, 1e-6);
  EXPECT_NEAR(whole.at<float>(4, 7), 0.25, 1e-6);
  EXPECT_NEAR(whole.at<float>(5, 4), 0.5, 1e-6);
  EXPECT_NEAR(whole.at<float>(3, 4), 0.0, 1e-6);
  EXPECT_NEAR(cv::sum(whole)[0], 4.5 * 1.5, 1e-5);
}

TEST(PhantomRender, CoverageOfADiscThatLeavesTheFrameIsThatOfItsPartInside) {
  // Centre on the left and the lower border: half and half again.
  for (const PointPx centre :
       {PointPx{-0.5, 30.0}, PointPx{30.0, 63.5}, PointPx{63.5, 30.0}, PointPx{30.0, -0.5}}) {
    const phantom::Tile tile = phantom::CoverageOf(CircleAt(centre, 20), 64, 64, 2);
    const double area = 720 * 400 * std::sin(2 * kPi / 1440);
    EXPECT_NEAR(cv::sum(tile.coverage)[0] / 4, area / 2, 0.01);
  }
}

TEST(PhantomRender, ToneOfBodyAndResinIsAsAskedForAtAnyGamma) {
  for (const double gamma : {1.0, 1.5, 2.2}) {
    PhantomScene scene = CleanScene(80, 80, CircleAt({40, 40}, 20), 1.0);
    scene.gamma = gamma;
    const cv::Mat picture = RenderPhantom(scene, 1);
    EXPECT_NEAR(ToneAt(picture, 40, 40), 0.8, 1e-3);
    EXPECT_NEAR(ToneAt(picture, 4, 4), 0.2, 1e-3);
  }
}

TEST(PhantomRender, NoiseInTheBodyHasTheStatedDeviation) {
  for (const double gamma : {1.0, 2.2}) {
    PhantomScene scene = CleanScene(200, 200, HalfPlane({-50, 100}, 0), 1.0);
    scene.gamma = gamma;
    scene.noise = 0.02;
    const cv::Mat picture = RenderPhantom(scene, 7);
    cv::Scalar mean, spread;
    cv::meanStdDev(picture, mean, spread);
    // 40 000 pixels: the deviation is known to 1 / sqrt(2 * 40000) = 0.35 %; 2 % is 5 of those.
    EXPECT_NEAR(spread[0] / 65535, 0.02, 0.02 * 0.02) << "gamma " << gamma;
    EXPECT_NEAR(mean[0] / 65535, 0.8, 2e-3) << "gamma " << gamma;
  }
}

TEST(PhantomRender, ALipLeavesTheFarSideOfTheEdgeAlone) {
  // The lip replaces lumen, not body: the true edge's cells are shared exactly.
  PhantomScene scene = CleanScene(100, 100, CircleAt({50, 50}, 40), 0.7);
  scene.lumens.push_back({{"a"}, CircleAt({50, 50}, 20.37), 0.1, false});
  const cv::Mat bare = RenderPhantom(scene, 1);
  PhantomPatch lip;
  lip.contour = CircleAt({50, 50}, 20.37);  // as if the whole lumen were covered by clear body
  lip.tone = 0.8;
  lip.opacity = 1;
  lip.lumen = 0;
  scene.effects.lips.push_back(lip);
  const cv::Mat covered = RenderPhantom(scene, 1);
  EXPECT_NEAR(ToneAt(bare, 50, 50), 0.1, 1e-3);
  for (int y = 25; y < 75; ++y) {
    for (int x = 25; x < 75; ++x) EXPECT_NEAR(ToneAt(covered, x, y), 0.8, 1e-3);
  }
}

TEST(PhantomRender, TheSameSeedGivesTheSameBytes) {
  const PhantomFace a = DrawPhantomFace(PhantomSet::kHard, 11);
  const PhantomFace b = DrawPhantomFace(PhantomSet::kHard, 11);
  EXPECT_EQ(a.truth_json, b.truth_json);
  EXPECT_EQ(a.design_json, b.design_json);
  const cv::Mat first = RenderPhantom(a.scene, a.picture_seed);
  const cv::Mat second = RenderPhantom(b.scene, b.picture_seed);
  EXPECT_EQ(cv::norm(first, second, cv::NORM_INF), 0.0);
  const cv::Mat other = RenderPhantom(a.scene, a.picture_seed + 1);
  EXPECT_GT(cv::norm(first, other, cv::NORM_INF), 0.0);
}

}  // namespace
}  // namespace cutface
