// The mean face as a plot: the drawing, deviations overdone, whiskers at the worst places.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "compare/internal.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

PointUm Moved(const MeanFeature& feature, std::size_t i, double by) {
  return feature.nominal[i] + by * feature.normals[i];
}

// Stretches of places that `value` knows; closed when that is all of them.
template <class Value>
std::vector<PlotPath> Stretches(const MeanFeature& feature, const PlotPath& like,
                                const Value& value) {
  std::vector<PlotPath> paths;
  PlotPath path = like;
  const std::size_t n = feature.places.size();
  for (std::size_t i = 0; i < n; ++i) {
    if (const std::optional<double> by = value(i)) {
      const PointUm p = Moved(feature, i, *by);
      path.points.emplace_back(p.x, p.y);
      continue;
    }
    if (path.points.size() > 1) paths.push_back(path);
    path = like;
  }
  path.closed = path.points.size() == n;
  if (path.points.size() > 1) paths.push_back(path);
  return paths;
}

// How much deviations are overdone: 1, 2, 5 ... so that mean and band stay near their own contour.
double TimesFor(const MeanFace& face) {
  std::vector<double> ends;
  double most = 0, size = 0;
  for (const MeanFeature& feature : face.features) {
    for (std::size_t i = 0; i < feature.places.size(); ++i) {
      const MeanPlace& place = feature.places[i];
      size = std::max(size, Norm(feature.nominal[i]));
      if (place.n == 0) continue;
      most = std::max(most, std::abs(place.mean_um));
      if (place.band) ends.push_back(std::max(std::abs(place.band->lo), std::abs(place.band->hi)));
    }
  }
  // One lumen that collapsed in one part must not shrink all others to nothing.
  if (!ends.empty()) most = std::max(most, Quantile(ends, 0.75));
  if (!(most > 0)) return 1;
  double times = 1;
  for (const double step : {2.0, 5.0, 10.0, 20.0, 50.0, 100.0}) {
    if (step * most <= size / 8) times = step;
  }
  return times;
}

void AddBand(const MeanFeature& feature, double times, bool key, Graph& graph) {
  const bool whole = std::all_of(feature.places.begin(), feature.places.end(),
                                 [](const MeanPlace& p) { return p.band.has_value(); });
  if (!whole) return;
  PlotBand band;
  if (key) band.key = "95 % of further parts, place by place";
  for (std::size_t i = 0; i <= feature.places.size(); ++i) {
    const std::size_t at = i % feature.places.size();
    const PointUm p = Moved(feature, at, times * feature.places[at].band->hi);
    band.points.emplace_back(p.x, p.y);
  }
  // Back along the other side: the seam has no width, and the inside stays open.
  for (std::size_t i = feature.places.size() + 1; i-- > 0;) {
    const std::size_t at = i % feature.places.size();
    const PointUm p = Moved(feature, at, times * feature.places[at].band->lo);
    band.points.emplace_back(p.x, p.y);
  }
  graph.bands.push_back(std::move(band));
}

}  // namespace

Graph MeanFaceGraph(const MeanFace& face, LengthUnit units) {
  constexpr std::size_t kWhiskers = 6;
  const double times = TimesFor(face);
  Graph graph;
  graph.id = "mean-face";
  graph.question = "Where do the parts lie off the drawing on average?";
  graph.answer = face.sentence;
  graph.map = true;
  graph.aspect = 0.82;
  bool first = true;
  for (const MeanFeature& feature : face.features) {
    AddBand(feature, times, first, graph);
    PlotPath nominal{{}, true, LineStyle::kDotted, PlotTone::kPale, 0.9, first ? "drawing" : ""};
    for (const PointUm& p : feature.nominal) nominal.points.emplace_back(p.x, p.y);
    graph.paths.push_back(std::move(nominal));
    const PlotPath like{{}, false, LineStyle::kSolid, PlotTone::kCool, 1.3, ""};
    auto stretches = Stretches(feature, like, [&](std::size_t i) -> std::optional<double> {
      if (feature.places[i].n == 0) return std::nullopt;
      return times * feature.places[i].mean_um;
    });
    if (first && !stretches.empty())
      stretches.front().key = times > 1
                                  ? fmt::format("mean of the parts, {:g} times as far off", times)
                                  : "mean of the parts";
    for (PlotPath& path : stretches) graph.paths.push_back(std::move(path));
    first = false;
  }
  for (std::size_t w = 0; w < face.worst.size() && w < kWhiskers; ++w) {
    const WorstPlace& worst = face.worst[w];
    const MeanFeature& feature = face.features[worst.feature];
    const PointUm from = feature.nominal[worst.place];
    const PointUm to = Moved(feature, worst.place, times * worst.mean_um);
    graph.paths.push_back({{{from.x, from.y}, {to.x, to.y}},
                           false,
                           LineStyle::kSolid,
                           PlotTone::kWarm,
                           4,
                           w == 0 ? "farthest off, per feature" : ""});
    const double away = worst.mean_um < 0 ? -1 : 1;
    const PointUm label = to + away * 60.0 * feature.normals[worst.place];
    graph.notes.push_back({label.x, label.y, Format(worst.mean_um, "um", units)});
  }
  return graph;
}

}  // namespace cutface
