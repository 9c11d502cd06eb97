// Names when tones alone do not tell them: thin septa, lumens that all lie off centre, near twins.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "cutface/identify.h"
#include "identify/drawings.h"
#include "identify/name_score.h"

namespace cutface {
namespace {

using namespace drawings;

constexpr double kPitch = 4;  // um per px: 1.6 mm are 400 px
constexpr double kMiddle = 260;

struct Lie {
  double turn_deg = 0;
  bool mirrored = false;
  PointUm lumens_off;  // of all lumens, in the drawing's frame, um
};

PointPx Placed(const Lie& pose, PointUm p) {
  if (pose.mirrored) p.x = -p.x;
  const Eigen::Vector2d q =
      Eigen::Rotation2Dd(pose.turn_deg * kPi / 180) * Eigen::Vector2d(p.x, p.y) / kPitch;
  return {kMiddle + q.x(), kMiddle + q.y()};
}

// The drawing in plain tones with camera noise: 0.5 body, 0.3 potting, 0.1 lumens.
cv::Mat Painted(const SectionDesign& plane, const Lie& pose) {
  cv::Mat1f image(520, 520, 0.3f);
  const auto fill = [&](const ContourUm& contour, PointUm off, double tone) {
    std::vector<cv::Point> points;
    for (const PointUm p : contour) {
      const PointPx q = Placed(pose, p + off);
      points.push_back(
          {static_cast<int>(std::lround(256 * q.x)), static_cast<int>(std::lround(256 * q.y))});
    }
    cv::fillPoly(image, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(tone), cv::LINE_8,
                 8);
  };
  fill(plane.outline.contour, {}, 0.5);
  for (const LumenDesign& lumen : plane.lumens) fill(lumen.shape.contour, pose.lumens_off, 0.1);
  cv::GaussianBlur(image, image, {}, 1.0);
  cv::Mat1f noise(image.size());
  cv::RNG random(5);
  random.fill(noise, cv::RNG::NORMAL, 0, 0.01);
  image += noise;
  cv::Mat pixels;
  image.convertTo(pixels, CV_8U, 255);
  return pixels;
}

Result<Section> Look(const Design& design, const Lie& pose) {
  IdentifyOptions options;
  options.gamma = 1;
  return IdentifySection(MicrographFromPixels(Painted(design.sections[0], pose), 8, "face"),
                         Scale::Isotropic(kPitch), design.sections[0], options);
}

void ExpectNamed(const Design& design, const Lie& pose) {
  SCOPED_TRACE(fmt::format("{} {}", pose.turn_deg, pose.mirrored));
  const auto section = Look(design, pose);
  ASSERT_THAT(section, IsOk());
  EXPECT_TRUE(section->placement.names_proven);
  for (const LumenDesign& lumen : design.sections[0].lumens) {
    SCOPED_TRACE(lumen.name);
    const LumenTrace* found = section->FindLumen(lumen.name);
    ASSERT_NE(found, nullptr);
    ASSERT_FALSE(found->bore.vertices.empty());
    const PointUm at = Centroid(found->bore.Points());
    const PointUm nominal = Centroid(std::span<const PointUm>(lumen.shape.contour));
    EXPECT_LT(
        Distance(PointPx{at.x / kPitch, at.y / kPitch}, Placed(pose, nominal + pose.lumens_off)),
        2.5);
  }
}

// Three wedges between septa of 13 um at their thinnest: what sets them apart are 12 degrees of
// their angles.
Design ThreeWedges() {
  return Drawn(Round(0, 0, 1.6), {{"wash", Wedge(1.5, 106.5, 0.25, 0.7)},
                                  {"return", Wedge(109.5, 226.5, 0.25, 0.7)},
                                  {"scope", Wedge(229.5, 358.5, 0.25, 0.7)}});
}

TEST(Names, WedgesOfUnlikeAnglesAreToldAtEveryTurn) {
  const Design design = ThreeWedges();
  for (const double turn : {-150.0, -77.0, 3.0, 60.0, 121.0})
    ExpectNamed(design, {turn, false, {}});
}

TEST(Names, AMirroredPictureIsToldByTheOrderOfThreeSizes) {
  const Design design = Drawn(Round(0, 0, 1.6), {{"wash", Wedge(1.5, 78.5, 0.25, 0.7)},
                                                 {"return", Wedge(81.5, 198.5, 0.25, 0.7)},
                                                 {"scope", Wedge(201.5, 358.5, 0.25, 0.7)}});
  const auto section = Look(design, {40, true, {}});
  ASSERT_THAT(section, IsOk());
  EXPECT_TRUE(section->placement.mirrored);
  ExpectNamed(design, {40, true, {}});
}

TEST(Names, LumensThatAllLieOffCentreKeepTheirNames) {
  const Design design = Drawn(
      Round(0, 0, 1.6), {{"wash", Round(0.12, 0.06, 0.22)}, {"return", Round(-0.18, 0.16, 0.28)}});
  for (const double turn : {0.0, 95.0}) ExpectNamed(design, {turn, false, {70, 40}});
}

// Two lumens of 0.50 and 0.515 mm: parts vary by more than that.
TEST(Names, NearTwinsAreNotProvenAndNotInterchangeable) {
  const Design design =
      Drawn(Round(0, 0, 1.6), {{"wash", Round(0.36, 0, 0.5)}, {"return", Round(-0.36, 0, 0.515)}});
  const auto section = Look(design, {25, false, {}});
  ASSERT_THAT(section, IsOk());
  EXPECT_FALSE(section->placement.names_proven);
  EXPECT_TRUE(section->placement.interchangeable.empty());
  ASSERT_EQ(section->lumens.size(), 2u);
  EXPECT_THAT(section->lumens[0].bore.doubt, testing::HasSubstr("this would be return"));
  EXPECT_THAT(section->lumens[1].bore.doubt, testing::HasSubstr("this would be wash"));
}

// One lumen far off its place and the other one alone could be either; the size of the first one
// still tells which it is.
TEST(Names, ALumenFarOffItsPlaceStillTellsItsSize) {
  const auto with_return_at = [](double x) {
    return Drawn(Round(0, 0, 1.6), {{"wash", Round(0.4, 0, 0.5)}, {"return", Round(x, 0, 0.44)}});
  };
  const Design drawn = with_return_at(-0.4), built = with_return_at(-0.24);
  const Lie pose{25, false, {}};
  IdentifyOptions options;
  options.gamma = 1;
  const auto section =
      IdentifySection(MicrographFromPixels(Painted(built.sections[0], pose), 8, "face"),
                      Scale::Isotropic(kPitch), drawn.sections[0], options);
  ASSERT_THAT(section, IsOk());
  const LumenTrace* wash = section->FindLumen("wash");
  ASSERT_NE(wash, nullptr);
  const PointUm at = Centroid(wash->bore.Points());
  EXPECT_LT(Distance(PointPx{at.x / kPitch, at.y / kPitch}, Placed(pose, {400, 0})), 2.5);
}

TEST(Names, TwinsAreInterchangeableAndOtherwiseProven) {
  const Design design =
      Drawn(Round(0, 0, 1.6), {{"wash", Round(0.36, 0, 0.5)}, {"return", Round(-0.36, 0, 0.5)}});
  const auto section = Look(design, {25, false, {}});
  ASSERT_THAT(section, IsOk());
  ASSERT_EQ(section->placement.interchangeable.size(), 1u);
  EXPECT_TRUE(section->placement.names_proven);
}

// One region would get a name that another one bears already: both are in doubt.
TEST(Names, WhoseNameAnotherRegionMayBearIsInDoubtToo) {
  const Design design = FourLumens();
  const SectionDesign& plane = design.sections.front();
  const LabelScore labels(plane);
  const std::vector<RegionPool> pools;
  Pose pose;
  pose.outline = {{0, 0}, {100, 0}, {100, 100}, {0, 100}};
  const NameScore score(plane, labels, pools, pose);
  Naming told, rival;
  told.lumens = {{0}, {1}, {2}};
  rival.lumens = {{1}, {1}, {2}};
  EXPECT_THAT(score.Renamed(told, rival),
              testing::UnorderedElementsAre(testing::Pair(0, 1), testing::Pair(1, -1)));
}

}  // namespace
}  // namespace cutface
