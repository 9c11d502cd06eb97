// Two planes through the whole pipeline: rendered faces of one part at two stations, whose combs
// and sleeve stand where the geometry of a helix and of a tipped axis puts them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "cutface/planes.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr double kDegPerRad = 180 / std::numbers::pi;
constexpr double kSigmas = 3;  // of the stated uncertainty

class RenderedPlanes : public ::testing::Test {
 protected:
  void SetUp() override {
    auto design =
        ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
    ASSERT_THAT(design, IsOk());
    design_ = *design;
  }
  SectionResult Inspected(const std::string& section, const PhantomOrder& order,
                          double station_um) {
    const SectionDesign* plane = design_.FindSection(section);
    const auto face = DrawPhantomOfDesign(design_, section, order, kSeed);
    EXPECT_THAT(face, IsOk());
    const Micrograph micrograph = MicrographFromPixels(
        RenderPhantom(face->scene, face->picture_seed), face->scene.bits, "face.png");
    CalibrationRecord record;
    record.id = "test";
    InspectOptions options;
    options.sample.serial = "1";
    options.sample.station_mm = station_um / 1000;
    auto result =
        Inspect(micrograph, record, Scale::Isotropic(order.pitch_um), design_, *plane, options);
    EXPECT_THAT(result, IsOk());
    return *result;
  }

  static constexpr std::uint64_t kSeed = 7;
  Design design_;
};

// Combs of a braid at angle a to the axis, on diameter D, turn by 2 z tan(a) / D each over z.
TEST_F(RenderedPlanes, TheTurnOfTheCombsGivesTheBraidAngle) {
  const WireLayerDesign& braid = design_.FindSection("shaft-mid")->wires.at(0);
  const double angle = *braid.braid_angle_deg;
  const double diameter = 0.5 * (braid.on_diameters_um[0] + braid.on_diameters_um[1]);
  const double apart_um = 150;
  PhantomOrder order;
  const SectionResult first = Inspected("shaft-mid", order, 0);
  order.comb_turn_deg = 2 * apart_um * std::tan(angle / kDegPerRad) / diameter * kDegPerRad;
  order.rotation_deg = 33;  // the second block lies as it was potted
  const SectionResult second = Inspected("shaft-mid", order, apart_um);
  PlaneOptions options;
  options.u_station_um = 2;
  const std::vector<SectionResult> results = {first, second};
  const auto stack = StackPlanes(results, options);
  ASSERT_THAT(stack, IsOk());
  ASSERT_EQ(stack->braids.size(), 1u);
  const PlanePairFigure& figure = stack->braids[0];
  ASSERT_TRUE(figure.told) << figure.reason;
  EXPECT_NEAR(figure.angle_deg, angle, kSigmas * figure.u_angle_deg);
  EXPECT_LT(figure.u_angle_deg, 1.0);
  const double picks = 16 * std::tan(angle / kDegPerRad) / (2 * std::numbers::pi * diameter / 1000);
  EXPECT_NEAR(figure.picks_per_mm, picks, kSigmas * figure.u_picks_per_mm);
}

// The sleeve stands off by 5 um at one station and by 20 um more, the same way, 2 mm further.
TEST_F(RenderedPlanes, TheSleevesDriftGivesTheTiltOfABond) {
  const double apart_um = 2000, near_um = 5, far_um = 25;
  PhantomOrder order;
  order.bond_offset_um = near_um;
  const SectionResult first = Inspected("bond-distal", order, 0);
  order.bond_offset_um = far_um;
  order.rotation_deg = -50;
  const SectionResult second = Inspected("bond-distal", order, apart_um);
  PlaneOptions options;
  options.u_station_um = 5;
  const std::vector<SectionResult> results = {first, second};
  const auto stack = StackPlanes(results, options);
  ASSERT_THAT(stack, IsOk());
  ASSERT_EQ(stack->tilts.size(), 1u);
  const PlanePairFigure& figure = stack->tilts[0];
  ASSERT_TRUE(figure.told) << figure.reason;
  const double tilt = std::atan((far_um - near_um) / apart_um) * kDegPerRad;
  EXPECT_NEAR(figure.angle_deg, tilt, kSigmas * figure.u_angle_deg);
  EXPECT_LT(figure.u_angle_deg, 0.1);
}

}  // namespace
}  // namespace cutface
