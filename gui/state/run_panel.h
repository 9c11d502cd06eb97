// The run as the window shows it: samples by characteristics, the values of one of them with its
// limits, by sample or by station, every edge over the nominal, the compare room's answers, and
// what is worst. Places are shares from 0 to 1; no number is made here. Keywords: run, verdicts,
// values, station, overlay, mean face, statistics, worst.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "gui/state/graph_panel.h"
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
  std::optional<float> bound_low, bound_high;  // of further parts: the tolerance bound
  std::string bound_text;
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

  // What all parts together say of the chosen characteristic: sentence, doubts, advice.
  std::string sentence;
  std::vector<std::string> doubts;
  std::string statistics_trouble;  // "" or why there are no such figures
  // What can be looked into below the values; "" is every edge.
  struct Question {
    std::string id, text;
  };
  std::vector<Question> questions;
  std::string question;
  std::optional<GraphPanel> graph;  // of `question`; not set: every edge
};

struct RunChoice {
  std::string plane, no;
  bool by_station = false;
  int face = -1;
  std::string question;
};
// The plane's part as the compare room sees it; nullptr where it has no figures.
const RunComparison* ComparisonOf(const RunData& run, const std::string& plane,
                                  std::string* trouble = nullptr);
const RowStudy* StudyOf(const RunComparison* comparison, const std::string& plane,
                        const std::string& no);
// Fills what the compare room says. `p` has plane, no and by_station.
void AddStudy(const RunData& run, const RunChoice& choice, RunPanel& p);
// The face whose edge lies nearest to a place of the overlay (shares), within `reach`; -1: none.
int FaceNear(const RunPanel& panel, float x, float y, float reach);

// Samples by characteristics with their verdicts in words, tabs between columns.
std::string RunTable(const RunPanel& panel);

RunPanel BuildRun(const RunData& run, const RunChoice& choice);

}  // namespace cutface::window
