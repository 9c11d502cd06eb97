// Wires: combs, matching, halo, and whole faces of exactly known geometry.
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "identify/wire_astray.h"
#include "identify/wire_comb.h"
#include "identify/wire_halo.h"
#include "identify/wire_mend.h"
#include "identify/wire_ruler.h"
#include "identify/wire_weave.h"
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

TEST(Combs, OfTwoThatWantOneSlotTheLessOddOneGetsIt) {
  std::vector<double> angles = CombAngles(8, 0.10);
  for (double a : CombAngles(8, 0.42)) angles.push_back(a);
  // Exactly in the slot of wire 3, which itself lies a degree off, but far off the layer.
  angles.push_back(angles[3]);
  angles[3] += 1.0 * kDegree;
  std::vector<double> odd(angles.size(), 0.0);
  const CombFit blind = FitCombs(angles, Braid(16), odd);
  ASSERT_EQ(blind.spare.size(), 1u);
  EXPECT_EQ(blind.spare.front(), 3);
  odd.back() = 4;
  const CombFit fit = FitCombs(angles, Braid(16), odd);
  ASSERT_EQ(fit.spare.size(), 1u);
  EXPECT_EQ(fit.spare.front(), 16);
}

TEST(Combs, HandsThatLieOnOneAnotherAreNotToldApart) {
  std::vector<double> angles = CombAngles(8, 0.1);
  Random random(5);
  for (double& a : angles) a += 0.3 * kDegree * random.Normal();
  for (double a : CombAngles(8, 0.1)) angles.push_back(a + 0.3 * kDegree * random.Normal());
  EXPECT_TRUE(FitCombs(angles, Braid(16)).crossed);
}

// A braid's hands at heights of 100 and 110, one over the other by turns or everywhere.
struct Woven {
  std::vector<double> angles, heights;
};
Woven WovenBraid(double apart, double scatter, bool by_turns, Random& random) {
  Woven woven;
  for (int family = 0; family < 2; ++family) {
    const std::vector<double> comb = CombAngles(8, 0.1 + family * apart);
    for (int i = 0; i < 8; ++i) {
      woven.angles.push_back(comb[static_cast<std::size_t>(i)] + scatter * random.Normal());
      woven.heights.push_back(((by_turns ? i : 0) + family) % 2 == 0 ? 100 : 110);
    }
  }
  return woven;
}

WeavePlan PlanOfWoven() {
  WeavePlan plan;
  plan.combs = Braid(16);
  plan.radius = 105;
  plan.rise = 5;
  return plan;
}

// Where hands cross within the scatter of their wires, heights part them.
TEST(Weave, HeightsPartCrossingHands) {
  for (const bool by_turns : {false, true}) {
    SCOPED_TRACE(by_turns);
    Random random(6);
    const Woven woven = WovenBraid(1.2 * kDegree, 0.5 * kDegree, by_turns, random);
    EXPECT_TRUE(FitCombs(woven.angles, Braid(16)).crossed);
    const WeaveFit fit = FitWeave(woven.angles, woven.heights, {}, PlanOfWoven());
    EXPECT_FALSE(fit.combs.crossed);
    int wrong[2] = {0, 0};
    for (const CombSlot& slot : fit.combs.slots) {
      ASSERT_GE(slot.wire, 0);
      ++wrong[(slot.wire / 8 == slot.family) ? 0 : 1];
      EXPECT_NEAR(fit.heights.At(slot), woven.heights[static_cast<std::size_t>(slot.wire)], 1);
    }
    EXPECT_EQ(std::min(wrong[0], wrong[1]), 0);
  }
}

// Without a pattern of heights hands that lie on one another stay untold.
TEST(Weave, HandsOfOneHeightThatLieOnOneAnotherAreNotToldApart) {
  Random random(7);
  Woven woven = WovenBraid(0, 0.3 * kDegree, false, random);
  for (double& h : woven.heights) h = 105 + 0.5 * random.Normal();
  EXPECT_TRUE(FitWeave(woven.angles, woven.heights, {}, PlanOfWoven()).combs.crossed);
}

// Displaced beyond the gate a wire still takes the only slot that is empty, rather than its
// neighbour's.
TEST(Combs, AWireFarFromItsSlotTakesTheEmptyOne) {
  std::vector<double> angles = CombAngles(12, 0.10);
  angles[4] += 0.62 * 2 * M_PI / 12;
  CombPlan plan;
  plan.groups = 12;
  plan.scatter_rad = 1.0 * kDegree;
  plan.gate_rad = 0.42 * 2 * M_PI / 12;
  plan.reach_rad = 0.8 * 2 * M_PI / 12;
  const CombFit fit = FitCombs(angles, plan);
  EXPECT_TRUE(fit.spare.empty());
  for (const CombSlot& slot : fit.slots) {
    ASSERT_GE(slot.wire, 0);
    const double off =
        std::remainder(angles[static_cast<std::size_t>(slot.wire)] - slot.angle, 2 * M_PI);
    EXPECT_NEAR(off, slot.wire == 4 ? 0.62 * 2 * M_PI / 12 : 0, 1e-6);
  }
}

// Hands 2 degrees apart: of a pair that crosses one wire is gone, and the other's height says of
// which hand it is, though it lies a little nearer to the empty slot.
TEST(Weave, HeightSaysOfWhichHandALoneWireIs) {
  Random random(8);
  Woven woven = WovenBraid(2 * kDegree, 0.1 * kDegree, false, random);
  woven.angles[10] -= 1.2 * kDegree;  // of the high hand, the third
  woven.angles.erase(woven.angles.begin() + 2);
  woven.heights.erase(woven.heights.begin() + 2);
  const WeaveFit fit = FitWeave(woven.angles, woven.heights, {}, PlanOfWoven());
  const auto empty = std::find_if(fit.combs.slots.begin(), fit.combs.slots.end(),
                                  [](const CombSlot& s) { return s.wire < 0; });
  ASSERT_NE(empty, fit.combs.slots.end());
  EXPECT_NEAR(fit.heights.At(*empty), 100, 1);
  EXPECT_NEAR(std::remainder(empty->angle - 0.1 - 2 * 2 * M_PI / 8, 2 * M_PI), 0, 0.2 * kDegree);
}

// An extra wire nearer to a slot's place than its own wire, but far off its height, stays without.
TEST(Weave, AnExtraWireOffTheHeightOfASlotDoesNotTakeIt) {
  Random random(9);
  Woven woven = WovenBraid(12 * kDegree, 0.2 * kDegree, true, random);
  const double there = woven.angles[4];
  woven.angles[4] += 1 * kDegree;
  woven.angles.push_back(there);
  woven.heights.push_back(110);
  const WeaveFit fit = FitWeave(woven.angles, woven.heights, {}, PlanOfWoven());
  ASSERT_EQ(fit.combs.spare.size(), 1u);
  EXPECT_EQ(fit.combs.spare.front(), 16);
}

// Pushed along and off its height at once a wire still takes its empty slot: one displaced wire is
// likelier than one missing and one extra.
TEST(Weave, AWirePushedAlongAndOffItsHeightKeepsItsSlot) {
  Random random(10);
  Woven woven = WovenBraid(12 * kDegree, 0.2 * kDegree, true, random);
  woven.angles[4] += 8 * kDegree;
  woven.heights[4] += 8;
  WeavePlan plan = PlanOfWoven();
  plan.combs.reach_rad = 10 * kDegree;
  const WeaveFit fit = FitWeave(woven.angles, woven.heights, {}, plan);
  EXPECT_TRUE(fit.combs.spare.empty());
}

// One wire pushed far out, one gone, and heights by turns: most of them still say where the middle
// is.
TEST(Weave, TheCircleOfMostWiresIsTheLayers) {
  std::vector<PointPx> at;
  for (int i = 0; i < 7; ++i) {  // the eighth is gone
    const double a = i * M_PI / 4 + (i % 2) * 0.1, r = i == 2 ? 160 : i % 2 == 0 ? 102 : 98;
    at.push_back({2 + r * std::cos(a), -1 + r * std::sin(a)});
  }
  const LayerCircle circle = CircleOfMost(at);
  EXPECT_NEAR(circle.centre.x, 2, 1.5);
  EXPECT_NEAR(circle.centre.y, -1, 1.5);
  EXPECT_NEAR(circle.radius, 100, 2);
}

// A blob of metal of the drawn shape, turned by 0.3 rad against the layer's circle.
WireField FieldOf(const std::vector<FittedWire>& wires) {
  WireField field;
  field.roi = cv::Rect(0, 0, 300, 300);
  field.frame = LayerFrame({Eigen::Matrix2d::Identity(), Eigen::Vector2d(150, 150)}, 1);
  field.metal = cv::Mat1f(300, 300, 0.0f);
  field.tone = cv::Mat1f(300, 300, 1.0f);
  field.known = cv::Mat1b(300, 300, uchar{1});
  for (int y = 0; y < 300; ++y) {
    for (int x = 0; x < 300; ++x) {
      for (const FittedWire& wire : wires) {
        const double d = DistanceToWire(wire, {x - 150.0, y - 150.0});
        field.metal(y, x) =
            std::max(field.metal(y, x), static_cast<float>(std::clamp(0.5 - d, 0.0, 1.0)));
      }
    }
  }
  return field;
}

// What is told without a root is told rightly: beyond the bounds nothing else would come out.
TEST(WireRuler, WithinItsBoundsItIsTheDistance) {
  constexpr double kLeast = -3, kMost = 2;
  Random random(11);
  for (const bool flat : {false, true}) {
    for (int k = 0; k < 20; ++k) {
      FittedWire wire;
      wire.angle = 6 * random.Uniform();
      wire.radius = 60 + 200 * random.Uniform();
      wire.tilt = k % 2 == 0 ? 0 : random.Normal();
      wire.size = {6 + 12 * random.Uniform(), 3 + 3 * random.Uniform(), flat};
      const WireRuler ruler(wire);
      for (int i = 0; i < 400; ++i) {
        const PointPx q = wire.At() + PointPx{12 * random.Normal(), 12 * random.Normal()};
        const double true_distance = DistanceToWire(wire, q);
        EXPECT_EQ(std::clamp(ruler.Within(q, kLeast, kMost), kLeast, kMost),
                  std::clamp(true_distance, kLeast, kMost));
      }
    }
  }
}

TEST(WiresAstray, ATiltedWireIsFoundWithItsTilt) {
  for (const bool flat : {false, true}) {
    FittedWire built;
    built.angle = 0.7;
    built.radius = 90;
    built.size = {20, 6, flat};
    built.tilt = 0.3;
    FitLimits limits;
    limits.inner = 20;
    limits.outer = 130;
    const auto found = LoneWires(FieldOf({built}), built.size, limits);
    ASSERT_EQ(found.size(), 1u);
    EXPECT_LT(Distance(found[0].At(), built.At()), 0.6);
    EXPECT_NEAR(found[0].tilt, 0.3, 0.03);
  }
}

// Two wires that touch, of which the search found one: the other is what is left of the metal.
TEST(WiresAstray, AWireThatTouchesAnotherIsFoundInWhatThatOneLeaves) {
  const WireSize size{9, 6, false};
  FittedWire one, other;
  one.size = other.size = size;
  one.angle = 0.2;
  one.radius = 90;
  other.angle = 0.2;
  other.radius = 90 + 2 * 6;
  FitLimits limits;
  limits.inner = 70;
  limits.outer = 120;
  limits.soft_px = 1.5;
  const std::vector<FittedWire> found = WiresInRest(FieldOf({one, other}), {one}, size, limits);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_LT(Distance(found.front().At(), other.At()), 0.5);
  EXPECT_TRUE(WiresInRest(FieldOf({one, other}), {one, other}, size, limits).empty());
}

TEST(WiresAstray, WiresInEachOtherAreNoticedTouchingOnesAreNot) {
  const WireSize size{9, 6, false};
  FittedWire one, other;
  one.size = other.size = size;
  one.radius = 90;
  other.radius = 90 + 2 * 6;
  EXPECT_FALSE(AnyOverlap({one, other}, size));
  other.radius = 90 + 1.4 * 6;
  EXPECT_TRUE(AnyOverlap({one, other}, size));
}

TEST(WiresAstray, MaskedWiresAreNotFoundAgainAndWhatIsLeftIsNoticed) {
  FittedWire one, other;
  one.angle = 0.2;
  one.radius = other.radius = 90;
  other.angle = 1.2;
  one.size = other.size = {9, 7, false};
  FitLimits limits;
  limits.inner = 20;
  limits.outer = 130;
  WireField field = FieldOf({one, other});
  EXPECT_EQ(UnexplainedBlobs(field, {one}, one.size, 2, 60, 120, 0.35), 1);
  EXPECT_EQ(UnexplainedBlobs(field, {one, other}, one.size, 2, 60, 120, 0.35), 0);
  MaskWires(field, {one}, 0.8);
  const auto found = LoneWires(field, one.size, limits);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_LT(Distance(found[0].At(), other.At()), 0.2);
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

// The corner of a square bore under a wire's glow: between what is seen of both sides the drawing
// says how it goes on. The bore is built 3 um off the drawing.
TEST(Mending, AHiddenCornerIsTakenFromTheDrawingMovedToBothEnds) {
  TracedContour contour;
  ContourUm nominal;
  const auto square = [](int i, double half) {
    const int side = i / 100;
    const double t = half * (i % 100 - 50) / 50.0;
    const PointUm at[4] = {{t, -half}, {half, t}, {-t, half}, {-half, -t}};
    return at[side];
  };
  std::vector<char> flagged(400, 0);
  for (int i = 0; i < 400; ++i) {
    nominal.push_back(square(i, 100));
    PointUm p = square(i, 100) + PointUm{3, 3};
    const bool hidden = i > 90 && i < 110;
    if (hidden) p = p + PointUm{-12, 12};
    flagged[static_cast<std::size_t>(i)] = hidden ? 1 : 0;
    contour.vertices.push_back({p, {}, 0.1});
  }
  ASSERT_TRUE(BridgeAsDrawn(flagged, nominal, contour));
  for (int i = 0; i < 400; ++i) {
    const PointUm p = contour.vertices[static_cast<std::size_t>(i)].at;
    EXPECT_LT(Distance(p, square(i, 100) + PointUm{3, 3}), 3.5) << i;
  }
  EXPECT_EQ(contour.vertices[100].state, VertexState::kBridged);
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

TEST_F(WiresOfFaces, ADisplacedWireKeepsItsNumberAndIsCalledSo) {
  PhantomOrder order;
  order.displaced_wires = 1;
  Look(order, 16);
  EXPECT_EQ(Count(WireState::kWire), 16);
  int displaced = 0;
  for (const Json& wire : truth_["wires"]) {
    const WireTrace* told = Nearest(At(wire));
    EXPECT_EQ(told->no, wire["no"].get<int>());
    displaced += wire["displaced"].get<bool>() ? 1 : 0;
    EXPECT_EQ(told->displaced, wire["displaced"].get<bool>());
  }
  EXPECT_EQ(displaced, 1);
}

// The bore's true edge is the faint one between potting and liner, not the mandrel's: half a pixel
// in diameter is what liner and blur leave unsure here.
TEST_F(WiresOfFaces, AMandrelLeftInIsSeenThroughAndTheBoreIsMeasuredAroundIt) {
  PhantomOrder order;
  order.mandrel = "scope";
  Look(order, 19);
  EXPECT_EQ(Count(WireState::kWire), 16);
  ASSERT_FALSE(section_.lumens.empty());
  for (const LumenTrace& lumen : section_.lumens) {
    const bool scope = lumen.names.front() == "scope";
    EXPECT_EQ(lumen.state, scope ? LumenState::kFilled : LumenState::kOpen) << lumen.Key();
    if (!scope) continue;
    ContourPx truth;
    for (const Json& p : truth_["lumens"]["scope"]["contour_px"])
      truth.push_back({p[0].get<double>(), p[1].get<double>()});
    const double seen = 2 * std::sqrt(Area(View(lumen.bore.Points())) / M_PI) / kPitch_um;
    EXPECT_NEAR(seen, 2 * std::sqrt(Area(View(truth)) / M_PI), 0.5);
  }
}

// Dark against dark: where noise leaves no doubt that a hole is lighter than metal it is told.
TEST_F(WiresOfFaces, InTransmittedLightAHoleIsToldOrTheLayerIsNotCounted) {
  for (const double noise : {0.008, 0.06}) {
    PhantomOrder order;
    order.light = PhantomLight::kTransmitted;
    order.pulled_out_wires = 1;
    order.noise = noise;
    Look(order, 17);
    ASSERT_EQ(section_.wire_layers.size(), 1u);
    EXPECT_TRUE(!section_.wire_layers[0].counted || Count(WireState::kPulledOut) == 1) << noise;
    if (noise < 0.01) {
      EXPECT_EQ(Count(WireState::kPulledOut), 1);
    }
  }
}

TEST_F(WiresOfFaces, AWireInALumenIsExposedToIt) {
  PhantomOrder order;
  order.wires_exposed_to_lumen = 1;
  Look(order, 18);
  for (const Json& wire : truth_["wires"]) {
    const WireTrace* told = Nearest(At(wire));
    EXPECT_EQ(told->exposed_to, wire["exposed_to"].get<std::string>());
  }
}

// 19 filaments of 10 um: 7.7 px are seen apart; 4.2 px are counted right or not at all.
TEST_F(WiresOfFaces, FilamentsAreCountedWhereTheyAreSeenApart) {
  PhantomOrder order;
  order.pitch_um = order.record_pitch_um = 1.3;
  order.width_px = 2400;
  order.height_px = 2200;
  const auto face = DrawPhantomOfDesign(design_, "shaft-mid", order, 19);
  ASSERT_THAT(face, IsOk());
  truth_ = Json::parse(face->truth_json);
  const Micrograph picture = MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed),
                                                  face->scene.bits, "face");
  const auto section =
      IdentifySection(picture, Scale::Isotropic(1.3), *design_.FindSection("shaft-mid"));
  ASSERT_THAT(section, IsOk());
  ASSERT_EQ(section->fibres.size(), truth_["fibres"].size());
  for (std::size_t k = 0; k < section->fibres.size(); ++k) {
    const FibreTrace& told = section->fibres[k];
    const Json& built = truth_["fibres"][k];
    EXPECT_EQ(told.doubt, "");
    EXPECT_EQ(told.filaments, built["filaments"].get<int>());
    for (const Json& at : built["at_px"]) {
      double least = 1e9;
      for (PointUm p : told.at)
        least =
            std::min(least, Distance((1 / 1.3) * p, {at[0].get<double>(), at[1].get<double>()}));
      EXPECT_LT(least, 0.15 * 7.7);  // of a filament: its neighbours pull at it
    }
  }
  Look({}, 19);  // 2.4 um: filaments of 4.2 px
  ASSERT_EQ(section_.fibres.size(), 1u);
  EXPECT_TRUE(section_.fibres[0].filaments == 19 || !section_.fibres[0].doubt.empty());
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
