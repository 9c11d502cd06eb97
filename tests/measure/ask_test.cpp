// What two edges give, against closed forms of circles and rectangles (plane geometry), and its
// interval against the stated error model.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/asked.h"
#include "measure/faces.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using faces::CirclePoints;
using faces::ErrorModel;
using faces::RectanglePoints;
using testing::HasSubstr;

constexpr int kAskCorners = 1440;
// A 1440-corner polygon dips 2.4e-3 um inside its 1000 um circle; two edges.
constexpr double kAskSlackUm = 5e-3;

MeasureOptions NoDraws() {
  MeasureOptions options;
  options.draws = 0;
  return options;
}

// Outline of radius 1000, a round lumen of radius 300 at (-400, 0), a square one of 400 at (400,
// 0).
Section TwoLumens(const ErrorModel& model = {}) {
  Section section;
  section.outline = faces::Traced(CirclePoints({0, 0}, 1000, kAskCorners), model);
  section.lumens.push_back(faces::Lumen("round", CirclePoints({-400, 0}, 300, kAskCorners), model));
  section.lumens.push_back(faces::Lumen("square", RectanglePoints({400, 0}, 400, 400, 2), model));
  return section;
}

const Measurement& Of(const std::vector<Measurement>& all, const std::string& word) {
  for (const Measurement& m : all)
    if (m.quantity == word) return m;
  ADD_FAILURE() << "no " << word;
  static const Measurement none;
  return none;
}

std::vector<Measurement> Ask(const Section& section, const std::vector<AskedEdge>& edges,
                             const MeasureOptions& options = NoDraws()) {
  const auto figures = AskEdges(section, Scale::Isotropic(1), edges, options);
  EXPECT_THAT(figures, IsOk());
  return figures ? *figures : std::vector<Measurement>{};
}

TEST(AskEdges, AnArcGivesRadiusAndLengthOfItsCircle) {
  const auto figures = Ask(TwoLumens(), {{"round", {{-100, 0}, {-400, 300}}}});
  EXPECT_NEAR(Of(figures, "radius").value, 300, kAskSlackUm);
  EXPECT_NEAR(Of(figures, "arc_length").value, 300 * kPi / 2,
              2);  // ends snap to vertices 1.3 apart
  const auto other = Ask(TwoLumens(), {{"round", {{-100, 0}, {-400, 300}}, /*longer=*/true}});
  EXPECT_NEAR(Of(other, "arc_length").value, 300 * 3 * kPi / 2, 2);
  EXPECT_NEAR(Of(Ask(TwoLumens(), {{"round"}}), "arc_length").value, 600 * kPi, 2e-2);
}

TEST(AskEdges, TwoEdgesGiveDistanceAndCentres) {
  const auto figures = Ask(TwoLumens(), {{"round"}, {"square"}});
  EXPECT_NEAR(Of(figures, "distance").value, 800 - 300 - 200, kAskSlackUm);
  ASSERT_EQ(Of(figures, "distance").at.size(), 2u);
  EXPECT_NEAR(Of(figures, "distance").at[0].x, -100, 0.1);
  EXPECT_NEAR(Of(figures, "distance").at[1].x, 200, 0.1);
  EXPECT_NEAR(Of(figures, "centre_distance").value, 800, 0.5);
  for (const Measurement& m : figures) EXPECT_NE(m.quantity, "angle");  // whole edges have none
}

TEST(AskEdges, StretchesOfOneEdgeGiveAngleAndThickness) {
  const AskedEdge top{"square", {{230, -200}, {570, -200}}},
      left{"square", {{200, -170}, {200, 170}}}, bottom{"square", {{230, 200}, {570, 200}}};
  EXPECT_NEAR(Of(Ask(TwoLumens(), {top, left}), "angle").value, 90, 1e-6);
  EXPECT_NEAR(Of(Ask(TwoLumens(), {top, bottom}), "angle").value, 0, 1e-5);
  EXPECT_NEAR(Of(Ask(TwoLumens(), {top, bottom}), "thickness").value, 400, 1e-9);
  EXPECT_NEAR(Of(Ask(TwoLumens(), {top, bottom}), "distance").value, 400, 1e-9);
}

// Concentric arcs, 700 apart all along.
TEST(AskEdges, ThicknessBetweenConcentricArcsIsTheDifferenceOfRadii) {
  Section section;
  section.outline = faces::Traced(CirclePoints({0, 0}, 1000, kAskCorners));
  section.lumens.push_back(faces::Lumen("bore", CirclePoints({0, 0}, 300, kAskCorners)));
  const auto figures = Ask(section, {{"bore", {{300, 0}, {0, 300}}}, {"outline"}});
  EXPECT_NEAR(Of(figures, "thickness").value, 700, kAskSlackUm);
}

TEST(AskEdges, WhatCannotBeToldIsNotMeasuredAndSaysWhy) {
  Section section = TwoLumens();
  const AskedEdge top{"square", {{230, -200}, {570, -200}}};
  const AskedEdge arc{"round", {{-100, 0}, {-400, 300}}};
  const Measurement curved = Of(Ask(section, {top, arc}), "angle");
  EXPECT_EQ(curved.state, Measurement::State::kNotMeasured);
  EXPECT_THAT(curved.reason, HasSubstr("not straight"));
  MeasureOptions options;
  const Measurement flat = Of(Ask(TwoLumens({1, 4}), {top}, options), "radius");
  EXPECT_EQ(flat.state, Measurement::State::kNotMeasured);
  EXPECT_THAT(flat.reason, HasSubstr("too straight"));
  // The shortest way between the lumens ends on an edge that nobody saw.
  for (ContourVertex& v : section.lumens[1].bore.vertices)
    if (v.at.x < 210 && std::abs(v.at.y) < 50) v.state = VertexState::kBridged;
  const Measurement unseen = Of(Ask(section, {{"round"}, {"square"}}), "distance");
  EXPECT_EQ(unseen.state, Measurement::State::kNotMeasured);
  EXPECT_THAT(unseen.reason, HasSubstr("was not seen"));
}

TEST(AskEdges, WrongQuestionsAreRefused) {
  const Section section = TwoLumens();
  const auto ask = [&](const std::vector<AskedEdge>& edges) {
    return AskEdges(section, Scale::Isotropic(1), edges, NoDraws());
  };
  EXPECT_THAT(ask({}), FailsWith(Code::kUsage));
  EXPECT_THAT(ask({{"round"}, {"square"}, {"outline"}}), FailsWith(Code::kUsage));
  EXPECT_THAT(ask({{"nobody"}}), FailsWith(Code::kNotFound));
  EXPECT_THAT(ask({{"round"}, {"round"}}), FailsWith(Code::kUsage));
  EXPECT_THAT(ask({{"round", {{-100, 0}}}}), FailsWith(Code::kUsage));
  EXPECT_THAT(ask({{"round", {{-100, 0}, {-100, 0}}}}), FailsWith(Code::kUsage));
}

// A common shift of u on both bores moves their distance by sqrt(2) u and a radius by u; what the
// scale's share does to a length is u_rel times it. Noise of whole edges averages out.
TEST(AskEdges, UncertaintyFollowsTheErrorModel) {
  MeasureOptions options;
  options.u_floor_um = 0;
  const ErrorModel model{0, 0, 1.5, 0, 0};
  const Section section = TwoLumens(model);
  const auto pair = Ask(section, {{"round"}, {"square"}}, options);
  // The balanced draws are exact for what is linear; 64 draws' own spread of a sum of two is 9 %.
  EXPECT_NEAR(Of(pair, "distance").u, std::sqrt(2.0) * 1.5, 0.2);
  const Measurement radius = Of(Ask(section, {{"round"}}, options), "radius");
  EXPECT_NEAR(radius.u, 1.5, 0.01);
  EXPECT_NEAR(radius.hi - radius.lo, 2 * 1.96 * 1.5, 0.1);
  ASSERT_FALSE(radius.budget.empty());
  EXPECT_EQ(radius.budget[0].source, "edge model");
  EXPECT_NEAR(radius.budget[0].u, 1.5, 0.01);
}

// 200 seen faces: the interval of the least distance between the bores holds the truth as often as
// 95 % promise, within what 200 tries can tell (binomial: 99 % of draws at 95 % lie above 182).
TEST(AskEdges, IntervalsHoldTheTruth) {
  const ErrorModel model{0.8, 20, 0.5, 0.3, 80};
  const ContourUm round = CirclePoints({-400, 0}, 300, 240),
                  square = RectanglePoints({400, 0}, 400, 400, 8);
  constexpr int kTries = 200;
  int distance = 0, radius = 0;
  MeasureOptions options;
  options.u_floor_um = 0;
  Random random(5);
  for (int i = 0; i < kTries; ++i) {
    Section section;
    section.lumens.resize(2);
    section.lumens[0].names = {"round"};
    section.lumens[1].names = {"square"};
    section.lumens[0].bore = faces::Seen(round, model, 1, 1, random);
    section.lumens[1].bore = faces::Seen(square, model, 1, 1, random);
    options.seed = static_cast<std::uint64_t>(i);
    const Measurement gap = Of(Ask(section, {{"round"}, {"square"}}, options), "distance");
    distance += gap.lo <= 300 && 300 <= gap.hi;
    const Measurement arc =
        Of(Ask(section, {{"round", {{-100, 0}, {-400, 300}}}}, options), "radius");
    radius += arc.lo <= 300 && 300 <= arc.hi;
  }
  EXPECT_GE(distance, 183) << distance;
  EXPECT_GE(radius, 183) << radius;
}

TEST(AskAgain, FollowsACorrectedFaceAndSaysWhatIsGone) {
  Section section = TwoLumens();
  AskedFigure asked;
  asked.edges = {{"round"}};
  asked.figure = Of(Ask(section, asked.edges), "radius");
  asked.who = "N";
  section.lumens[0] = faces::Lumen("round", CirclePoints({-400, 0}, 310, kAskCorners));
  auto again = AskAgain(section, Scale::Isotropic(1), {&asked, 1}, NoDraws());
  ASSERT_EQ(again.size(), 1u);
  EXPECT_NEAR(again[0].figure.value, 310, kAskSlackUm);
  EXPECT_EQ(again[0].who, "N");
  section.lumens[0].bore.vertices.clear();
  section.lumens[0].state = LumenState::kNotFound;
  again = AskAgain(section, Scale::Isotropic(1), {&asked, 1}, NoDraws());
  EXPECT_EQ(again[0].figure.state, Measurement::State::kNotMeasured);
  EXPECT_THAT(again[0].figure.reason, HasSubstr("round"));
  EXPECT_EQ(again[0].figure.quantity, "radius");
}

}  // namespace
}  // namespace cutface
