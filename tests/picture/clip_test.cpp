// Several plots in one page of HTML.
#include <gtest/gtest.h>

#include "cutface/plot.h"

namespace cutface {
namespace {

// Names of elements hold for a whole page: a plot that clips by name would be cut by the frame of
// the page's first one.
TEST(PlotSvg, HasNoNamesThatCouldMeetThoseOfAnotherPlot) {
  Graph graph;
  graph.question = "?", graph.answer = "A.";
  graph.paths = {{{{0, 0}, {1, 1}}, false, LineStyle::kSolid, PlotTone::kPlain, 1, "line"}};
  const auto svg = PlotSvg(graph);
  ASSERT_TRUE(svg);
  EXPECT_EQ(svg->find(" id=\""), std::string::npos);
  EXPECT_EQ(svg->find("url(#"), std::string::npos);
  EXPECT_NE(svg->find("overflow=\"hidden\""), std::string::npos);
}

}  // namespace
}  // namespace cutface
