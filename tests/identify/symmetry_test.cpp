// Which names the drawing itself cannot tell apart.
#include "identify/symmetry.h"

#include <gmock/gmock.h>

#include "identify/drawings.h"

namespace cutface {
namespace {

using namespace drawings;
using testing::IsEmpty;
using testing::UnorderedElementsAre;

TEST(InterchangeableNames, FourEqualWedgesAreAllAlike) {
  const Design design = Drawn(Round(0, 0, 2), {{"a", Wedge(5, 85, 0.2, 0.8)},
                                               {"b", Wedge(95, 175, 0.2, 0.8)},
                                               {"c", Wedge(185, 265, 0.2, 0.8)},
                                               {"d", Wedge(275, 355, 0.2, 0.8)}});
  const auto groups = InterchangeableNames(design.sections[0]);
  ASSERT_EQ(groups.size(), 1u);
  EXPECT_THAT(groups[0], UnorderedElementsAre("a", "b", "c", "d"));
}

Lumens ThreeRounds(double last_diameter) {
  Lumens lumens;
  for (int k = 0; k < 3; ++k) {
    const double a = 2 * kPi * k / 3;
    lumens.push_back({std::string(1, static_cast<char>('a' + k)),
                      Round(0.5 * std::cos(a), 0.5 * std::sin(a), k == 2 ? last_diameter : 0.5)});
  }
  return lumens;
}

TEST(InterchangeableNames, ThreeEqualRoundsAreAllAlike) {
  const auto groups = InterchangeableNames(Drawn(Round(0, 0, 2), ThreeRounds(0.5)).sections[0]);
  ASSERT_EQ(groups.size(), 1u);
  EXPECT_THAT(groups[0], UnorderedElementsAre("a", "b", "c"));
}

// The two equal ones are told apart by the way round from the third: only a mirror swaps them.
TEST(InterchangeableNames, OneOddRoundTellsTheOthersApart) {
  EXPECT_THAT(InterchangeableNames(Drawn(Round(0, 0, 2), ThreeRounds(0.42)).sections[0]),
              IsEmpty());
}

TEST(InterchangeableNames, AMiddleLumenIsNotPartOfTheRing) {
  Lumens lumens = ThreeRounds(0.5);
  lumens.push_back({"middle", Round(0, 0, 0.3)});
  const auto groups = InterchangeableNames(Drawn(Round(0, 0, 2), lumens).sections[0]);
  ASSERT_EQ(groups.size(), 1u);
  EXPECT_THAT(groups[0], UnorderedElementsAre("a", "b", "c"));
}

// Two halves of a round shaft swap by half a turn; in an outline with a flat they do not.
TEST(InterchangeableNames, AFlatOnTheOutlineTellsTwoHalvesApart) {
  const Lumens halves = {{"left", Wedge(95, 265, 0.1, 0.7)}, {"right", Wedge(-85, 85, 0.1, 0.7)}};
  EXPECT_EQ(InterchangeableNames(Drawn(Round(0, 0, 2), halves).sections[0]).size(), 1u);
  const std::string flat = R"({"path": "M0.6,-0.8 L0.6,0.8 A1,1 0 1 1 0.6,-0.8 Z"})";
  const Lumens in_flat = {{"left", Round(-0.4, 0, 0.5)}, {"right", Round(0.25, 0, 0.5)}};
  EXPECT_THAT(InterchangeableNames(Drawn(flat, in_flat).sections[0]), IsEmpty());
}

TEST(InterchangeableNames, AnUnsymmetricDrawingHasNone) {
  EXPECT_THAT(InterchangeableNames(FourLumens().sections[0]), IsEmpty());
}

constexpr double kDegree = kPi / 180;

TEST(OutlineTurns, ASquareHasFourTurnsAndFourMirrorings) {
  const Design square = Drawn(Oblong(2, 2), {{"a", Round(0.2, 0.1, 0.3)}});
  const std::vector<Turn> turns = OutlineTurns(square.sections[0], 5 * kDegree, 0.01);
  int plain = 0, mirrored = 0;
  for (const Turn& turn : turns) {
    (turn.mirrored ? mirrored : plain) += 1;
    EXPECT_NEAR(std::remainder(turn.angle_rad, kPi / 2), 0, 1e-9);
  }
  EXPECT_EQ(plain, 4);
  EXPECT_EQ(mirrored, 4);
}

TEST(OutlineTurns, ARectangleHasTwoOfEach) {
  const Design oblong = Drawn(Oblong(2, 1.5), {{"a", Round(0.2, 0.1, 0.3)}});
  EXPECT_EQ(OutlineTurns(oblong.sections[0], 5 * kDegree, 0.01).size(), 4u);
}

TEST(OutlineTurns, ACircleHasAll) {
  const Design round = Drawn(Round(0.3, -0.2, 2), {{"a", Round(0.5, 0.1, 0.3)}});
  EXPECT_EQ(OutlineTurns(round.sections[0], 5 * kDegree, 0.01).size(), 2 * 72u);
}

TEST(MapLumens, AQuarterTurnCarriesEachWedgeOntoTheNext) {
  const Design design = Drawn(Round(0, 0, 2), {{"a", Wedge(5, 85, 0.2, 0.8)},
                                               {"b", Wedge(95, 175, 0.2, 0.8)},
                                               {"c", Wedge(185, 265, 0.2, 0.8)},
                                               {"d", Wedge(275, 355, 0.2, 0.8)}});
  const LumenMap map = MapLumens(design.sections[0], {kPi / 2, false});
  EXPECT_EQ(map.to, (std::vector<int>{1, 2, 3, 0}));
  EXPECT_GT(map.least_overlap, 0.999);
  EXPECT_LT(MapLumens(design.sections[0], {kPi / 4, false}).least_overlap, 0.5);
}

TEST(OwnMirrorImage, IsTheOneThatEveryLumenFallsOnItselfBy) {
  EXPECT_TRUE(OwnMirrorImage(Drawn(Round(0, 0, 2), {{"scope", Round(0, 0, 1)}}).sections[0]));
  const double a = 0.7;
  const Lumens in_line = {{"near", Round(0.3 * std::cos(a), 0.3 * std::sin(a), 0.4)},
                          {"far", Round(-0.6 * std::cos(a), -0.6 * std::sin(a), 0.4)}};
  const auto image = OwnMirrorImage(Drawn(Round(0, 0, 2), in_line).sections[0]);
  ASSERT_TRUE(image);
  EXPECT_TRUE(image->mirrored);
  EXPECT_NEAR(std::remainder(image->angle_rad - (2 * a - kPi), 2 * kPi), 0, 0.01);
}

TEST(OwnMirrorImage, TwoLumensThatItWouldSwapOrOneOffTheLineAreNone) {
  EXPECT_FALSE(OwnMirrorImage(
      Drawn(Round(0, 0, 2), {{"a", Round(0.5, 0.2, 0.5)}, {"b", Round(-0.5, 0.2, 0.5)}})
          .sections[0]));
  EXPECT_FALSE(OwnMirrorImage(
      Drawn(Round(0, 0, 2), {{"a", Round(0.5, 0, 0.5)}, {"b", Round(-0.2, 0.4, 0.3)}})
          .sections[0]));
}

}  // namespace
}  // namespace cutface
