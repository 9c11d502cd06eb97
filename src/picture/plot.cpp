// Axes, legend and what stands between them.
#include "cutface/plot.h"

#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "picture/canvas.h"
#include "picture/svg_canvas.h"
#include "picture/theme.h"

namespace cutface {
namespace {

constexpr Rgb kBandTone{0.88, 0.90, 0.92}, kGridTone{0.85, 0.85, 0.83};

Rgb ToneOf(PlotTone tone) {
  switch (tone) {
    case PlotTone::kPlain:
      return kText;
    case PlotTone::kCool:
      return {0.0, 0.36, 0.56};
    case PlotTone::kWarm:
      return {0.72, 0.29, 0.05};
    case PlotTone::kPale:
      return {0.50, 0.50, 0.51};
  }
  return kText;
}

struct Reach {
  double least = 0, greatest = 0;
  bool any = false;
  void Add(double v) {
    if (!std::isfinite(v)) return;
    least = any ? std::min(least, v) : v;
    greatest = any ? std::max(greatest, v) : v;
    any = true;
  }
  // Room around the data; a single value gets a range about it.
  std::pair<double, double> Padded(double share) const {
    double width = greatest - least;
    if (!(width > 0)) width = std::abs(greatest) > 0 ? 0.1 * std::abs(greatest) : 1;
    return {least - share * width, greatest + share * width};
  }
};

void AddAll(const Graph& plot, Reach& x, Reach& y) {
  for (const PlotBand& band : plot.bands) {
    for (const auto& [px, py] : band.points) x.Add(px), y.Add(py);
  }
  for (const PlotPath& path : plot.paths) {
    for (const auto& [px, py] : path.points) x.Add(px), y.Add(py);
  }
  for (const PlotRule& rule : plot.rules) (rule.upright ? x : y).Add(rule.at);
  for (const PlotMarks& marks : plot.marks) {
    for (const PlotPoint& p : marks.points) {
      x.Add(p.x), y.Add(p.y);
      if (p.lo) y.Add(*p.lo);
      if (p.hi) y.Add(*p.hi);
    }
  }
}

// 1, 2 or 5 times a power of ten, some `count` steps over the range.
double RoundStep(double width, int count) {
  const double rough = width / count;
  const double power = std::pow(10, std::floor(std::log10(rough)));
  for (const double times : {1.0, 2.0, 5.0}) {
    if (times * power >= rough) return times * power;
  }
  return 10 * power;
}

std::string TickText(double value, double step) {
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 9);
  const std::string text = fmt::format("{:.{}f}", value, decimals);
  return text.starts_with("-") && text.find_first_not_of("-0.") == std::string::npos
             ? text.substr(1)
             : text;
}

std::vector<std::pair<double, std::string>> TicksOf(const PlotAxis& axis,
                                                    std::pair<double, double> range, int count) {
  if (!axis.ticks.empty()) return axis.ticks;
  std::vector<std::pair<double, std::string>> ticks;
  const double step = RoundStep(range.second - range.first, count);
  const double first = std::ceil(range.first / step - 1e-9);
  for (int i = 0; i < 50; ++i) {
    const double value = (first + i) * step;
    if (value > range.second + 1e-9 * step) break;
    ticks.emplace_back(value, TickText(value, step));
  }
  return ticks;
}

class Drawing {
 public:
  Drawing(Canvas& canvas, const Graph& plot, double width, double height, double em)
      : canvas_(canvas), plot_(plot), width_(width), height_(height), em_(em) {}

  void All() {
    Layout();
    if (!plot_.map) Axes();
    canvas_.Clip(frame_);
    for (const PlotBand& band : plot_.bands) canvas_.Fill(Places(band.points), kBandTone);
    for (const PlotPath& path : plot_.paths) {
      if (path.points.size() < 2) continue;
      canvas_.Line(Places(path.points), path.closed, PenOf(path));
    }
    for (const PlotRule& rule : plot_.rules) Rule(rule);
    for (const PlotMarks& marks : plot_.marks) Marks(marks);
    canvas_.Unclip();
    RuleTexts();
    for (const PlotNote& note : plot_.notes) Note(note);
    Legend();
  }

 private:
  Font Small() const { return {em_, false, 0}; }
  Canvas::Pen PenOf(const PlotPath& path) const {
    return {ToneOf(path.tone), 0.13 * em_ * path.weight, path.style, 1};
  }

  double Px(double x) const {
    return frame_.x + (x - x_.first) / (x_.second - x_.first) * frame_.w;
  }
  double Py(double y) const {
    const double share = (y - y_.first) / (y_.second - y_.first);
    return plot_.map ? frame_.y + share * frame_.h : frame_.y + (1 - share) * frame_.h;
  }
  std::vector<Place> Places(const std::vector<std::pair<double, double>>& points) const {
    std::vector<Place> places;
    for (const auto& [x, y] : points) places.push_back({Px(x), Py(y)});
    return places;
  }

  void Layout() {
    Reach x, y;
    AddAll(plot_, x, y);
    x_ = plot_.x.range ? *plot_.x.range : x.Padded(plot_.map ? 0.03 : 0.04);
    y_ = plot_.y.range ? *plot_.y.range : y.Padded(plot_.map ? 0.03 : 0.08);
    const double legend = LegendHeight();
    if (plot_.map) {
      frame_ = {0, 0, width_, height_ - legend};
      const double scale =
          std::min(frame_.w / (x_.second - x_.first), frame_.h / (y_.second - y_.first));
      const double w = scale * (x_.second - x_.first), h = scale * (y_.second - y_.first);
      frame_ = {(frame_.w - w) / 2, (frame_.h - h) / 2, w, h};
      return;
    }
    y_ticks_ = TicksOf(plot_.y, y_, std::max(2, static_cast<int>(height_ / (4 * em_))));
    double widest = 0;
    for (const auto& [at, text] : y_ticks_)
      widest = std::max(widest, canvas_.Measure(text, Small()).w);
    const double left = widest + 0.9 * em_;
    const double top = plot_.y.title.empty() ? 0.6 * em_ : 1.9 * em_;
    const double bottom = 1.7 * em_ + (plot_.x.title.empty() ? 0 : 1.5 * em_) + legend;
    frame_ = {left, top, width_ - left - 0.8 * em_, height_ - top - bottom};
    x_ticks_ = TicksOf(plot_.x, x_, std::max(2, static_cast<int>(frame_.w / (6 * em_))));
  }

  void Axes() {
    const Canvas::Pen grid{kGridTone, 0.05 * em_, LineStyle::kSolid, 1};
    const Canvas::Pen axis{kText, 0.08 * em_, LineStyle::kSolid, 1};
    for (const auto& [at, text] : y_ticks_) {
      if (at < y_.first || at > y_.second) continue;
      canvas_.Line({{frame_.x, Py(at)}, {frame_.x + frame_.w, Py(at)}}, false, grid);
      const Rect size = canvas_.Measure(text, Small());
      canvas_.Text(text, Small(), frame_.x - 0.5 * em_ - size.w, Py(at) - size.h / 2, kText);
    }
    canvas_.Line({{frame_.x, frame_.y}, {frame_.x, frame_.y + frame_.h}}, false, axis);
    canvas_.Line({{frame_.x, frame_.y + frame_.h}, {frame_.x + frame_.w, frame_.y + frame_.h}},
                 false, axis);
    double free = -1e9;  // where the next label may start
    for (const auto& [at, text] : x_ticks_) {
      if (at < x_.first || at > x_.second) continue;
      const double x = Px(at), foot = frame_.y + frame_.h;
      canvas_.Line({{x, foot}, {x, foot + 0.3 * em_}}, false, axis);
      const Rect size = canvas_.Measure(text, Small());
      const double from = std::clamp(x - size.w / 2, 0.0, std::max(0.0, width_ - size.w));
      if (from < free) continue;
      canvas_.Text(text, Small(), from, foot + 0.4 * em_, kText);
      free = from + size.w + 0.5 * em_;
    }
    if (!plot_.y.title.empty()) canvas_.Text(plot_.y.title, Small(), 0, 0, kQuiet);
    if (!plot_.x.title.empty()) {
      const Rect size = canvas_.Measure(plot_.x.title, Small());
      canvas_.Text(plot_.x.title, Small(), frame_.x + frame_.w - size.w,
                   frame_.y + frame_.h + 1.7 * em_, kQuiet);
    }
  }

  void Rule(const PlotRule& rule) {
    const Canvas::Pen pen{kText, 0.1 * em_, rule.style, 1};
    if (rule.upright) {
      canvas_.Line({{Px(rule.at), frame_.y}, {Px(rule.at), frame_.y + frame_.h}}, false, pen);
    } else {
      canvas_.Line({{frame_.x, Py(rule.at)}, {frame_.x + frame_.w, Py(rule.at)}}, false, pen);
    }
  }

  // Each text above its line's right end, or below where another one stands.
  void RuleTexts() {
    std::vector<Rect> taken;
    for (const PlotRule& rule : plot_.rules) {
      if (rule.text.empty()) continue;
      const Rect size = canvas_.Measure(rule.text, Small());
      std::vector<Rect> seats;
      if (rule.upright) {
        for (int row = 0; row < 4; ++row) {
          for (const double x : {Px(rule.at) + 0.3 * em_, Px(rule.at) - size.w - 0.3 * em_})
            seats.push_back({x, frame_.y + 1.3 * em_ * row, size.w, size.h});
        }
      } else {
        const double right = frame_.x + frame_.w - size.w - 0.2 * em_;
        for (const double x : {right, right - size.w - em_, frame_.x + 0.3 * em_}) {
          seats.push_back({x, Py(rule.at) - size.h - 0.1 * em_, size.w, size.h});
          seats.push_back({x, Py(rule.at) + 0.1 * em_, size.w, size.h});
        }
      }
      Rect seat = seats.front();
      for (const Rect& one : seats) {
        const bool free = std::none_of(taken.begin(), taken.end(),
                                       [&](const Rect& other) { return other.Overlaps(one, 1); });
        if (free && one.y >= 0 && one.x >= 0 && one.x + one.w <= width_) {
          seat = one;
          break;
        }
      }
      taken.push_back(seat);
      canvas_.Fill(Rect{seat.x - 0.15 * em_, seat.y, seat.w + 0.3 * em_, seat.h}, kWhite, 0.8);
      canvas_.Text(rule.text, Small(), seat.x, seat.y, kText);
    }
  }

  void Mark(double x, double y, PlotShape shape, Rgb tone) {
    const double r = 0.32 * em_;
    const Canvas::Pen pen{tone, 0.12 * em_, LineStyle::kSolid, 1};
    std::vector<Place> round;
    for (int i = 0; i < 12; ++i)
      round.push_back({x + r * std::cos(i * kPi / 6), y + r * std::sin(i * kPi / 6)});
    switch (shape) {
      case PlotShape::kDot:
        canvas_.Fill(round, tone);
        break;
      case PlotShape::kRing:
        canvas_.Fill(round, kWhite);
        canvas_.Line(round, true, pen);
        break;
      case PlotShape::kSquare:
        canvas_.Fill(Rect{x - r, y - r, 2 * r, 2 * r}, tone);
        break;
      case PlotShape::kTriangle:
        canvas_.Fill(
            std::vector<Place>{{x, y - 1.2 * r}, {x + 1.1 * r, y + r}, {x - 1.1 * r, y + r}}, tone);
        break;
      case PlotShape::kCross:
        canvas_.Line({{x - r, y - r}, {x + r, y + r}}, false, pen);
        canvas_.Line({{x - r, y + r}, {x + r, y - r}}, false, pen);
        break;
    }
  }

  void Marks(const PlotMarks& marks) {
    const Rgb tone = ToneOf(marks.tone);
    const Canvas::Pen pen{tone, 0.08 * em_, LineStyle::kSolid, 1};
    for (const PlotPoint& p : marks.points) {
      const double x = Px(p.x), y = Py(p.y);
      if (p.lo && p.hi) canvas_.Line({{x, Py(*p.lo)}, {x, Py(*p.hi)}}, false, pen);
      Mark(x, y, marks.shape, tone);
    }
  }

  void Note(const PlotNote& note) {
    const Rect size = canvas_.Measure(note.text, Small());
    const double x = std::clamp(Px(note.x) - size.w / 2, 0.0, std::max(0.0, width_ - size.w));
    const double y = std::clamp(Py(note.y) - size.h / 2, 0.0, std::max(0.0, height_ - size.h));
    canvas_.Fill(Rect{x - 0.2 * em_, y, size.w + 0.4 * em_, size.h}, kWhite, 0.85);
    canvas_.Text(note.text, Small(), x, y, kText);
  }

  struct Entry {
    enum class Kind { kBand, kPath, kMarks } kind;
    const void* what;
    const std::string* text;
  };
  std::vector<Entry> Entries() const {
    std::vector<Entry> entries;
    for (const PlotMarks& m : plot_.marks) {
      if (!m.key.empty()) entries.push_back({Entry::Kind::kMarks, &m, &m.key});
    }
    for (const PlotPath& p : plot_.paths) {
      if (!p.key.empty()) entries.push_back({Entry::Kind::kPath, &p, &p.key});
    }
    for (const PlotBand& b : plot_.bands) {
      if (!b.key.empty()) entries.push_back({Entry::Kind::kBand, &b, &b.key});
    }
    return entries;
  }
  double EntryWidth(const Entry& entry) const {
    return 3.2 * em_ + canvas_.Measure(*entry.text, Small()).w;
  }
  double LegendHeight() const {
    double x = 0;
    int lines = 0;
    for (const Entry& entry : Entries()) {
      const double w = EntryWidth(entry);
      if (lines == 0 || x + w > width_) x = 0, ++lines;
      x += w + 1.2 * em_;
    }
    return lines > 0 ? (1.5 * lines + 0.4) * em_ : 0;
  }
  void Legend() {
    const double top = height_ - LegendHeight() + 0.4 * em_;
    double x = 0, y = top;
    for (const Entry& entry : Entries()) {
      const double w = EntryWidth(entry);
      if (x > 0 && x + w > width_) x = 0, y += 1.5 * em_;
      const double middle = y + 0.65 * em_;
      if (entry.kind == Entry::Kind::kBand) {
        canvas_.Fill(Rect{x, y + 0.2 * em_, 2.4 * em_, 0.9 * em_}, kBandTone);
      } else if (entry.kind == Entry::Kind::kPath) {
        const auto& path = *static_cast<const PlotPath*>(entry.what);
        canvas_.Line({{x, middle}, {x + 2.4 * em_, middle}}, false, PenOf(path));
      } else {
        const auto& marks = *static_cast<const PlotMarks*>(entry.what);
        Mark(x + 1.2 * em_, middle, marks.shape, ToneOf(marks.tone));
      }
      canvas_.Text(*entry.text, Small(), x + 3 * em_, y, kText);
      x += w + 1.2 * em_;
    }
  }

  Canvas& canvas_;
  const Graph& plot_;
  double width_, height_, em_;
  Rect frame_;
  std::pair<double, double> x_, y_;
  std::vector<std::pair<double, std::string>> x_ticks_, y_ticks_;
};

}  // namespace

Status DrawPlot(cairo_t* cairo, const PageBox& box, const Graph& plot) {
  cairo_save(cairo);
  cairo_translate(cairo, box.x, box.y);
  {
    PageCanvas canvas(cairo, 80);
    Drawing(canvas, plot, box.w, box.h, 7.4).All();
  }
  cairo_restore(cairo);
  if (cairo_status(cairo) != CAIRO_STATUS_SUCCESS)
    return Fail(Code::kInternal,
                fmt::format("plot {}: {}", plot.id, cairo_status_to_string(cairo_status(cairo))));
  return {};
}

Result<std::string> PlotSvg(const Graph& plot, int width_px) {
  const int height = static_cast<int>(std::lround(width_px * plot.aspect));
  auto canvas = SvgCanvas::Make(width_px, height, kWhite, "", plot.answer, 0);
  if (!canvas) return tl::unexpected(canvas.error());
  Drawing(*canvas, plot, width_px, height, 12.5).All();
  if (!canvas->status()) return tl::unexpected(canvas->status().error());
  const std::string file = canvas->File();
  return file.substr(file.find("<svg "));
}

}  // namespace cutface
