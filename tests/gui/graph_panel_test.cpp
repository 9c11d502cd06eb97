// Plots of the compare room in the window: places as shares, round values at the axes.
#include "gui/state/graph_panel.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gui/state/run_panel.h"

namespace cutface::window {
namespace {

std::vector<std::string> Texts(double least, double greatest, int most) {
  std::vector<std::string> texts;
  for (const auto& [at, text] : RoundTicks(least, greatest, most)) texts.push_back(text);
  return texts;
}

TEST(RoundTicks, AreRoundFewAndInOrder) {
  EXPECT_THAT(Texts(0.083, 0.131, 6), testing::ElementsAre("0.09", "0.10", "0.11", "0.12", "0.13"));
  EXPECT_THAT(Texts(-1, 1, 4), testing::ElementsAre("-1", "0", "1"));
  EXPECT_THAT(Texts(0, 1000, 6), testing::ElementsAre("0", "200", "400", "600", "800", "1000"));
  EXPECT_TRUE(Texts(1, 1, 6).empty());
}

TEST(GraphPanel, PlacesAreSharesOfTheSpanAndRulesBeyondItAreLeftOut) {
  Graph graph;
  graph.x.range = {{0, 10}};
  graph.y.range = {{100, 200}};
  graph.marks.push_back({{{5, 150, 125.0, 175.0}}, PlotShape::kRing, PlotTone::kCool, "part"});
  graph.rules.push_back({120, false, LineStyle::kSolid, "least allowed"});
  graph.rules.push_back({500, false, LineStyle::kSolid, "far off"});
  const GraphPanel panel = BuildGraph(graph);
  ASSERT_EQ(panel.marks.size(), 1u);
  EXPECT_FLOAT_EQ(panel.marks[0].x, 0.5f);
  EXPECT_FLOAT_EQ(panel.marks[0].y, 0.5f);
  EXPECT_FLOAT_EQ(panel.marks[0].lo, 0.25f);
  EXPECT_TRUE(panel.marks[0].whisker);
  ASSERT_EQ(panel.rules.size(), 1u);
  EXPECT_FLOAT_EQ(panel.rules[0].at, 0.2f);
  ASSERT_EQ(panel.keys.size(), 1u);
}

// A face keeps its form in any window, and y points down as in the picture.
TEST(GraphPanel, AMapHasOneScale) {
  Graph graph;
  graph.map = true;
  graph.paths.push_back(
      {{{0, 0}, {200, 0}, {200, 100}, {0, 100}}, true, LineStyle::kSolid, PlotTone::kPlain, 1, ""});
  const GraphPanel panel = BuildGraph(graph);
  const auto& p = panel.paths.at(0).points;
  EXPECT_NEAR(p[1].first - p[0].first, 2 * (p[0].second - p[3].second), 1e-5);
  EXPECT_GT(p[0].second, p[3].second);
  EXPECT_TRUE(panel.x_ticks.empty());
}

TEST(RunPanel, TheNearestEdgeIsFoundAndTheDrawingIsNoFace) {
  RunPanel panel;
  const std::vector<std::pair<float, float>> square = {
      {.2f, .2f}, {.8f, .2f}, {.8f, .8f}, {.2f, .8f}};
  panel.edges.push_back({square, 4, Verdict::kConforms, false});
  panel.edges.push_back({square, -1, Verdict::kNotJudged, false});
  EXPECT_EQ(FaceNear(panel, 0.5f, 0.21f, 0.02f), 4);
  EXPECT_EQ(FaceNear(panel, 0.5f, 0.5f, 0.02f), -1);
}

}  // namespace
}  // namespace cutface::window
