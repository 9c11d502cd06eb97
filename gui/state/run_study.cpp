// The compare room's answers in the run's panel: words, and the plot of the question that is
// chosen.
#include <algorithm>
#include <cmath>

#include "gui/state/run_panel.h"

namespace cutface::window {
namespace {

const StationTrend* TrendOf(const RunComparison& comparison, const RowStudy& study) {
  for (const StationTrend& trend : comparison.trends)
    if (trend.of == study.row.of && trend.quantity == study.row.quantity) return &trend;
  return nullptr;
}

const MeanFace* MeanFaceOf(const RunComparison& comparison, const std::string& plane) {
  for (const MeanFace& face : comparison.mean_faces)
    if (face.plane == plane) return &face;
  return nullptr;
}

// Short words for what the plots ask; their whole question stands above them.
std::string WordFor(const std::string& id) {
  if (id == "mean-face") return "mean face";
  if (id == "bound") return "against the limit";
  if (id == "run-order") return "in order";
  if (id == "moving-range") return "step by step";
  if (id == "probability") return "spread";
  if (id == "along") return "along the part";
  return id;
}

double ToLine(SharePoint p, SharePoint a, SharePoint b) {
  const float ex = b.first - a.first, ey = b.second - a.second, square = ex * ex + ey * ey;
  const float along = (p.first - a.first) * ex + (p.second - a.second) * ey;
  const float t = square > 0 ? std::clamp(along / square, 0.f, 1.f) : 0.f;
  return std::hypot(p.first - a.first - t * ex, p.second - a.second - t * ey);
}

}  // namespace

const RunComparison* ComparisonOf(const RunData& run, const std::string& plane,
                                  std::string* trouble) {
  for (const RunFace& face : run.faces) {
    if (face.entry.plane != plane) continue;
    const auto found = run.statistics.find(face.entry.part);
    if (found == run.statistics.end()) continue;
    if (trouble != nullptr) *trouble = found->second.trouble;
    return found->second.comparison.get();
  }
  return nullptr;
}

const RowStudy* StudyOf(const RunComparison* comparison, const std::string& plane,
                        const std::string& no) {
  if (comparison == nullptr) return nullptr;
  for (const RowStudy& study : comparison->rows)
    if (study.row.plane == plane && study.row.no == no) return &study;
  return nullptr;
}

void AddStudy(const RunData& run, const RunChoice& choice, RunPanel& p) {
  const RunComparison* comparison = ComparisonOf(run, p.plane, &p.statistics_trouble);
  if (comparison == nullptr) return;
  std::vector<Graph> graphs;
  if (const MeanFace* mean = MeanFaceOf(*comparison, p.plane))
    graphs.push_back(MeanFaceGraph(*mean, comparison->units));
  if (const RowStudy* study = StudyOf(comparison, p.plane, p.no)) {
    const StationTrend* trend = TrendOf(*comparison, *study);
    p.sentence = p.by_station && trend != nullptr ? trend->sentence : study->sentence;
    p.doubts = study->doubts;
    p.doubts.insert(p.doubts.end(), study->advice.begin(), study->advice.end());
    for (Graph& graph : RowGraphs(*study)) graphs.push_back(std::move(graph));
    if (trend != nullptr) graphs.push_back(TrendGraph(*trend));
  }
  for (const Graph& graph : graphs) {
    p.questions.push_back({graph.id, WordFor(graph.id)});
    if (graph.id != choice.question) continue;
    p.question = graph.id;
    p.graph = BuildGraph(graph);
  }
}

int FaceNear(const RunPanel& panel, float x, float y, float reach) {
  int face = -1;
  double best = reach;
  for (const RunPanel::Edge& edge : panel.edges) {
    if (edge.face < 0) continue;
    const std::size_t n = edge.points.size();
    for (std::size_t i = 0; i < n; ++i) {
      const double d = ToLine({x, y}, edge.points[i], edge.points[(i + 1) % n]);
      if (d >= best) continue;
      best = d;
      face = edge.face;
    }
  }
  return face;
}

std::string RunTable(const RunPanel& panel) {
  std::string text = "sample\tverdict";
  for (const RunPanel::Column& column : panel.columns) text += "\t" + column.no;
  for (const RunPanel::Line& line : panel.lines) {
    text += "\n" + line.name + (line.about.empty() ? "" : ", " + line.about) + "\t" + line.verdict;
    for (const std::optional<Verdict>& cell : line.cells)
      text += "\t" + (cell ? std::string(VerdictName(*cell)) : "");
  }
  return text + "\n";
}

}  // namespace cutface::window
