// A plot of the compare room as the window draws it: one question, its answer, and everything as
// shares of the plot from 0 to 1 (y from the bottom), so that a view only scales. The values and
// words are the room's, as in the report. Keywords: graph, plot, question, answer, axis, tick.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "cutface/plot.h"

namespace cutface::window {

using SharePoint = std::pair<float, float>;

struct GraphPanel {
  std::string id, question, answer;
  bool map = false;  // a face: both axes of one scale, no ticks
  struct Tick {
    float at = 0;
    std::string text;
  };
  std::string x_title, y_title;
  std::vector<Tick> x_ticks, y_ticks;
  std::vector<std::vector<SharePoint>> bands;  // there and back: point i faces point n - 1 - i
  struct Path {
    std::vector<SharePoint> points;
    bool closed = false;
    LineStyle style = LineStyle::kSolid;
    PlotTone tone = PlotTone::kPlain;
    float weight = 1;
  };
  std::vector<Path> paths;
  struct Rule {
    float at = 0;
    bool upright = false;
    LineStyle style = LineStyle::kDashed;
    std::string text;
  };
  std::vector<Rule> rules;
  struct Mark {
    float x = 0, y = 0, lo = 0, hi = 0;
    bool whisker = false;
    PlotShape shape = PlotShape::kDot;
    PlotTone tone = PlotTone::kPlain;
  };
  std::vector<Mark> marks;
  struct Note {
    float x = 0, y = 0;
    std::string text;
  };
  std::vector<Note> notes;
  struct Key {
    std::string text;
    bool band = false, line = false;
    PlotShape shape = PlotShape::kDot;
    LineStyle style = LineStyle::kSolid;
    PlotTone tone = PlotTone::kPlain;
  };
  std::vector<Key> keys;
};
GraphPanel BuildGraph(const Graph& graph);

// Round values within a range, at most `most` of them, with as many digits as they need.
std::vector<std::pair<double, std::string>> RoundTicks(double least, double greatest, int most);

}  // namespace cutface::window
