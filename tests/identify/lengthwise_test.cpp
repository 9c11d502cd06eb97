// Rows of turns: numbering by hand-made places, then whole lengthwise phantoms of known geometry.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <utility>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "identify/drawings.h"
#include "identify/lengthwise_rows.h"

namespace cutface {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

// A row of `count` turns from `start` on, those of `without` left out.
TurnRow Row(double start, double pitch, int count, const std::vector<int>& without = {}) {
  TurnRow row;
  for (int i = 0; i < count; ++i) {
    if (std::find(without.begin(), without.end(), i) == without.end())
      row.at.push_back(start + pitch * i);
  }
  row.from = start - pitch;
  row.to = start + pitch * count;
  return row;
}

TEST(TurnRows, MissingTurnsAreSkippedByNumber) {
  std::vector<TurnRow> rows{Row(100, 40, 8, {3, 4}), Row(120, 40, 8)};
  const TurnComb comb = NumberTurns(rows, 8, 15);
  EXPECT_EQ(comb.why, "");
  EXPECT_EQ(comb.doubt, "");
  EXPECT_NEAR(comb.pitch, 40, 1e-9);
  EXPECT_THAT(rows[0].slot, ElementsAre(0, 1, 2, 5, 6, 7));
  EXPECT_THAT(rows[1].slot, ElementsAre(0, 1, 2, 3, 4, 5, 6, 7));
}

// The free room at a row's ends says where it is one turn short.
TEST(TurnRows, AFirstTurnThatIsMissingLeavesRoomAtItsEnd) {
  std::vector<TurnRow> rows{Row(100, 40, 8, {0}), Row(120, 40, 8)};
  const TurnComb comb = NumberTurns(rows, 8, 15);
  EXPECT_EQ(comb.doubt, "");
  EXPECT_THAT(rows[0].slot, ElementsAre(1, 2, 3, 4, 5, 6, 7));
  rows = {Row(100, 40, 7), Row(120, 40, 8)};
  const TurnComb open = NumberTurns(rows, 8, 15);
  EXPECT_THAT(open.doubt, HasSubstr("which end"));
}

TEST(TurnRows, AWireOutOfPlaceKeepsItsNumberAndDoesNotBendThePitch) {
  std::vector<TurnRow> rows{Row(100, 40, 10), Row(120, 40, 10)};
  rows[0].at[4] += 13;
  const TurnComb comb = NumberTurns(rows, 10, 15);
  EXPECT_EQ(comb.why, "");
  EXPECT_NEAR(comb.pitch, 40, 1e-6);
  EXPECT_THAT(rows[0].slot, ElementsAre(0, 1, 2, 3, 4, 5, 6, 7, 8, 9));
}

TEST(TurnRows, AWireOnATakenPlaceIsAnExtraOne) {
  std::vector<TurnRow> rows{Row(100, 40, 8), Row(120, 40, 8)};
  rows[1].at.push_back(120 + 3.45 * 40);
  std::sort(rows[1].at.begin(), rows[1].at.end());
  const TurnComb comb = NumberTurns(rows, 8, 15);
  EXPECT_EQ(comb.why, "");
  EXPECT_THAT(rows[1].slot, ElementsAre(0, 1, 2, 3, kNoSlot, 4, 5, 6, 7));
}

// Eight turns about the middle of a part of 360: rooms of 30 and 50 at the ends of one row and the
// other. The frame leaves five and four of them, and the right end.
TEST(TurnRows, RowsThatTheFrameCutsAreNumberedFromTheEndThatIsSeen) {
  std::vector<TurnRow> rows{Row(150, 40, 5), Row(170, 40, 4)};
  for (TurnRow& row : rows) row.from_seen = false;
  rows[0].to = 150 + 4 * 40 + 30;
  rows[1].to = rows[0].to;
  ASSERT_EQ(NumberTurns(rows, 0, 15).why, "");
  ASSERT_TRUE(AnchorAtEnds(rows, 40, 8, 360));
  EXPECT_THAT(rows[0].slot, ElementsAre(3, 4, 5, 6, 7));
  EXPECT_THAT(rows[1].slot, ElementsAre(4, 5, 6, 7));
  EXPECT_EQ(rows[0].slots, 8);
  EXPECT_NEAR(rows[0].start, 150 - 3 * 40, 1e-9);
  rows = {Row(150, 40, 5), Row(170, 40, 4)};
  rows[0].from_seen = rows[0].to_seen = false;
  ASSERT_EQ(NumberTurns(rows, 0, 15).why, "");
  EXPECT_FALSE(AnchorAtEnds(rows, 40, 8, 360));
}

TEST(TurnRows, WhatIsTooFewOrTooUnevenIsNotNumbered) {
  std::vector<TurnRow> rows{Row(100, 40, 2), Row(120, 40, 8)};
  EXPECT_THAT(NumberTurns(rows, 8, 15).why, HasSubstr("too few"));
  rows = {Row(100, 40, 8), Row(120, 46, 8)};
  EXPECT_NE(NumberTurns(rows, 8, 15).why, "");
  rows = {Row(100, 40, 8), Row(120, 40, 8)};
  for (std::size_t i = 0; i < 8; ++i) rows[0].at[i] += i % 2 == 0 ? 11 : -11;
  for (std::size_t i = 0; i < 8; ++i) rows[1].at[i] += i % 3 == 0 ? 12 : -9;
  EXPECT_NE(NumberTurns(rows, 8, 15).why, "");
}

// --- whole faces
// ---------------------------------------------------------------------------------

constexpr double kPitch = 2.4;
constexpr double kCentre_px = 0.25;  // of a wire: well below what a cover needs
constexpr double kAxis_px = 0.5;

Design Coil() {
  const auto design = ParseDesign(R"({"format": "cutface/design", "version": 1, "units": "mm",
    "part": {"number": "T-2"}, "sections": {"face": {"kind": "lengthwise",
      "outline": {"rectangle": {"size": [1.9, 1.0], "corner_radius": 0.02}},
      "lumens": {"bore": {"rectangle": {"size": [1.8, 0.5], "corner_radius": 0.02}}},
      "wires": {"coil": {"count": 24, "round": 0.05, "on_diameters": [0.75]}}}}})",
                                  "test");
  EXPECT_THAT(design, IsOk());
  return design ? *design : Design{};
}

PhantomOrder Plain() {
  PhantomOrder order;
  order.width_px = 1000;
  order.height_px = 800;
  order.pitch_um = order.record_pitch_um = kPitch;
  order.rotation_deg = 7;
  return order;
}

struct Looked {
  PhantomScene scene;
  Section section;
};

// `retouch` may change the scene before it is rendered.
Looked LookAt(
    const PhantomOrder& order, std::uint64_t seed = 5,
    const std::function<void(PhantomScene&)>& retouch = [](PhantomScene&) {}) {
  const Design design = Coil();
  auto face = DrawPhantomOfDesign(design, "face", order, seed);
  EXPECT_THAT(face, IsOk());
  retouch(face->scene);
  IdentifyOptions options;
  options.gamma = 1;
  const auto section = IdentifySection(
      MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed), 8, "face"),
      Scale::Isotropic(kPitch), design.sections[0], options);
  EXPECT_THAT(section, IsOk());
  return {face->scene, section ? *section : Section{}};
}

int CountOf(const Section& section, WireState state) {
  return static_cast<int>(std::count_if(section.wires.begin(), section.wires.end(),
                                        [&](const WireTrace& w) { return w.state == state; }));
}

class LengthwiseLights : public ::testing::TestWithParam<PhantomLight> {};

TEST_P(LengthwiseLights, EveryTurnIsFoundAtItsPlaceAndSize) {
  PhantomOrder order = Plain();
  order.light = GetParam();
  const Looked looked = LookAt(order);
  ASSERT_EQ(looked.section.wire_layers.size(), 1u);
  EXPECT_EQ(looked.section.wire_layers[0].doubt, "");
  EXPECT_EQ(looked.section.wire_layers[0].turns, 12);
  ASSERT_EQ(looked.section.wires.size(), 24u);
  ASSERT_EQ(looked.scene.metals.size(), 24u);
  EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
  for (const WireTrace& wire : looked.section.wires) {
    SCOPED_TRACE(wire.no);
    const PointPx at{wire.centroid.x / kPitch, wire.centroid.y / kPitch};
    double nearest = 1e9;
    ContourPx metal;
    for (const PhantomMetal& m : looked.scene.metals) {
      const double d = Distance(Centroid(m.contour), at);
      if (d < nearest) {
        nearest = d;
        metal = m.contour;
      }
    }
    EXPECT_LT(nearest, kCentre_px);
    const Ellipse<FramePx> truth = MomentEllipse(metal);
    EXPECT_NEAR(wire.long_um / kPitch, 2 * truth.semi_major, kAxis_px);
    EXPECT_NEAR(wire.short_um / kPitch, 2 * truth.semi_minor, kAxis_px);
    EXPECT_EQ(wire.exposed_to, "");
  }
  // Metal is no void and no debris.
  EXPECT_TRUE(looked.section.voids.empty());
}

INSTANTIATE_TEST_SUITE_P(AllLights, LengthwiseLights,
                         ::testing::Values(PhantomLight::kReflected, PhantomLight::kFilled,
                                           PhantomLight::kWeak, PhantomLight::kTransmitted));

TEST(Lengthwise, NumbersRunFromLeftToRightAsDrawnRowByRow) {
  const Looked looked = LookAt(Plain());
  ASSERT_EQ(looked.section.wires.size(), 24u);
  const Section& section = looked.section;
  const double turn = section.placement.rotation_rad;
  for (std::size_t i = 0; i < 24; ++i) {
    EXPECT_EQ(section.wires[i].no, static_cast<int>(i) + 1);
    if (i % 12 == 0) continue;
    const PointUm step = Rotated(section.wires[i].centroid - section.wires[i - 1].centroid, -turn);
    EXPECT_GT(step.x, 0);
    EXPECT_LT(std::abs(step.y), 0.2 * step.x);
  }
}

TEST(Lengthwise, MissingAndPulledOutTurnsAreToldWhereTheyBelong) {
  PhantomOrder order = Plain();
  order.missing_wires = 2;
  order.pulled_out_wires = 1;
  for (std::uint64_t seed : {5, 6, 7}) {
    SCOPED_TRACE(seed);
    const Looked looked = LookAt(order, seed);
    EXPECT_EQ(CountOf(looked.section, WireState::kWire), 21);
    EXPECT_EQ(CountOf(looked.section, WireState::kMissing), 2);
    EXPECT_EQ(CountOf(looked.section, WireState::kPulledOut), 1);
    EXPECT_EQ(std::count_if(looked.section.voids.begin(), looked.section.voids.end(),
                            [](const Void& v) { return v.kind == VoidClass::kPulledOutWire; }),
              1);
  }
}

// A row of which a single turn is seen says nothing of where others are missing.
TEST(Lengthwise, ARowThatIsNotSeenLeavesTheLayerUncounted) {
  const Looked looked = LookAt(Plain(), 5, [](PhantomScene& scene) {
    const double middle = Centroid(scene.outline).y;
    bool first = true;
    std::erase_if(scene.metals, [&](const PhantomMetal& metal) {
      const bool lower = Centroid(metal.contour).y > middle + 60;
      return lower && !std::exchange(first, false);
    });
  });
  ASSERT_EQ(looked.section.wire_layers.size(), 1u);
  EXPECT_FALSE(looked.section.wire_layers[0].counted);
  EXPECT_THAT(looked.section.wire_layers[0].doubt, HasSubstr("too few to tell their pitch"));
  EXPECT_EQ(CountOf(looked.section, WireState::kMissing), 0);
}

TEST(Lengthwise, ADisplacedTurnIsCalledSoAndAllAreCounted) {
  PhantomOrder order = Plain();
  order.displaced_wires = 1;
  int displaced = 0;
  for (std::uint64_t seed : {9, 10, 11, 12}) {
    SCOPED_TRACE(seed);
    const Looked looked = LookAt(order, seed);
    ASSERT_EQ(looked.section.wire_layers.size(), 1u);
    EXPECT_TRUE(looked.section.wire_layers[0].counted);
    EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
    for (const WireTrace& wire : looked.section.wires) displaced += wire.displaced ? 1 : 0;
  }
  EXPECT_EQ(displaced, 4);
  const Looked plain = LookAt(Plain(), 9);
  for (const WireTrace& wire : plain.section.wires) EXPECT_FALSE(wire.displaced);
}

TEST(Lengthwise, WiresThatStickOutAreExposed) {
  PhantomOrder order = Plain();
  order.wires_exposed_to_lumen = 1;
  order.wires_exposed_outside = 1;
  int exposed = 0;
  for (std::uint64_t seed : {6, 7, 8}) {
    SCOPED_TRACE(seed);
    const Looked looked = LookAt(order, seed);
    for (const WireTrace& wire : looked.section.wires) {
      SCOPED_TRACE(wire.no);
      const PointPx at{wire.centroid.x / kPitch, wire.centroid.y / kPitch};
      const auto metal = std::min_element(looked.scene.metals.begin(), looked.scene.metals.end(),
                                          [&](const PhantomMetal& a, const PhantomMetal& b) {
                                            return Distance(Centroid(a.contour), at) <
                                                   Distance(Centroid(b.contour), at);
                                          });
      const bool out = LeastDistance(metal->contour, looked.scene.outline).distance == 0;
      const bool in = LeastDistance(metal->contour, looked.scene.lumens[0].contour).distance == 0;
      EXPECT_EQ(wire.exposed_to, out ? "outside" : in ? "bore" : "");
      exposed += out || in ? 1 : 0;
    }
  }
  EXPECT_EQ(exposed, 6);
}

// One row moved until its wires' middles lie so far beyond the bore's edge; all must be told bare.
Looked RowInTheBore(double beyond_um, bool bright_bore = false) {
  PhantomOrder order = Plain();
  if (bright_bore) order.light = PhantomLight::kFilled;
  Looked looked = LookAt(order, 5, [&](PhantomScene& scene) {
    if (bright_bore) {
      scene.body_tone = 0.3;
      scene.resin_tone = 0.62;
    }
    const double turn = Plain().rotation_deg * kPi / 180;
    const PointPx across{-std::sin(turn), std::cos(turn)}, middle = Centroid(scene.outline);
    const double in = ((375 - 250) + beyond_um) / kPitch;
    for (PhantomMetal& metal : scene.metals) {
      if (Dot(Centroid(metal.contour) - middle, across) < 0) continue;
      for (PointPx& p : metal.contour) p = p - in * across;
    }
  });
  EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
  const auto bare = std::count_if(looked.section.wires.begin(), looked.section.wires.end(),
                                  [](const WireTrace& w) { return w.exposed_to == "bore"; });
  EXPECT_EQ(bare, 12);
  return looked;
}

// A whole row pressed so far into the bore that three quarters of every wire lie bare.
TEST(Lengthwise, ARowThatLiesBareInTheBoreIsFoundAndExposed) {
  const Looked looked = RowInTheBore(12);
  ASSERT_EQ(looked.section.wire_layers.size(), 1u);
  EXPECT_TRUE(looked.section.wire_layers[0].counted);
}

// A row that has come away: each wire only touches the wall.
TEST(Lengthwise, ARowThatLiesLooseInTheBoreIsFoundAndTheBoreKeepsItsEdge) {
  const Looked looked = RowInTheBore(28);  // 3 um beyond touching
  for (const WireTrace& wire : looked.section.wires) EXPECT_TRUE(std::isfinite(wire.u_centroid_um));
  ASSERT_EQ(looked.section.lumens.size(), 1u);
  const double area = Area(looked.section.lumens[0].bore.Points()) / (kPitch * kPitch);
  EXPECT_NEAR(area / Area(looked.scene.lumens[0].contour), 1, 0.01);
}

// Filled with potting that shows half of the metal's tone: no ray ends in the body's there.
TEST(Lengthwise, ARowThatLiesBareInABoreBrighterThanTheWallIsFoundAndExposed) {
  const Looked looked = RowInTheBore(12, true);
  ASSERT_EQ(looked.section.lumens.size(), 1u);
  const double area = Area(looked.section.lumens[0].bore.Points()) / (kPitch * kPitch);
  EXPECT_NEAR(area / Area(looked.scene.lumens[0].contour), 1, 0.01);
}

// One turn pushed along its row until it touches the next: both are told, one of them displaced.
TEST(Lengthwise, TurnsThatTouchAreTwo) {
  const Looked looked = LookAt(Plain(), 5, [](PhantomScene& scene) {
    PhantomMetal& moved = scene.metals[4];
    const PointPx to = Centroid(scene.metals[5].contour) - Centroid(moved.contour);
    const double way = Norm(to) - 51.5 / kPitch;  // 1.5 um are left between them
    for (PointPx& p : moved.contour) p = p + (way / Norm(to)) * to;
  });
  EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
  EXPECT_EQ(CountOf(looked.section, WireState::kMissing), 0);
  EXPECT_EQ(CountOf(looked.section, WireState::kExtra), 0);
}

// The bore lies far off the tube's middle, and the drawing follows it: outline and rows do not.
TEST(Lengthwise, RowsAreFoundWhereTheBoreLiesFarOffTheMiddle) {
  const Looked looked = LookAt(Plain(), 5, [](PhantomScene& scene) {
    const double turn = Plain().rotation_deg * kPi / 180;
    const PointPx across{-std::sin(turn), std::cos(turn)};
    for (PointPx& p : scene.lumens[0].contour) p = p + (75 / kPitch) * across;
  });
  EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
  ASSERT_TRUE(looked.section.outline);
  const double area = Area(looked.section.outline->Points()) / (kPitch * kPitch);
  EXPECT_NEAR(area / Area(looked.scene.outline), 1, 0.005);
}

// Badly polished or smeared over: hardly brighter than the body.
TEST(Lengthwise, ADullTurnIsFoundAndItsEdgeIsDoubtful) {
  const Looked looked = LookAt(Plain(), 5, [](PhantomScene& scene) {
    for (const std::size_t k : {4u, 15u}) scene.metals[k].light = scene.body_tone * 1.25;
  });
  EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
  ASSERT_EQ(looked.section.wire_layers.size(), 1u);
  EXPECT_TRUE(looked.section.wire_layers[0].counted) << looked.section.wire_layers[0].doubt;
  const auto dull = std::count_if(looked.section.wires.begin(), looked.section.wires.end(),
                                  [](const WireTrace& w) { return !w.contour.doubt.empty(); });
  EXPECT_EQ(dull, 2);
}

// Where metal is dark a void of a wire's size looks like one: off the rows it is no extra turn.
TEST(Lengthwise, InTransmittedLightADarkSpotOffTheRowsIsNoExtraTurn) {
  PhantomOrder order = Plain();
  order.light = PhantomLight::kTransmitted;
  for (const double off : {1.6, 0.0}) {
    SCOPED_TRACE(off);
    const Looked looked = LookAt(order, 5, [&](PhantomScene& scene) {
      // Copies of two wires between the others, `off` sizes nearer to the bore.
      const PointPx first = Centroid(scene.metals[3].contour),
                    next = Centroid(scene.metals[4].contour);
      const PointPx along = 0.5 * (next - first);
      const double size = 50 / kPitch;  // of the drawn wire
      const PointPx inward = (off * size / Norm(along)) * PointPx{-along.y, along.x};
      const double way = Contains(scene.lumens[0].contour, first + 4.0 * inward) ? 1 : -1;
      PhantomMetal spot = scene.metals[3];
      for (PointPx& p : spot.contour) p = p + along + way * inward;
      scene.metals.push_back(spot);
    });
    EXPECT_EQ(CountOf(looked.section, WireState::kExtra), off > 0 ? 0 : 1);
    EXPECT_EQ(CountOf(looked.section, WireState::kWire), 24);
  }
}

// Without metal nothing is counted, and nothing is called missing either.
TEST(Lengthwise, APictureWithoutWiresSaysSo) {
  Design design = Coil();
  Design bare = design;
  bare.sections[0].wires.clear();
  const auto face = DrawPhantomOfDesign(bare, "face", Plain(), 5);
  ASSERT_THAT(face, IsOk());
  IdentifyOptions options;
  options.gamma = 1;
  const auto section = IdentifySection(
      MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed), 8, "face"),
      Scale::Isotropic(kPitch), design.sections[0], options);
  ASSERT_THAT(section, IsOk());
  ASSERT_EQ(section->wire_layers.size(), 1u);
  EXPECT_NE(section->wire_layers[0].doubt, "");
  EXPECT_EQ(section->wire_layers[0].turns, 0);
  EXPECT_TRUE(section->wires.empty());
}

}  // namespace
}  // namespace cutface
