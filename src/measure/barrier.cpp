// Barrier: shortest and bottleneck ways through voids. Two small dense searches after Dijkstra
// (1959); a face has a few dozen voids and wires at most.
#include <algorithm>
#include <cmath>

#include "measure/words.h"

namespace cutface::measure {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

struct Graph {
  std::vector<int> nodes;  // features; the two ends first
  std::vector<double> weight;
  std::vector<int> gap;
  double& At(std::size_t i, std::size_t j) { return weight[i * nodes.size() + j]; }
};

Graph BuildGraph(const Bench& bench, const Snapshot& now, int from, int to,
                 const Stepping& stepping) {
  Graph graph;
  graph.nodes = {from, to};
  for (int hole : bench.face().voids) {
    const Feature& feature = bench.face().features[static_cast<std::size_t>(hole)];
    if (!feature.Measurable()) continue;
    if (!stepping.doubtful && !IsSureVoid(feature.hole->kind)) continue;
    graph.nodes.push_back(hole);
  }
  if (stepping.wires) {
    graph.nodes.insert(graph.nodes.end(), bench.face().wires.begin(), bench.face().wires.end());
  }
  if (stepping.seams) {
    const std::vector<Feature>& features = bench.face().features;
    for (std::size_t f = 0; f < features.size(); ++f) {
      if (features[f].kind == Feature::Kind::kLayer && features[f].Measurable())
        graph.nodes.push_back(static_cast<int>(f));
    }
  }
  const std::size_t n = graph.nodes.size();
  graph.weight.assign(n * n, kInfinity);
  graph.gap.assign(n * n, -1);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      const int g = bench.FindGap(graph.nodes[i], graph.nodes[j]);
      if (g < 0 || bench.gaps()[static_cast<std::size_t>(g)].blocked) continue;
      const double solid = std::max(0.0, now.gaps[static_cast<std::size_t>(g)]);
      graph.At(i, j) = graph.At(j, i) = solid;
      graph.gap[i * n + j] = graph.gap[j * n + i] = g;
    }
  }
  return graph;
}

// `strongest`: a way costs its greatest ligament instead of the sum.
double Search(Graph& graph, bool strongest, bool with_path, std::vector<int>& gaps) {
  const std::size_t n = graph.nodes.size();
  std::vector<double> cost(n, kInfinity);
  std::vector<std::size_t> from(n, n);
  std::vector<bool> done(n, false);
  cost[0] = 0;
  for (std::size_t step = 0; step < n; ++step) {
    std::size_t next = n;
    for (std::size_t i = 0; i < n; ++i) {
      if (!done[i] && std::isfinite(cost[i]) && (next == n || cost[i] < cost[next])) next = i;
    }
    if (next == n || next == 1) break;
    done[next] = true;
    for (std::size_t i = 0; i < n; ++i) {
      const double edge = graph.At(next, i);
      const double through = strongest ? std::max(cost[next], edge) : cost[next] + edge;
      if (!done[i] && through < cost[i]) cost[i] = through, from[i] = next;
    }
  }
  if (with_path && std::isfinite(cost[1])) {
    for (std::size_t i = 1; i != 0; i = from[i]) gaps.push_back(graph.gap[from[i] * n + i]);
    std::reverse(gaps.begin(), gaps.end());
  }
  return cost[1];
}

}  // namespace

Stepping SteppingOf(std::string_view word) {
  Stepping stepping;
  stepping.wires = word == "barrier_conducting";
  return stepping;
}

Way FindWay(const Bench& bench, const Snapshot& now, int from, int to, const Stepping& stepping,
            bool with_path) {
  Way way;
  if (from < 0 || to < 0) return way;
  Graph graph = BuildGraph(bench, now, from, to, stepping);
  way.sum = Search(graph, false, with_path, way.sum_gaps);
  way.weakest = Search(graph, true, with_path, way.weakest_gaps);
  return way;
}

}  // namespace cutface::measure
