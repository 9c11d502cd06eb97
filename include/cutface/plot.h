// Plots as values: marks, lines, bands and limits in the data's own units; drawn by cairo onto a
// page, a PNG or an SVG. One plot answers one question, and its answer is a sentence that the page
// sets above it.
//
// Meaning is never colour alone: marks differ in shape, lines in style, bands are light grounds; a
// grey print tells the same. Keywords: chart, graph, axis, display list, band, limit line.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cutface/picture.h"

namespace cutface {

struct PlotPoint {
  double x = 0, y = 0;
  std::optional<double> lo, hi;  // whisker along y
};

// Shapes that are told apart without colour; dots and squares are not used in one plot.
enum class PlotShape { kDot, kRing, kSquare, kTriangle, kCross };
enum class PlotTone { kPlain, kCool, kWarm, kPale };  // black, dark blue, rust, grey

struct PlotMarks {
  std::vector<PlotPoint> points;
  PlotShape shape = PlotShape::kDot;
  PlotTone tone = PlotTone::kPlain;
  std::string key;  // what the legend calls it; "" not in it
};

struct PlotPath {
  std::vector<std::pair<double, double>> points;
  bool closed = false;
  LineStyle style = LineStyle::kSolid;
  PlotTone tone = PlotTone::kPlain;
  double weight = 1;
  std::string key;
};

// A light ground, closed.
struct PlotBand {
  std::vector<std::pair<double, double>> points;
  std::string key;
};

// A line across the whole plot: a limit, a mean.
struct PlotRule {
  double at = 0;
  bool upright = false;  // at an x; else at a y
  LineStyle style = LineStyle::kDashed;
  std::string text;  // at its end
};

struct PlotNote {
  double x = 0, y = 0;
  std::string text;
};

struct PlotAxis {
  std::string title;
  std::optional<std::pair<double, double>> range;     // else by the data
  std::vector<std::pair<double, std::string>> ticks;  // else round numbers
};

struct Graph {
  std::string id;        // a word for links: "run-order"
  std::string question;  // "Do the parts stay steady in run order?"
  std::string answer;    // one sentence
  PlotAxis x, y;
  std::vector<PlotBand> bands;  // in this drawing order: bands, paths, rules, marks, notes
  std::vector<PlotPath> paths;
  std::vector<PlotRule> rules;
  std::vector<PlotMarks> marks;
  std::vector<PlotNote> notes;
  bool map = false;     // both axes of one scale, y down, no ticks: a face
  double aspect = 0.5;  // height / width
};

// The plot without its sentence within `box`, in the page's units (points). Errors: kInternal.
Status DrawPlot(cairo_t* cairo, const PageBox& box, const Graph& plot);
// As an SVG element of its own width ("<svg ...>", no file head), for a page of HTML. The sentence
// is its title. Errors: kInternal.
Result<std::string> PlotSvg(const Graph& plot, int width_px = 760);

}  // namespace cutface
