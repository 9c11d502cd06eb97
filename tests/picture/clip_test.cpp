// Several plots in one page of HTML.
#include <gtest/gtest.h>

#include "cutface/plot.h"

namespace cutface {
namespace {

std::string ClipName(const std::string& label, double aspect) {
  Graph graph;
  graph.question = "?", graph.answer = "A.";
  graph.y.ticks = {{0, label}};
  graph.aspect = aspect;
  graph.paths = {{{{0, 0}, {1, 1}}, false, LineStyle::kSolid, PlotTone::kPlain, 1, "line"}};
  const auto svg = PlotSvg(graph);
  EXPECT_TRUE(svg);
  const std::size_t at = svg->find("<clipPath id=\"") + 14;
  std::string name = svg->substr(at, svg->find('"', at) - at);
  EXPECT_NE(svg->find("url(#" + name + ")"), std::string::npos);
  return name;
}

// Names of elements hold for a whole page: plots with frames of their own must not share the name
// of what clips them, or the page's first frame cuts all others.
TEST(PlotSvg, PlotsWithOtherFramesClipByOtherNames) {
  EXPECT_NE(ClipName("0", 0.5), ClipName("a long name of a row", 0.5));
  EXPECT_NE(ClipName("0", 0.5), ClipName("0", 0.3));
  EXPECT_EQ(ClipName("0", 0.5), ClipName("0", 0.5));
}

}  // namespace
}  // namespace cutface
