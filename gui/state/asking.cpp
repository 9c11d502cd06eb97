#include "gui/state/asking.h"

#include "cutface/picture.h"

namespace cutface::window {

void Pointed::Point(const std::string& feature, PointUm at) {
  const bool stretch = !edges_.empty() && edges_.back().ends.size() == 2;
  if (!edges_.empty() && edges_.back().feature == feature && !stretch) {
    edges_.back().ends.push_back(at);
    return;
  }
  if (edges_.size() == 2) edges_.clear();
  edges_.push_back({feature, {at}, false});
}

void Pointed::Turn(std::size_t edge) {
  if (edge < edges_.size() && edges_[edge].ends.size() == 2)
    edges_[edge].longer = !edges_[edge].longer;
}

std::vector<AskedEdge> Pointed::Edges() const {
  std::vector<AskedEdge> edges = edges_;
  for (AskedEdge& edge : edges)
    if (edge.ends.size() == 1) edge.ends.clear();
  return edges;
}

std::vector<PointUm> Pointed::Clicks() const {
  std::vector<PointUm> clicks;
  for (const AskedEdge& edge : edges_)
    clicks.insert(clicks.end(), edge.ends.begin(), edge.ends.end());
  return clicks;
}

std::string Pointed::Prompt() const {
  if (edges_.empty()) return "Click an edge on the face.";
  const bool stretch = edges_.back().ends.size() == 2;
  const std::string& name = edges_.back().feature;
  if (!stretch)
    return "Click " + name + " again to keep the stretch between both places" +
           (edges_.size() == 1 ? ", or another edge to read what lies between." : ".");
  return edges_.size() == 1 ? "Click a second edge to read what lies between."
                            : "The next click starts anew.";
}

std::string EdgeText(const AskedEdge& edge) {
  return edge.ends.empty() ? "the whole edge of " + edge.feature : "a stretch of " + edge.feature;
}

AskPanel BuildAsk(const SectionResult& result, const Pointed& pointed,
                  const std::vector<Measurement>& figures, const std::string& trouble,
                  int open_line, int open_kept, LengthUnit units) {
  AskPanel panel;
  panel.prompt = pointed.Prompt();
  panel.trouble = trouble;
  for (const AskedEdge& edge : pointed.Edges())
    panel.edges.push_back({EdgeText(edge), !edge.ends.empty()});
  for (std::size_t i = 0; i < figures.size(); ++i) {
    const int index = static_cast<int>(i);
    panel.lines.push_back(ValueLineOf(figures[i], index, index == open_line, units));
    panel.can_keep = panel.can_keep || figures[i].state == Measurement::State::kMeasured;
  }
  for (std::size_t i = 0; i < result.asked.size(); ++i) {
    const AskedFigure& asked = result.asked[i];
    const int index = static_cast<int>(i);
    AskPanel::Kept kept;
    kept.line = ValueLineOf(asked.figure, index, index == open_kept, units);
    for (const AskedEdge& edge : asked.edges)
      kept.edges += (kept.edges.empty() ? "" : " to ") + EdgeText(edge);
    kept.by = asked.who + ", " + asked.when;
    panel.kept.push_back(std::move(kept));
  }
  return panel;
}

}  // namespace cutface::window
