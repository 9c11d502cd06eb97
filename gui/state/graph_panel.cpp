#include "gui/state/graph_panel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace cutface::window {
namespace {

constexpr double kAround = 0.06;  // of the data's span, where the plot names no range
constexpr int kMostTicks = 6;

// What an axis spans: its own range, else all that is drawn along it.
class Span {
 public:
  explicit Span(const PlotAxis& axis) : given_(axis.range) {}
  void Hold(double v) {
    if (!std::isfinite(v)) return;
    least_ = std::min(least_, v);
    greatest_ = std::max(greatest_, v);
  }
  void Close() {
    if (given_) {
      least_ = given_->first;
      greatest_ = given_->second;
    } else if (greatest_ >= least_) {
      const double room = kAround * (greatest_ - least_);
      least_ -= room;
      greatest_ += room;
    } else {
      least_ = 0;
      greatest_ = 1;
    }
    if (!(greatest_ - least_ > 1e-12 * std::max(1.0, std::abs(greatest_)))) {
      least_ -= 0.5;
      greatest_ += 0.5;
    }
  }
  float At(double v) const { return static_cast<float>((v - least_) / (greatest_ - least_)); }
  bool Holds(double v) const { return v >= least_ && v <= greatest_; }
  double least() const { return least_; }
  double greatest() const { return greatest_; }
  // About the same middle, as long as `length`.
  void Widen(double length) {
    const double middle = 0.5 * (least_ + greatest_);
    least_ = middle - 0.5 * length;
    greatest_ = middle + 0.5 * length;
  }

 private:
  std::optional<std::pair<double, double>> given_;
  double least_ = std::numeric_limits<double>::infinity(), greatest_ = -least_;
};

struct Spans {
  Span x, y;
};

Spans SpansOf(const Graph& graph) {
  Spans s{Span(graph.x), Span(graph.y)};
  const auto hold = [&](const std::vector<std::pair<double, double>>& points) {
    for (const auto& [x, y] : points) {
      s.x.Hold(x);
      s.y.Hold(y);
    }
  };
  for (const PlotBand& band : graph.bands) hold(band.points);
  for (const PlotPath& path : graph.paths) hold(path.points);
  for (const PlotMarks& marks : graph.marks) {
    for (const PlotPoint& p : marks.points) {
      s.x.Hold(p.x);
      for (const double y : {p.y, p.lo.value_or(p.y), p.hi.value_or(p.y)}) s.y.Hold(y);
    }
  }
  for (const PlotRule& rule : graph.rules) (rule.upright ? s.x : s.y).Hold(rule.at);
  for (const PlotNote& note : graph.notes) {
    s.x.Hold(note.x);
    s.y.Hold(note.y);
  }
  s.x.Close();
  s.y.Close();
  if (graph.map) {
    const double length = std::max(s.x.greatest() - s.x.least(), s.y.greatest() - s.y.least());
    s.x.Widen(length);
    s.y.Widen(length);
  }
  return s;
}

std::vector<GraphPanel::Tick> TicksOf(const PlotAxis& axis, const Span& span) {
  std::vector<GraphPanel::Tick> out;
  const auto ticks =
      axis.ticks.empty() ? RoundTicks(span.least(), span.greatest(), kMostTicks) : axis.ticks;
  for (const auto& [at, text] : ticks)
    if (span.Holds(at)) out.push_back({span.At(at), text});
  return out;
}

}  // namespace

std::vector<std::pair<double, std::string>> RoundTicks(double least, double greatest, int most) {
  std::vector<std::pair<double, std::string>> ticks;
  const double span = greatest - least;
  if (!(span > 0) || most < 1) return ticks;
  double step = std::pow(10, std::floor(std::log10(span / most)));
  for (const double times : {1.0, 2.0, 5.0, 10.0}) {
    if (span > (most - 1) * times * step) continue;  // both ends may hold one
    step *= times;
    break;
  }
  const int digits = std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9)));
  for (double k = std::ceil(least / step - 1e-9); k * step <= greatest + 1e-9 * step; ++k) {
    const double value = k == 0 ? 0 : k * step;  // never "-0"
    ticks.emplace_back(value, fmt::format("{:.{}f}", value, digits));
  }
  return ticks;
}

GraphPanel BuildGraph(const Graph& graph) {
  GraphPanel panel;
  panel.id = graph.id;
  panel.question = graph.question;
  panel.answer = graph.answer;
  panel.map = graph.map;
  const Spans s = SpansOf(graph);
  // A map's y points down, as in the picture.
  const auto y = [&](double v) { return graph.map ? 1 - s.y.At(v) : s.y.At(v); };
  const auto line = [&](const std::vector<std::pair<double, double>>& points) {
    std::vector<SharePoint> out;
    for (const auto& [px, py] : points) out.emplace_back(s.x.At(px), y(py));
    return out;
  };
  if (!graph.map) {
    panel.x_title = graph.x.title;
    panel.y_title = graph.y.title;
    panel.x_ticks = TicksOf(graph.x, s.x);
    panel.y_ticks = TicksOf(graph.y, s.y);
  }
  for (const PlotBand& band : graph.bands) {
    panel.bands.push_back(line(band.points));
    if (!band.key.empty()) panel.keys.push_back({band.key, true, false, {}, {}, {}});
  }
  for (const PlotPath& path : graph.paths) {
    panel.paths.push_back(
        {line(path.points), path.closed, path.style, path.tone, static_cast<float>(path.weight)});
    if (!path.key.empty()) panel.keys.push_back({path.key, false, true, {}, path.style, path.tone});
  }
  for (const PlotRule& rule : graph.rules) {
    const Span& span = rule.upright ? s.x : s.y;
    if (span.Holds(rule.at))
      panel.rules.push_back({span.At(rule.at), rule.upright, rule.style, rule.text});
  }
  for (const PlotMarks& marks : graph.marks) {
    for (const PlotPoint& p : marks.points) {
      const float at = y(p.y);
      panel.marks.push_back({s.x.At(p.x), at, p.lo ? y(*p.lo) : at, p.hi ? y(*p.hi) : at,
                             p.lo && p.hi, marks.shape, marks.tone});
    }
    if (!marks.key.empty())
      panel.keys.push_back({marks.key, false, false, marks.shape, {}, marks.tone});
  }
  for (const PlotNote& note : graph.notes)
    panel.notes.push_back({s.x.At(note.x), y(note.y), note.text});
  return panel;
}

}  // namespace cutface::window
