#include "record/by_hand.h"

namespace cutface {

Correction ReadCorrection(const Json& value, const std::string& path, Reading& reading) {
  const Node node(&value, path,
                  {"kind", "of", "to", "points_um", "who", "when", "old", "new", "why"}, reading);
  Correction c;
  c.kind = node.Word("kind", &ParseCorrectionName, Correction::Kind::kSayWhat);
  c.of = node.Text("of");
  c.to = node.Text("to");
  c.points = node.Points("points_um");
  c.who = node.Text("who");
  c.when = node.Text("when");
  c.before = node.Text("old");
  c.after = node.Text("new");
  c.why = node.Text("why");
  return c;
}

std::vector<AskedEdge> ReadAskedEdges(const Node& asked, Reading& reading) {
  std::vector<AskedEdge> edges;
  for (const auto& [value, path] : asked.List("edges")) {
    const Node node(value, path, {"feature", "ends_um", "way"}, reading);
    AskedEdge edge;
    edge.feature = node.Text("feature");
    edge.ends = node.Points("ends_um");
    edge.longer = node.Text("way") == "longer";
    if (!edge.ends.empty() && edge.ends.size() != 2)
      node.Wrong("ends_um", "must hold two places, or be left out");
    edges.push_back(std::move(edge));
  }
  if (edges.empty() || edges.size() > 2) asked.Wrong("edges", "must hold one edge or two");
  return edges;
}

}  // namespace cutface
