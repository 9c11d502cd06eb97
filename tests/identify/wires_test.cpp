// Wires: combs, matching, halo, and whole faces of exactly known geometry.
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "identify/wire_comb.h"
#include "identify/wire_halo.h"
#include "identify/wire_mend.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Json = nlohmann::json;
constexpr double kDegree = M_PI / 180;

CombPlan Braid(int carriers) {
  CombPlan plan;
  plan.families = 2;
  plan.groups = carriers / 2;
  plan.scatter_rad = 1.0 * kDegree;
  plan.gate_rad = 0.42 * 2 * M_PI / plan.groups;
  return plan;
}

std::vector<double> CombAngles(int groups, double phase) {
  std::vector<double> angles;
  for (int i = 0; i < groups; ++i) angles.push_back(phase + 2 * M_PI * i / groups);
  return angles;
}

TEST(Matching, TakesTheLeastSumNotTheNearestFirst) {
  // Greedy takes 1 + 100; the least sum is 2 + 3.
  EXPECT_EQ(LeastCostMatching({{1, 2}, {3, 100}}), (std::vector<int>{1, 0}));
  EXPECT_EQ(LeastCostMatching({{5, 9, 1}, {4, 8, 2}}), (std::vector<int>{2, 0}));
}

TEST(Combs, TwoHandsOfABraidAreFoundWithAWireMissingAndOneTooMany) {
  std::vector<double> angles = CombAngles(8, 0.10);
  for (double a : CombAngles(8, 0.42)) angles.push_back(a);
  angles.erase(angles.begin() + 3);
  angles.push_back(0.26);
  const CombFit fit = FitCombs(angles, Braid(16));
  const auto empty = std::count_if(fit.slots.begin(), fit.slots.end(),
                                   [](const CombSlot& s) { return s.wire < 0; });
  EXPECT_EQ(empty, 1);
  ASSERT_EQ(fit.spare.size(), 1u);
  EXPECT_EQ(fit.spare.front(), 15);
  EXPECT_FALSE(fit.crossed);
  const double step = 2 * M_PI / 8;
  double near[2];
  for (int f = 0; f < 2; ++f) {
    near[f] = std::min(std::abs(std::remainder(fit.phase[f] - 0.10, step)),
                       std::abs(std::remainder(fit.phase[f] - 0.42, step)));
    EXPECT_LT(near[f], 1e-6);
  }
}

TEST(Combs, HandsThatLieOnOneAnotherAreNotToldApart) {
  std::vector<double> angles = CombAngles(8, 0.1);
  Random random(5);
  for (double& a : angles) a += 0.3 * kDegree * random.Normal();
  for (double a : CombAngles(8, 0.1)) angles.push_back(a + 0.3 * kDegree * random.Normal());
  EXPECT_TRUE(FitCombs(angles, Braid(16)).crossed);
}

// Where hands cross within the scatter of their wires, the one-over-two pattern of heights parts
// them.
TEST(Combs, HeightsPartCrossingHands) {
  Random random(6);
  std::vector<double> angles, heights;
  for (int family = 0; family < 2; ++family) {
    const std::vector<double> comb = CombAngles(8, 0.1 + family * 1.2 * kDegree);
    for (int i = 0; i < 8; ++i) {
      angles.push_back(comb[static_cast<std::size_t>(i)] + 0.5 * kDegree * random.Normal());
      heights.push_back((i + family) % 2 == 0 ? 100 : 110);
    }
  }
  CombFit fit = FitCombs(angles, Braid(16));
  PartByHeight(angles, heights, 5, Braid(16), fit);
  EXPECT_FALSE(fit.crossed);
  int wrong[2] = {0, 0};
  for (const CombSlot& slot : fit.slots) {
    ASSERT_GE(slot.wire, 0);
    ++wrong[(slot.wire / 8 == slot.family) ? 0 : 1];
  }
  EXPECT_EQ(std::min(wrong[0], wrong[1]), 0);
}

// A disc blurred by sigma shows 1 - exp(-r^2 / 2 sigma^2) at its centre (closed form).
TEST(HaloOfWires, ABlurredDiscHasItsClosedForm) {
  const WireSize disc{3, 3, false};
  EXPECT_NEAR(BlurredAlong(disc, 2, 0), 1 - std::exp(-9.0 / 8), 1e-3);
  EXPECT_NEAR(BlurredAcross(disc, 2, 0), 1 - std::exp(-9.0 / 8), 1e-3);
}

TEST(HaloOfWires, TheLevelAcrossTellsTheLengthAlong) {
  const WireSize wire{11, 6, false};
  const double blur = 1.5, level = 0.15;
  WireSize seen = wire;
  double low = 0, high = 10;
  for (int k = 0; k < 50; ++k) {
    const double t = 0.5 * (low + high);
    (BlurredAcross(wire, blur, wire.across + t - 2) > level ? low : high) = t;
  }
  seen.across = wire.across + low - 2;
  low = 0, high = 10;
  for (int k = 0; k < 50; ++k) {
    const double t = 0.5 * (low + high);
    (BlurredAlong(wire, blur, wire.along + t - 3) > level ? low : high) = t;
  }
  seen.along = wire.along + low - 3;
  const Halo halo = TellHalo(seen, wire.across, blur);
  EXPECT_NEAR(halo.level, level, 0.01);
  EXPECT_NEAR(seen.along - halo.along, wire.along, 0.05);
}

TEST(Mending, ABridgedArcOfACircleKeepsToTheCircle) {
  TracedContour contour;
  for (int i = 0; i < 360; ++i) {
    const double a = i * kDegree, r = i > 20 && i < 40 ? 95.0 : 100.0;
    contour.vertices.push_back({{r * std::cos(a), r * std::sin(a)}, {}, 0.1});
  }
  std::vector<char> flagged(360, 0);
  for (int i = 19; i < 42; ++i) flagged[static_cast<std::size_t>(i)] = 1;
  ASSERT_TRUE(BridgeContour(flagged, contour));
  for (const ContourVertex& v : contour.vertices) EXPECT_NEAR(Norm(v.at), 100, 0.15);
  EXPECT_EQ(contour.vertices[30].state, VertexState::kBridged);
  EXPECT_EQ(contour.vertices[100].state, VertexState::kMeasured);
}

// --- whole faces ---------------------------------------------------------------------------------

class WiresOfFaces : public testing::Test {
 protected:
  void SetUp() override {
    auto read = ReadDesign(CUTFACE_SOURCE_DIR "/sample-images/LV-7504.design.json");
    ASSERT_THAT(read, IsOk());
    design_ = *read;
  }
  void Look(const PhantomOrder& order, std::uint64_t seed) {
    const auto face = DrawPhantomOfDesign(design_, "shaft-mid", order, seed);
    ASSERT_THAT(face, IsOk());
    truth_ = Json::parse(face->truth_json);
    const Micrograph picture = MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed),
                                                    face->scene.bits, "face");
    auto section =
        IdentifySection(picture, Scale::Isotropic(kPitch_um), *design_.FindSection("shaft-mid"));
    ASSERT_THAT(section, IsOk());
    section_ = *section;
  }
  int Count(WireState state) const {
    return static_cast<int>(std::count_if(section_.wires.begin(), section_.wires.end(),
                                          [&](const WireTrace& w) { return w.state == state; }));
  }
  static PointUm At(const Json& wire) {
    return {kPitch_um * wire["centre_px"][0].get<double>(),
            kPitch_um * wire["centre_px"][1].get<double>()};
  }
  const WireTrace* Nearest(PointUm p) const {
    const WireTrace* best = nullptr;
    for (const WireTrace& w : section_.wires) {
      if (best == nullptr || Distance(w.centroid, p) < Distance(best->centroid, p)) best = &w;
    }
    return best;
  }
  static constexpr double kPitch_um = 2.4;
  Design design_;
  Json truth_;
  Section section_;
};

// Wires of 21 px: places to a tenth of a pixel, axes to half a pixel.
TEST_F(WiresOfFaces, EveryWireStandsWhereItWasBuilt) {
  Look({}, 11);
  ASSERT_EQ(section_.wires.size(), 16u);
  EXPECT_EQ(Count(WireState::kWire), 16);
  for (const Json& wire : truth_["wires"]) {
    const WireTrace* told = Nearest(At(wire));
    ASSERT_NE(told, nullptr);
    EXPECT_LT(Distance(told->centroid, At(wire)), 0.2 * kPitch_um);
    EXPECT_NEAR(told->long_um, kPitch_um * wire["axes_px"][0].get<double>(), 0.6 * kPitch_um);
    EXPECT_NEAR(told->short_um, kPitch_um * wire["axes_px"][1].get<double>(), 0.3 * kPitch_um);
    EXPECT_EQ(told->no, wire["no"].get<int>());
    EXPECT_EQ(told->family, wire["family"].get<int>());
  }
}

TEST_F(WiresOfFaces, MissingAndPulledOutWiresAreToldApart) {
  PhantomOrder order;
  order.missing_wires = 1;
  order.pulled_out_wires = 1;
  Look(order, 12);
  EXPECT_EQ(Count(WireState::kMissing), 1);
  EXPECT_EQ(Count(WireState::kPulledOut), 1);
  for (const Json& wire : truth_["wires"]) {
    const WireTrace* told = Nearest(At(wire));
    EXPECT_EQ(WireStateName(told->state), wire["state"].get<std::string>());
  }
  const auto holes = std::count_if(section_.voids.begin(), section_.voids.end(), [](const Void& v) {
    return v.kind == VoidClass::kPulledOutWire;
  });
  EXPECT_EQ(holes, 1);
}

TEST_F(WiresOfFaces, AnExtraWireHasNoSlot) {
  PhantomOrder order;
  order.extra_wires = 1;
  Look(order, 13);
  EXPECT_EQ(Count(WireState::kExtra), 1);
  EXPECT_EQ(Count(WireState::kWire), 16);
}

TEST_F(WiresOfFaces, InTransmittedLightWiresAreDarkAndFoundAlike) {
  PhantomOrder order;
  order.light = PhantomLight::kTransmitted;
  order.missing_wires = 1;
  Look(order, 14);
  EXPECT_EQ(Count(WireState::kWire), 15);
  EXPECT_EQ(Count(WireState::kMissing), 1);
}

TEST_F(WiresOfFaces, AWireOutOfTheJacketIsExposedAndTheOutlineKeepsItsCourse) {
  PhantomOrder order;
  order.wires_exposed_outside = 1;
  Look(order, 15);
  int exposed = 0;
  for (const Json& wire : truth_["wires"]) {
    const WireTrace* told = Nearest(At(wire));
    EXPECT_EQ(told->exposed_to, wire["exposed_to"].get<std::string>());
    exposed += told->exposed_to == "outside" ? 1 : 0;
  }
  EXPECT_EQ(exposed, 1);
  ASSERT_TRUE(section_.outline);
  ContourUm truth;
  for (const Json& p : truth_["outline"]["contour_px"])
    truth.push_back({kPitch_um * p[0].get<double>(), kPitch_um * p[1].get<double>()});
  for (const ContourVertex& v : section_.outline->vertices)
    EXPECT_LT(LeastDistance(v.at, truth).distance, 2.5 * kPitch_um);
}

}  // namespace
}  // namespace cutface
