#include "cutface/segment.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "cutface/phantom.h"

namespace cutface {
namespace {

ContourPx Round(PointPx centre, double radius) {
  ContourPx contour;
  for (int k = 0; k < 360; ++k) {
    const double a = k * M_PI / 180;
    contour.push_back({centre.x + radius * std::cos(a), centre.y + radius * std::sin(a)});
  }
  return contour;
}

double EqualAreaDiameter(const ContourPx& contour) { return 2 * std::sqrt(Area(contour) / M_PI); }

// A disc of 400 px with three lumens in an 800 x 600 picture.
PhantomScene Disc(PhantomLight light) {
  PhantomScene scene;
  scene.width_px = 800;
  scene.height_px = 600;
  scene.light = light;
  scene.outline = Round({380, 290}, 200);
  const double lumen = light == PhantomLight::kReflected ? 0.05 : 0.3;
  for (const auto& [x, y, r] :
       {std::tuple{300.0, 290.0, 60.0}, {430.0, 350.0, 40.0}, {440.0, 230.0, 25.0}}) {
    PhantomLumen hole;
    hole.names = {"x"};
    hole.contour = Round({x, y}, r);
    hole.tone = lumen;
    scene.lumens.push_back(hole);
  }
  if (light == PhantomLight::kWeak) {
    scene.resin_tone = 0.45;
    for (PhantomLumen& hole : scene.lumens) hole.tone = 0.45;
  }
  if (light == PhantomLight::kTransmitted) {
    scene.resin_tone = 0.9;
    for (PhantomLumen& hole : scene.lumens) hole.tone = 0.88;
  }
  return scene;
}

Micrograph Picture(const PhantomScene& scene, std::uint64_t seed = 1) {
  return MicrographFromPixels(RenderPhantom(scene, seed), scene.bits, "disc");
}

class InEveryLight : public testing::TestWithParam<PhantomLight> {};

TEST_P(InEveryLight, PartAndLumensAreProposedToAPixel) {
  const PhantomScene scene = Disc(GetParam());
  const auto face = ProposeFace(Picture(scene));
  ASSERT_TRUE(face) << face.error().message;
  EXPECT_NEAR(EqualAreaDiameter(face->outline), 400, 2);
  EXPECT_FALSE(face->cut_by_frame);
  ASSERT_EQ(face->holes.size(), 3u);
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_NEAR(EqualAreaDiameter(face->holes[k].contour),
                EqualAreaDiameter(scene.lumens[k].contour), 2);
    EXPECT_LT(Distance(Centroid(face->holes[k].contour), Centroid(scene.lumens[k].contour)), 1);
    EXPECT_TRUE(face->holes[k].main_tone);
    EXPECT_GT(face->holes[k].clear_share, 0.95);
    EXPECT_NEAR(face->holes[k].step, scene.lumens[k].tone / scene.body_tone - 1, 0.06);
  }
  EXPECT_NEAR(face->outline_step, scene.resin_tone / scene.body_tone - 1, 0.06);
  EXPECT_NEAR(face->body_tone, scene.body_tone, 0.03);
}

INSTANTIATE_TEST_SUITE_P(Lights, InEveryLight,
                         testing::Values(PhantomLight::kReflected, PhantomLight::kFilled,
                                         PhantomLight::kWeak, PhantomLight::kTransmitted),
                         [](const auto& light) {
                           return std::string(PhantomLightName(light.param));
                         });

TEST(Segment, AHolderAndAScaleBarAtTheFrameAreNoPart) {
  PhantomScene scene = Disc(PhantomLight::kReflected);
  PhantomPatch holder;
  holder.contour = {{-5, -5}, {90, -5}, {90, 605}, {-5, 605}};
  holder.tone = 0.9;
  scene.effects.holders.push_back(holder);
  scene.effects.scale_bar = true;
  scene.effects.scale_bar_corner = 2;
  scene.effects.scale_bar_px = 120;
  scene.effects.scale_bar_text = "300 um";
  const auto face = ProposeFace(Picture(scene));
  ASSERT_TRUE(face) << face.error().message;
  EXPECT_NEAR(EqualAreaDiameter(face->outline), 400, 2);
  EXPECT_EQ(face->holes.size(), 3u);
}

TEST(Segment, UnevenLightDoesNotHideAPaleBody) {
  PhantomScene scene = Disc(PhantomLight::kWeak);
  scene.effects.slope = 0.25;
  scene.effects.slope_rad = 0.7;
  scene.effects.bowl = 0.1;
  const auto face = ProposeFace(Picture(scene));
  ASSERT_TRUE(face) << face.error().message;
  EXPECT_NEAR(EqualAreaDiameter(face->outline), 400, 2);
  EXPECT_EQ(face->holes.size(), 3u);
}

TEST(Segment, WhereTheFrameCutsThePartTheOutlineRunsOutside) {
  PhantomScene scene = Disc(PhantomLight::kReflected);
  for (PointPx& p : scene.outline) p.x += 260;
  for (PhantomLumen& hole : scene.lumens) {
    for (PointPx& p : hole.contour) p.x += 260;
  }
  const auto face = ProposeFace(Picture(scene));
  ASSERT_TRUE(face) << face.error().message;
  EXPECT_TRUE(face->cut_by_frame);
  EXPECT_GT(BoundingBox(face->outline).greatest.x, 800);
  EXPECT_NEAR(BoundingBox(face->outline).least.x, 440, 2);
  EXPECT_EQ(face->holes.size(), 3u);
}

TEST(Segment, ASeptumOfThreePixelsPartsTwoLumens) {
  PhantomScene scene = Disc(PhantomLight::kReflected);
  scene.lumens.resize(2);
  scene.lumens[0].contour = Round({380 - 71.5, 290}, 70);
  scene.lumens[1].contour = Round({380 + 71.5, 290}, 70);
  const auto face = ProposeFace(Picture(scene));
  ASSERT_TRUE(face) << face.error().message;
  EXPECT_EQ(face->holes.size(), 2u);
}

TEST(Segment, NoiseAloneIsNoSection) {
  PhantomScene scene = Disc(PhantomLight::kReflected);
  scene.lumens.clear();
  scene.resin_tone = scene.body_tone;
  scene.noise = 0.05;
  const auto face = ProposeFace(Picture(scene));
  ASSERT_FALSE(face);
  EXPECT_EQ(face.error().code, Code::kNoSection);
}

TEST(Segment, TwoPartsSideBySideAreToldAndNotChosenFrom) {
  PhantomScene scene = Disc(PhantomLight::kReflected);
  scene.lumens.clear();
  scene.outline = Round({210, 290}, 150);
  cv::Mat picture = RenderPhantom(scene, 1);
  cv::circle(picture, {590, 300}, 150, cv::Scalar(255 * scene.body_tone), cv::FILLED, cv::LINE_AA);
  const auto face = ProposeFace(MicrographFromPixels(picture, 8, "two"));
  ASSERT_FALSE(face);
  EXPECT_EQ(face.error().code, Code::kTwoParts);
}

}  // namespace
}  // namespace cutface
