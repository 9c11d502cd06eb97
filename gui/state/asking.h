// Asking the face: edges that a person points at, and the figures that the room measure gives for
// them. Keywords: ask, point, stretch, keep.
#pragma once

#include <string>
#include <vector>

#include "cutface/asked.h"
#include "gui/state/panels.h"

namespace cutface::window {

// Edges in hand: one or two. A first click on an edge takes the whole edge; a second one on the
// same edge leaves the stretch between both; what follows is the second edge, then it starts anew.
class Pointed {
 public:
  void Point(const std::string& feature, PointUm at);
  void Turn(std::size_t edge);  // the other way round
  void Clear() { edges_.clear(); }
  bool empty() const { return edges_.empty(); }
  // As they are asked: an edge with one click only is whole.
  std::vector<AskedEdge> Edges() const;
  std::vector<PointUm> Clicks() const;
  std::string Prompt() const;  // what a click would do next

 private:
  std::vector<AskedEdge> edges_;  // `ends` holds the clicks: one or two
};

struct AskPanel {
  std::string prompt;
  struct Edge {
    std::string text;  // "a stretch of scope", "the whole edge of outline"
    bool can_turn = false;
  };
  std::vector<Edge> edges;
  std::vector<ValueLine> lines;  // of what is in hand; `index` in the answer
  bool can_keep = false;
  struct Kept {
    ValueLine line;
    std::string edges, by;
  };
  std::vector<Kept> kept;
  std::string trouble;
};
std::string EdgeText(const AskedEdge& edge);
AskPanel BuildAsk(const SectionResult& result, const Pointed& pointed,
                  const std::vector<Measurement>& figures, const std::string& trouble,
                  int open_line, int open_kept, LengthUnit units);

}  // namespace cutface::window
