// Whole faces: rendered pictures of a known part, identified with its drawing.
#include "cutface/identify.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "cutface/phantom.h"
#include "identify/drawings.h"

namespace cutface {
namespace {

using namespace drawings;

constexpr double kPitch = 3.2;  // um per px: the part's 1.6 mm are 500 px

PhantomOrder Plain() {
  PhantomOrder order;
  order.width_px = 700;
  order.height_px = 600;
  order.pitch_um = order.record_pitch_um = kPitch;
  return order;
}

struct Looked {
  PhantomScene scene;
  Result<Section> section = Fail(Code::kInternal, "not run");
};

Result<Section> Identified(const Design& design, const cv::Mat& pixels) {
  IdentifyOptions options;
  options.gamma = 1;
  return IdentifySection(MicrographFromPixels(pixels, 8, "face"), Scale::Isotropic(kPitch),
                         design.sections[0], options);
}

Looked LookAt(const Design& design, const PhantomOrder& order, std::uint64_t seed = 3) {
  Looked looked;
  const auto face = DrawPhantomOfDesign(design, "face", order, seed);
  EXPECT_THAT(face, IsOk());
  if (!face) return looked;
  looked.scene = face->scene;
  looked.section = Identified(design, RenderPhantom(face->scene, face->picture_seed));
  return looked;
}

double DiameterPx(const TracedContour& contour) {
  return 2 * std::sqrt(Area(contour.Points()) / kPi) / kPitch;
}

const PhantomLumen* Built(const PhantomScene& scene, const std::string& name) {
  for (const PhantomLumen& lumen : scene.lumens) {
    if (std::find(lumen.names.begin(), lumen.names.end(), name) != lumen.names.end()) return &lumen;
  }
  return nullptr;
}

void ExpectTrue(const Looked& looked, double most_px) {
  ASSERT_THAT(looked.section, IsOk());
  const Section& section = *looked.section;
  ASSERT_TRUE(section.outline.has_value());
  EXPECT_NEAR(DiameterPx(*section.outline), 2 * std::sqrt(Area(looked.scene.outline) / kPi),
              most_px);
  for (const PhantomLumen& built : looked.scene.lumens) {
    SCOPED_TRACE(built.names.front());
    const LumenTrace* found = section.FindLumen(built.names.front());
    ASSERT_NE(found, nullptr);
    EXPECT_EQ(found->names, built.names);
    EXPECT_TRUE(found->state == LumenState::kOpen || found->state == LumenState::kFilled)
        << LumenStateName(found->state);
    if (found->bore.vertices.empty()) continue;
    EXPECT_NEAR(DiameterPx(found->bore), 2 * std::sqrt(Area(built.contour) / kPi), most_px);
    const PointUm at = Centroid(found->bore.Points());
    const PointPx truth = Centroid(built.contour);
    EXPECT_LT(Distance(PointPx{at.x / kPitch, at.y / kPitch}, truth), 2);
  }
}

constexpr double kDiameterError = 0.5;  // px

class IdentifyInLight : public testing::TestWithParam<PhantomLight> {};

TEST_P(IdentifyInLight, NamesStatesAndDiametersAreTrue) {
  PhantomOrder order = Plain();
  order.light = GetParam();
  order.rotation_deg = 37;
  ExpectTrue(LookAt(FourLumens(), order), kDiameterError);
}

INSTANTIATE_TEST_SUITE_P(AllLights, IdentifyInLight,
                         testing::Values(PhantomLight::kReflected, PhantomLight::kFilled,
                                         PhantomLight::kWeak, PhantomLight::kTransmitted),
                         [](const auto& tested) {
                           return std::string(PhantomLightName(tested.param));
                         });

TEST(Identify, TurnedAndMirroredFacesKeepTheirNames) {
  for (const bool mirrored : {false, true}) {
    for (const double turn : {-100.0, 163.0}) {
      SCOPED_TRACE(fmt::format("{} {}", turn, mirrored));
      PhantomOrder order = Plain();
      order.rotation_deg = turn;
      order.mirrored = mirrored;
      order.shift_px = {21, -14};
      const Looked looked = LookAt(FourLumens(), order);
      ExpectTrue(looked, kDiameterError);
      if (!looked.section) continue;
      const Placement& placement = looked.section->placement;
      EXPECT_EQ(placement.mirrored, mirrored);
      EXPECT_NEAR(std::remainder(placement.rotation_rad - turn * kPi / 180, 2 * kPi), 0, 0.03);
      EXPECT_TRUE(placement.names_proven);
      EXPECT_TRUE(placement.interchangeable.empty());
    }
  }
}

TEST(Identify, AnObliqueCutIsTold) {
  PhantomOrder order = Plain();
  order.oblique_deg = 20;
  order.oblique_axis_deg = 30;
  const Looked looked = LookAt(FourLumens(), order);
  ExpectTrue(looked, kDiameterError);
  if (looked.section) {
    EXPECT_NEAR(looked.section->placement.oblique_rad * 180 / kPi, 20, 4);
  }
}

TEST(Identify, ABrokenSeptumIsTwoMergedLumens) {
  PhantomOrder order = Plain();
  order.first = "wash";
  order.second = "return";
  order.breach_um = 60;
  const Looked looked = LookAt(FourLumens(), order);
  ASSERT_THAT(looked.section, IsOk());
  const LumenTrace* wash = looked.section->FindLumen("wash");
  ASSERT_NE(wash, nullptr);
  EXPECT_EQ(wash->state, LumenState::kMerged);
  EXPECT_EQ(wash->names.size(), 2u);
  EXPECT_EQ(looked.section->FindLumen("return"), wash);
  const PhantomLumen* built = Built(looked.scene, "wash");
  ASSERT_NE(built, nullptr);
  EXPECT_NEAR(DiameterPx(wash->bore), 2 * std::sqrt(Area(built->contour) / kPi), 1);
  EXPECT_EQ(looked.section->FindLumen("scope")->state, LumenState::kOpen);
  EXPECT_EQ(looked.section->FindLumen("cuff")->state, LumenState::kOpen);
}

TEST(Identify, AMissingLumenIsNotFoundAndTheOthersKeepTheirNames) {
  for (const std::string name : {"cuff", "scope"}) {
    SCOPED_TRACE(name);
    PhantomOrder order = Plain();
    order.missing = name;
    const Looked looked = LookAt(FourLumens(), order);
    ExpectTrue(looked, kDiameterError);
    if (!looked.section) continue;
    const LumenTrace* missing = looked.section->FindLumen(name);
    ASSERT_NE(missing, nullptr);
    EXPECT_EQ(missing->state, LumenState::kNotFound);
    EXPECT_TRUE(missing->bore.vertices.empty());
  }
}

TEST(Identify, AFilledLumenIsFoundAndTheOthersKeepTheirNames) {
  PhantomOrder order = Plain();
  order.filled = "scope";
  ExpectTrue(LookAt(FourLumens(), order), kDiameterError);
}

// The part pushed to the right until the cuff (drawn at x = 0.52 mm) lies across the frame.
TEST(Identify, WhatTheFrameCutsIsCutOff) {
  PhantomOrder order = Plain();
  order.shift_px = {185, 0};
  const Looked looked = LookAt(FourLumens(), order);
  ASSERT_THAT(looked.section, IsOk());
  ASSERT_TRUE(looked.section->outline.has_value());
  EXPECT_FALSE(looked.section->outline->whole);
  EXPECT_EQ(looked.section->FindLumen("cuff")->state, LumenState::kCutOff);
  EXPECT_EQ(looked.section->FindLumen("scope")->state, LumenState::kOpen);
  EXPECT_EQ(looked.section->FindLumen("wash")->state, LumenState::kOpen);
}

TEST(Identify, EachNameAppearsExactlyOnce) {
  for (const bool broken : {false, true}) {
    PhantomOrder order = Plain();
    if (broken) {
      order.first = "wash";
      order.second = "return";
      order.breach_um = 60;
    }
    order.missing = "cuff";
    const Looked looked = LookAt(FourLumens(), order);
    ASSERT_THAT(looked.section, IsOk());
    std::vector<std::string> names;
    for (const LumenTrace& lumen : looked.section->lumens)
      names.insert(names.end(), lumen.names.begin(), lumen.names.end());
    std::sort(names.begin(), names.end());
    EXPECT_EQ(names, (std::vector<std::string>{"cuff", "return", "scope", "wash"}));
  }
}

TEST(Identify, ASymmetricPartListsItsInterchangeableNames) {
  const Design design = Drawn(
      Round(0, 0, 1.6), {{"a", Wedge(20, 160, 0.1, 0.62)}, {"b", Wedge(200, 340, 0.1, 0.62)}});
  const Looked looked = LookAt(design, Plain());
  ASSERT_THAT(looked.section, IsOk());
  ASSERT_EQ(looked.section->placement.interchangeable.size(), 1u);
  EXPECT_EQ(looked.section->placement.interchangeable[0].size(), 2u);
}

TEST(Identify, AFlatPictureHasNoSection) {
  EXPECT_THAT(Identified(FourLumens(), cv::Mat(600, 700, CV_8UC1, cv::Scalar(120))),
              FailsWith(Code::kNoSection));
  cv::Mat noisy(600, 700, CV_8UC1);
  cv::theRNG().state = 12345;
  cv::randn(noisy, 120, 4);
  EXPECT_THAT(Identified(FourLumens(), noisy), FailsWith(Code::kNoSection));
}

TEST(Identify, TwoPartsInOnePictureAreRefused) {
  const Design design = FourLumens();
  PhantomOrder order = Plain();
  order.width_px = 560;
  std::vector<cv::Mat> halves;
  for (const double turn : {10.0, 75.0}) {
    order.rotation_deg = turn;
    const auto face = DrawPhantomOfDesign(design, "face", order, 3);
    ASSERT_THAT(face, IsOk());
    halves.push_back(RenderPhantom(face->scene, face->picture_seed));
  }
  cv::Mat both;
  cv::hconcat(halves, both);
  EXPECT_THAT(Identified(design, both), FailsWith(Code::kTwoParts));
}

TEST(Identify, APictureBlurredBeyondUseIsRefused) {
  const Design design = FourLumens();
  const auto face = DrawPhantomOfDesign(design, "face", Plain(), 3);
  ASSERT_THAT(face, IsOk());
  for (const double blur : {8.0, 14.0, 40.0}) {
    cv::Mat soft;
    cv::GaussianBlur(RenderPhantom(face->scene, face->picture_seed), soft, {}, blur);
    const auto section = Identified(design, soft);
    ASSERT_FALSE(section.has_value()) << "blur " << blur;
    EXPECT_TRUE(section.error().code == Code::kOutOfFocus ||
                section.error().code == Code::kNoSection)
        << blur << ": " << section.error().message;
  }
}

}  // namespace
}  // namespace cutface
