// The wall by the clock against closed forms of two eccentric circles, and against the words.
#include "cutface/profile.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/measure.h"
#include "measure/faces.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using faces::CirclePoints;

constexpr int kCorners = 1440;
// A 1440-corner polygon dips 2.4e-3 um inside its 1000 um circle; two edges.
constexpr double kPolygonSlackUm = 5e-3;

TracedContour Traced(const ContourUm& points) {
  TracedContour traced;
  const ContourUm normals = OutwardNormals(points);
  for (std::size_t i = 0; i < points.size(); ++i)
    traced.vertices.push_back({points[i], normals[i], 0.1, VertexState::kMeasured, 0});
  return traced;
}

// A ring of outer radius 1000, inner radius 800, its bore shifted by `shift`.
Section Ring(PointUm shift) {
  Section section;
  section.outline = Traced(CirclePoints({0, 0}, 1000, kCorners));
  section.rings.push_back({"jacket", Traced(CirclePoints(shift, 800, kCorners))});
  return section;
}

// Seen from the bore's centre at distance e from the outer circle's, a place of the bore in
// direction t lies |c + a u(t)| from it: thickness = b - |e + a u(t)|, plane geometry.
TEST(ProfileWall, AnEccentricRingFollowsItsClosedForm) {
  const Section section = Ring({50, 0});
  const auto profile = ProfileWall(section, nullptr, Scale::Isotropic(1.0), "jacket");
  ASSERT_THAT(profile, IsOk());
  EXPECT_EQ(profile->places.size(), static_cast<std::size_t>(kCorners));
  for (const WallPlace& place : profile->places) {
    // Without a drawing the frame is the picture's: 12 o'clock is -y, 3 o'clock +x.
    const double t = place.clock_deg * std::numbers::pi / 180;
    const double away = std::hypot(50 + 800 * std::sin(t), 800 * std::cos(t));
    EXPECT_NEAR(place.thickness_um, 1000 - away, kPolygonSlackUm) << place.clock_deg;
    EXPECT_TRUE(place.seen);
  }
  EXPECT_NEAR(profile->places[profile->least].clock_deg, 90, 0.5);
  EXPECT_NEAR(profile->places[profile->greatest].clock_deg, 270, 0.5);
  EXPECT_NEAR(profile->places[profile->least].thickness_um, 150, kPolygonSlackUm);
  EXPECT_NEAR(profile->places[profile->greatest].thickness_um, 250, kPolygonSlackUm);
}

TEST(ProfileWall, ItsExtremesAndMeanAreTheRawValuesOfTheWords) {
  const Section section = Ring({30, -20});
  const Scale scale = Scale::Isotropic(1.0);
  const auto profile = ProfileWall(section, nullptr, scale, "jacket");
  ASSERT_THAT(profile, IsOk());
  MeasureOptions options;
  options.draws = 0;
  int compared = 0;
  for (const Measurement& m : MeasureSection(section, nullptr, nullptr, scale, options)) {
    if (m.of != std::vector<std::string>{"jacket"}) continue;
    const auto same = [&](double value) {
      EXPECT_NEAR(m.raw, value, 1e-9) << m.quantity;
      ++compared;
    };
    if (m.quantity == "thickness_min") same(profile->places[profile->least].thickness_um);
    if (m.quantity == "thickness_max") same(profile->places[profile->greatest].thickness_um);
    if (m.quantity == "thickness_mean") same(profile->mean_um);
  }
  EXPECT_EQ(compared, 3);
}

TEST(ProfileWall, ALumensWallLeadsToTheOutside) {
  Section section;
  section.outline = Traced(CirclePoints({0, 0}, 1000, kCorners));
  LumenTrace lumen;
  lumen.names = {"scope"};
  lumen.bore = Traced(CirclePoints({0, 400}, 300, kCorners));
  section.lumens.push_back(lumen);
  EXPECT_THAT(WallNames(section), testing::ElementsAre("scope"));
  const auto profile = ProfileWall(section, nullptr, Scale::Isotropic(1.0), "scope");
  ASSERT_THAT(profile, IsOk());
  EXPECT_EQ(profile->kind, WallProfile::Kind::kToOutside);
  EXPECT_NEAR(profile->places[profile->least].thickness_um, 300, kPolygonSlackUm);
  EXPECT_NEAR(profile->places[profile->least].clock_deg, 180, 0.5);
}

TEST(ProfileWall, ABridgedStretchIsNotSeen) {
  Section section = Ring({0, 0});
  section.rings[0].inner.vertices[10].state = VertexState::kBridged;
  const auto profile = ProfileWall(section, nullptr, Scale::Isotropic(1.0), "jacket");
  ASSERT_THAT(profile, IsOk());
  EXPECT_EQ(std::count_if(profile->places.begin(), profile->places.end(),
                          [](const WallPlace& p) { return !p.seen; }),
            1);
}

TEST(ProfileWall, AWallThatIsNotThereIsAnError) {
  EXPECT_THAT(ProfileWall(Ring({0, 0}), nullptr, Scale::Isotropic(1.0), "sleeve"),
              FailsWith(Code::kNotFound));
}

TEST(DatumFrame, DirectionsAndPlacesGoThereAndBack) {
  const DatumFrame frame{{100, -50}, 0.7, true, ""};
  for (double deg = 0; deg < 360; deg += 15) {
    EXPECT_NEAR(frame.ClockDeg(frame.centre + 300.0 * frame.Direction(deg)), deg, 1e-9);
  }
  const PointUm p{17, 23};
  EXPECT_NEAR(Distance(frame.FromPicture(frame.ToPicture(p)), p), 0, 1e-9);
}

}  // namespace
}  // namespace cutface
