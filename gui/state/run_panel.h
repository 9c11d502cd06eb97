// The run as the window shows it: samples by characteristics, the values of one of them with its
// limits, by sample or by station, every edge over the nominal, and what is worst. Places are
// shares from 0 to 1; no number is made here. Keywords: run, verdicts, values, station, overlay,
// worst.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/state/run_data.h"

namespace cutface::window {

struct RunPanel {
  std::string title, counts;
  std::vector<std::string> planes;
  std::string plane;
  struct Column {
    std::string no, subject, requirement;
  };
  std::vector<Column> columns;  // rows of the plane's drawing
  struct Line {
    int face = 0;  // index in the run
    std::string name, about, verdict, trouble;
    Verdict word = Verdict::kNotMeasured;
    std::vector<std::optional<Verdict>> cells;  // beside `columns`
    bool chosen = false;
  };
  std::vector<Line> lines;

  std::string no, subject, requirement;  // the chosen characteristic
  bool by_station = false;
  struct Value {
    int face = 0;
    float x = 0, y = 0, lo = 0, hi = 0;  // y from the bottom
    Verdict word = Verdict::kNotMeasured;
    std::string name, text;
    bool chosen = false;
  };
  std::vector<Value> values;
  std::vector<std::vector<int>> trends;  // indices of `values` of one part, by station
  std::optional<float> min, max, nominal;
  std::string min_text, max_text, nominal_text;
  struct Place {
    float x = 0;
    std::string text;
  };
  std::vector<Place> stations;
  std::vector<std::string> left_out;  // "serial 005: not measured, septum broken"

  struct Edge {
    std::vector<std::pair<float, float>> points;  // closed
    int face = -1;                                // -1: the drawing's
    Verdict word = Verdict::kNotJudged;
    bool chosen = false;
  };
  std::vector<Edge> edges;  // nominal last
  bool has_nominal = false;

  struct Worst {
    int face = 0;
    std::string no, name, subject, text, verdict;
    Verdict word = Verdict::kNotMeasured;
  };
  std::vector<Worst> worst;
};

struct RunChoice {
  std::string plane, no;
  bool by_station = false;
  int face = -1;
};
RunPanel BuildRun(const RunData& run, const RunChoice& choice);

}  // namespace cutface::window
