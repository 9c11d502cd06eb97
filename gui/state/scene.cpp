#include "gui/state/scene.h"

#include <algorithm>
#include <cmath>

namespace cutface::window {
namespace {

using Kind = DisplayItem::Kind;

constexpr float kOff = 40;            // beyond the view: not drawn
constexpr float kLeastStep = 0.7f;    // of a line's places, in screen pixels
constexpr float kChosenWidth = 2.4f;  // of the theme's stroke
constexpr float kLeastDot = 7;        // half edge of the corners around a place

float Apart(ScreenPoint a, ScreenPoint b) { return std::hypot(a.x - b.x, a.y - b.y); }

bool Near(const ScreenRect& view, ScreenPoint a, ScreenPoint b) {
  return std::max(a.x, b.x) > view.x - kOff && std::min(a.x, b.x) < view.x + view.w + kOff &&
         std::max(a.y, b.y) > view.y - kOff && std::min(a.y, b.y) < view.y + view.h + kOff;
}

std::vector<float> Pattern(LineStyle style, float width) {
  const float w = std::max(1.f, width);
  switch (style) {
    case LineStyle::kSolid:
      return {};
    case LineStyle::kDashed:
      return {7 * w, 4 * w};
    case LineStyle::kDotted:
      return {1.5f * w, 3 * w};
    case LineStyle::kDashDot:
      return {8 * w, 3 * w, 1.5f * w, 3 * w};
    case LineStyle::kShortDash:
      return {3.5f * w, 3 * w};
    case LineStyle::kDashDotDot:
      return {8 * w, 3 * w, 1.5f * w, 3 * w, 1.5f * w, 3 * w};
  }
  return {};
}

ScreenPoint Between(ScreenPoint a, ScreenPoint b, float t) {
  return {a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
}

std::vector<ScreenPoint> OnScreen(const std::vector<PointPx>& points,
                                  const CanvasTransform& transform) {
  std::vector<ScreenPoint> out;
  out.reserve(points.size());
  for (const PointPx p : points) out.push_back(transform.ToScreen(p));
  return out;
}

// A contour seen from afar has many places on one pixel: only those that a line can show stay,
// first and last always.
std::vector<ScreenPoint> Thinned(std::vector<ScreenPoint> line) {
  if (line.size() < 4) return line;
  std::size_t kept = 0;
  for (std::size_t i = 1; i + 1 < line.size(); ++i)
    if (Apart(line[i], line[kept]) >= kLeastStep) line[++kept] = line[i];
  line[++kept] = line.back();
  line.resize(kept + 1);
  return line;
}

bool IsChosen(const Chosen& chosen, const std::string& feature) {
  if (feature.empty()) return false;
  return std::any_of(chosen.features.begin(), chosen.features.end(), [&](const std::string& name) {
    if (name == feature) return true;
    // A merged bore carries both names.
    const std::string padded = "+" + feature + "+";
    return padded.find("+" + name + "+") != std::string::npos;
  });
}

class Builder {
 public:
  Builder(const SceneInput& input, const CanvasTransform& transform, const MeasureText& measure,
          float stroke)
      : in_(input), transform_(transform), measure_(measure), stroke_(stroke) {}

  Scene Build() {
    if (in_.marks != nullptr && in_.show_marks) {
      for (const Mark& mark : *in_.marks) AddMark(mark);
    }
    AddChosen();
    if (in_.hand.size() == 2) AddLine(in_.hand, false, LineStyle::kSolid, Paint::kHand, 2.2f);
    if (in_.drawn.size() >= 2) AddLine(in_.drawn, false, LineStyle::kSolid, Paint::kDrawn, 1.6f);
    if (in_.marks != nullptr && in_.show_marks && in_.show_names) AddNames();
    AddBar();
    return std::move(scene_);
  }

 private:
  void AddLine(const std::vector<PointPx>& points, bool closed, LineStyle style, Paint paint,
               float width) {
    for (auto& part : Dashed(Thinned(OnScreen(points, transform_)), closed, style, width * stroke_,
                             transform_.view()))
      scene_.strokes.push_back({std::move(part), paint, width, false});
  }

  void AddMark(const Mark& mark) {
    const bool chosen = IsChosen(in_.chosen, mark.feature);
    const Paint paint = PaintOf(mark.ink);
    const auto width = static_cast<float>(mark.weight) * (chosen ? kChosenWidth : 1.0f);
    switch (mark.kind) {
      case Kind::kContour:
      case Kind::kPath:
        AddLine(mark.points, mark.kind == Kind::kContour, mark.style, paint, width);
        break;
      case Kind::kSegment:
        if (mark.points.size() == 2)
          scene_.strokes.push_back({OnScreen(mark.points, transform_), paint, width, true});
        break;
      case Kind::kDot:
        AddCorners(mark, paint, width);
        break;
      case Kind::kText:
        break;
    }
  }

  // Four corners around a place, none of them on it.
  void AddCorners(const Mark& mark, Paint paint, float width) {
    if (mark.points.empty()) return;
    const ScreenPoint at = transform_.ToScreen(mark.points.front());
    const float r =
        std::max(kLeastDot, static_cast<float>(1.5 * mark.radius_px * transform_.zoom()));
    const float leg = 0.45f * r;
    for (const float sx : {-1.f, 1.f}) {
      for (const float sy : {-1.f, 1.f}) {
        const ScreenPoint corner{at.x + sx * r, at.y + sy * r};
        scene_.strokes.push_back(
            {{{corner.x - sx * leg, corner.y}, corner, {corner.x, corner.y - sy * leg}},
             paint,
             width,
             false});
      }
    }
  }

  void AddChosen() {
    for (const std::vector<PointPx>& stretch : in_.chosen.stretches)
      AddLine(stretch, false, LineStyle::kSolid, Paint::kChosen, kChosenWidth);
    const std::vector<ScreenPoint> at = OnScreen(in_.chosen.places, transform_);
    for (std::size_t i = 0; i + 1 < at.size(); i += 2)
      scene_.strokes.push_back({{at[i], at[i + 1]}, Paint::kChosen, kChosenWidth, true});
    if (at.size() % 2 == 1) {
      const ScreenPoint p = at.back();
      constexpr float kArm = 11, kGap = 4;
      for (const auto& [dx, dy] : {std::pair{1.f, 0.f}, {-1.f, 0.f}, {0.f, 1.f}, {0.f, -1.f}})
        scene_.strokes.push_back(
            {{{p.x + kGap * dx, p.y + kGap * dy}, {p.x + kArm * dx, p.y + kArm * dy}},
             Paint::kChosen,
             1.6f,
             false});
    }
    if (at.empty() || in_.chosen.label.empty()) return;
    const ScreenPoint middle =
        at.size() >= 2 ? Between(at[at.size() - 2], at.back(), 0.5f) : at.front();
    Place(in_.chosen.label, middle, true, Paint::kChosen, "", /*must=*/true);
  }

  void AddNames() {
    std::vector<const Mark*> texts;
    for (const Mark& mark : *in_.marks) {
      if (mark.kind == Kind::kText && !mark.points.empty()) texts.push_back(&mark);
    }
    std::stable_sort(texts.begin(), texts.end(),
                     [](const Mark* a, const Mark* b) { return a->rank < b->rank; });
    for (const Mark* mark : texts) {
      PointPx anchor{0, 0};
      for (const PointPx p : mark->points) anchor = anchor + p;
      anchor = (1.0 / static_cast<double>(mark->points.size())) * anchor;
      Place(mark->text, transform_.ToScreen(anchor), mark->seat == DisplayItem::Seat::kBeside,
            PaintOf(mark->ink), mark->feature, false);
    }
  }

  // On its anchor or, where that is taken, at the nearest free seat around it; else left out.
  void Place(const std::string& text, ScreenPoint anchor, bool beside, Paint paint,
             const std::string& feature, bool must) {
    const ScreenRect& view = transform_.view();
    if (anchor.x < view.x || anchor.y < view.y || anchor.x > view.x + view.w ||
        anchor.y > view.y + view.h)
      return;
    const TextSize size = measure_(text);
    const float w = size.w + 10, h = size.h + 4;
    constexpr float kAway = 14;
    const float dx = 0.5f * w + kAway, dy = 0.5f * h + kAway;
    std::vector<ScreenPoint> seats;
    if (!beside) seats.push_back({0, 0});
    for (const float far : {1.f, 1.8f}) {
      for (const auto& [sx, sy] : {std::pair{1.f, -0.6f},
                                   {-1.f, -0.6f},
                                   {1.f, 0.6f},
                                   {-1.f, 0.6f},
                                   {0.f, -1.f},
                                   {0.f, 1.f}})
        seats.push_back({far * sx * dx, far * sy * dy});
    }
    for (const ScreenPoint seat : seats) {
      const ScreenRect plate{anchor.x + seat.x - 0.5f * w, anchor.y + seat.y - 0.5f * h, w, h};
      if (!plate.Within(view)) continue;
      if (std::any_of(scene_.tags.begin(), scene_.tags.end(),
                      [&](const Tag& tag) { return tag.plate.Overlaps(plate, 3); }))
        continue;
      scene_.tags.push_back({text, plate, paint, feature});
      return;
    }
    if (must)
      scene_.tags.push_back({text, {anchor.x + kAway, anchor.y + kAway, w, h}, paint, feature});
  }

  void AddBar() {
    if (!(in_.px_per_um > 0)) return;
    const ScreenRect& view = transform_.view();
    const double um = 0.22 * view.w / (transform_.zoom() * in_.px_per_um);
    const RoundLength length = RoundLengthBelow(um, in_.units);
    const auto screen = static_cast<float>(length.um * in_.px_per_um * transform_.zoom());
    const float y = view.y + view.h - 26, x = view.x + 24;
    scene_.bar = Scene::Bar{{x, y}, {x + screen, y}, length.text};
  }

  const SceneInput& in_;
  const CanvasTransform& transform_;
  const MeasureText& measure_;
  float stroke_;
  Scene scene_;
};

double ToSegment(ScreenPoint p, ScreenPoint a, ScreenPoint b) {
  const float ex = b.x - a.x, ey = b.y - a.y, square = ex * ex + ey * ey;
  const float t =
      square > 0 ? std::clamp(((p.x - a.x) * ex + (p.y - a.y) * ey) / square, 0.f, 1.f) : 0.f;
  return Apart(p, Between(a, b, t));
}

bool IsFeature(const Mark& mark) {
  return (mark.kind == Kind::kContour || mark.kind == Kind::kPath) && !mark.feature.empty() &&
         mark.feature != "clock" && mark.feature.find('|') == std::string::npos;
}

}  // namespace

std::vector<Mark> MarksOf(const DisplayList& list, const Scale& scale) {
  std::vector<Mark> marks;
  marks.reserve(list.items.size());
  for (const DisplayItem& item : list.items) {
    Mark mark{item.kind, item.ink,     item.style,  {},
              item.text, item.feature, item.weight, item.radius_um / scale.mean_pitch_um(),
              item.seat, item.rank};
    for (const PointUm p : item.points) mark.points.push_back(scale.ToPx(p));
    marks.push_back(std::move(mark));
  }
  return marks;
}

Paint PaintOf(Ink ink) {
  switch (ink) {
    case Ink::kOutline:
      return Paint::kOutline;
    case Ink::kLumen:
      return Paint::kLumen;
    case Ink::kRing:
      return Paint::kRing;
    case Ink::kLiner:
      return Paint::kLiner;
    case Ink::kWire:
      return Paint::kWire;
    case Ink::kVoid:
      return Paint::kVoid;
    case Ink::kLeast:
      return Paint::kLeast;
    case Ink::kFinding:
      return Paint::kFinding;
    case Ink::kNeutral:
      break;
  }
  return Paint::kNeutral;
}

std::vector<std::vector<ScreenPoint>> Dashed(const std::vector<ScreenPoint>& line, bool closed,
                                             LineStyle style, float width, const ScreenRect& view) {
  std::vector<std::vector<ScreenPoint>> parts;
  const std::size_t edges = line.size() < 2 ? 0 : line.size() - (closed ? 0 : 1);
  const std::vector<float> pattern = Pattern(style, width);
  std::vector<ScreenPoint> open;
  const auto close = [&] {
    if (open.size() >= 2) parts.push_back(std::move(open));
    open.clear();
  };
  float period = 0;
  for (const float length : pattern) period += length;
  std::size_t step = 0;
  float left = pattern.empty() ? 0 : pattern[0];
  for (std::size_t i = 0; i < edges; ++i) {
    const ScreenPoint a = line[i], b = line[(i + 1) % line.size()];
    const float length = Apart(a, b);
    if (!Near(view, a, b)) {  // the pattern may start afresh: nobody sees it go by
      close();
      step = 0;
      left = pattern.empty() ? 0 : pattern[0];
      continue;
    }
    if (pattern.empty() || length > 400 * period) {
      if (open.empty()) open.push_back(a);
      open.push_back(b);
      continue;
    }
    float done = 0;
    while (done < length) {
      const bool ink = step % 2 == 0;
      const float take = std::min(left, length - done);
      if (ink && open.empty()) open.push_back(Between(a, b, done / length));
      done += take;
      left -= take;
      if (ink) open.push_back(Between(a, b, std::min(1.f, done / length)));
      if (left <= 0) {
        if (ink) close();
        step = (step + 1) % pattern.size();
        left = pattern[step];
      }
    }
  }
  close();
  return parts;
}

Scene BuildScene(const SceneInput& input, const CanvasTransform& transform,
                 const MeasureText& measure, float stroke) {
  return Builder(input, transform, measure, stroke).Build();
}

std::string FeatureAt(const std::vector<Mark>& marks, const CanvasTransform& transform,
                      ScreenPoint at, float reach) {
  std::string nearest;
  double best = reach;
  for (const Mark& mark : marks) {
    if (!IsFeature(mark)) continue;
    const std::vector<ScreenPoint> line = OnScreen(mark.points, transform);
    const std::size_t edges = line.size() - (mark.kind == Kind::kContour || line.empty() ? 0 : 1);
    for (std::size_t i = 0; i < edges; ++i) {
      const double d = ToSegment(at, line[i], line[(i + 1) % line.size()]);
      if (d < best) {
        best = d;
        nearest = mark.feature;
      }
    }
  }
  if (!nearest.empty()) return nearest;
  const PointPx p = transform.ToImage(at);
  double least = 1e300;
  for (const Mark& mark : marks) {
    if (!IsFeature(mark) || mark.kind != Kind::kContour || mark.points.size() < 3) continue;
    const double area = Area(mark.points);
    if (area < least && Contains(mark.points, p)) {
      least = area;
      nearest = mark.feature;
    }
  }
  return nearest;
}

}  // namespace cutface::window
