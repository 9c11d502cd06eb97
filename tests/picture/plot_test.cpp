// Plots tell by shape, line style and words, and every mark lies where its value says.
#include "cutface/plot.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;
using testing::Not;

Graph Sample() {
  Graph graph;
  graph.id = "sample";
  graph.question = "Is it so?";
  graph.answer = "It is so <&>.";
  graph.x.title = "parts";
  graph.y.title = "septum, mm";
  graph.marks.push_back(
      {{{1, 0.1, 0.09, 0.11}, {2, 0.2, {}, {}}}, PlotShape::kDot, PlotTone::kCool, "inside"});
  graph.marks.push_back({{{3, 0.3, {}, {}}}, PlotShape::kTriangle, PlotTone::kWarm, "beyond"});
  graph.rules.push_back({0.15, false, LineStyle::kDashed, "limit"});
  graph.rules.push_back({0.151, false, LineStyle::kSolid, "least allowed"});
  graph.bands.push_back({{{1, 0.1}, {3, 0.1}, {3, 0.2}}, "band"});
  graph.paths.push_back(
      {{{1, 0.1}, {3, 0.3}}, false, LineStyle::kDotted, PlotTone::kPlain, 1, "line"});
  return graph;
}

TEST(PlotDrawing, AnElementForPagesWithTitlesTicksAndLegend) {
  const auto svg = PlotSvg(Sample());
  ASSERT_THAT(svg, IsOk());
  EXPECT_TRUE(svg->starts_with("<svg "));
  for (const char* text : {"parts", "septum, mm", "inside", "beyond", "limit", "least allowed",
                           "band", "line", "0.20"})
    EXPECT_THAT(*svg, HasSubstr(text)) << text;
  EXPECT_THAT(*svg, HasSubstr("It is so &lt;&amp;&gt;."));  // the sentence is the title
  EXPECT_THAT(*svg, Not(HasSubstr("<&>")));
}

TEST(PlotDrawing, AnEmptyPlotAndASingleValueAreDrawn) {
  EXPECT_THAT(PlotSvg(Graph{}), IsOk());
  Graph one;
  one.marks.push_back({{{0, 0, {}, {}}}, PlotShape::kRing, PlotTone::kPlain, ""});
  const auto svg = PlotSvg(one);
  ASSERT_THAT(svg, IsOk());
  EXPECT_THAT(*svg, Not(HasSubstr("nan")));
  EXPECT_THAT(*svg, Not(HasSubstr("inf")));
}

// Lightness (CIE L*, from linear sRGB) tells the tones apart in a grey print, and rust from blue
// never by colour alone: marks that differ in tone differ in shape wherever the room compare uses
// them (looked at in tests/compare).
TEST(PlotDrawing, EveryShapeIsDrawnDifferently) {
  std::set<std::string> drawn;
  for (const PlotShape shape : {PlotShape::kDot, PlotShape::kRing, PlotShape::kSquare,
                                PlotShape::kTriangle, PlotShape::kCross}) {
    Graph graph;
    graph.x.range = graph.y.range = {{0, 2}};
    graph.marks.push_back({{{1, 1, {}, {}}}, shape, PlotTone::kPlain, ""});
    drawn.insert(*PlotSvg(graph));
  }
  EXPECT_EQ(drawn.size(), 5u);
}

TEST(PlotDrawing, AMapKeepsOneScaleAndHasNoTicks) {
  Graph map;
  map.map = true;
  map.aspect = 0.5;
  map.paths.push_back({{{0, 0}, {1000, 0}, {1000, 1000}, {0, 1000}},
                       true,
                       LineStyle::kSolid,
                       PlotTone::kPlain,
                       1,
                       ""});
  const auto svg = PlotSvg(map, 800);
  ASSERT_THAT(svg, IsOk());
  EXPECT_THAT(*svg, Not(HasSubstr("<text")));
  // A square of 1000 um with 3 % of room on each side in 400 px of height: 377.4 px.
  EXPECT_THAT(*svg, HasSubstr("M211.32,11.32 L588.68,11.32 L588.68,388.68 L211.32,388.68"));
}

}  // namespace
}  // namespace cutface
