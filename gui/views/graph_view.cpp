// A plot: axes, bands, paths, rules, marks and notes where the panel says.
#include <algorithm>
#include <cmath>

#include "gui/state/graph_panel.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

struct Area {
  ImVec2 from, size;
  float X(float share) const { return from.x + share * size.x; }
  float Y(float share) const { return from.y + (1 - share) * size.y; }
  ImVec2 At(SharePoint p) const { return {X(p.first), Y(p.second)}; }
};

ImU32 ToneColour(const Theme& t, PlotTone tone) {
  switch (tone) {
    case PlotTone::kCool:
      return t.accent;
    case PlotTone::kWarm:
      return t.alarm;
    case PlotTone::kPale:
      return t.quiet;
    case PlotTone::kPlain:
      break;
  }
  return t.ink;
}

ImU32 BandColour(const Theme& t) {
  return (t.wall & 0x00ffffffu) | (t.dark ? 0x60000000u : 0x70000000u);
}

void DrawStyled(Ui& ui, const std::vector<ImVec2>& points, bool closed, LineStyle style,
                float width, ImU32 colour) {
  if (style == LineStyle::kSolid) {
    ui.draw()->AddPolyline(points.data(), static_cast<int>(points.size()), colour,
                           closed ? ImDrawFlags_Closed : ImDrawFlags_None, width);
    return;
  }
  std::vector<ScreenPoint> line;
  for (const ImVec2 p : points) line.push_back({p.x, p.y});
  const ImVec2 window = ImGui::GetIO().DisplaySize;
  for (const auto& part : Dashed(line, closed, style, width, {0, 0, window.x, window.y}))
    ui.draw()->AddPolyline(reinterpret_cast<const ImVec2*>(part.data()),
                           static_cast<int>(part.size()), colour, ImDrawFlags_None, width);
}

void DrawShape(Ui& ui, ImVec2 at, PlotShape shape, ImU32 colour) {
  const float r = 3.6f * ui.t.scale;
  ImDrawList* list = ui.draw();
  switch (shape) {
    case PlotShape::kDot:
      list->AddCircleFilled(at, r, colour);
      break;
    case PlotShape::kRing:
      list->AddCircleFilled(at, r, ui.t.paper);
      list->AddCircle(at, r, colour, 0, 1.5f * ui.t.scale);
      break;
    case PlotShape::kSquare:
      list->AddRectFilled({at.x - r, at.y - r}, {at.x + r, at.y + r}, colour);
      break;
    case PlotShape::kTriangle:
      list->AddTriangleFilled({at.x, at.y - 1.3f * r}, {at.x + 1.2f * r, at.y + r},
                              {at.x - 1.2f * r, at.y + r}, colour);
      break;
    case PlotShape::kCross:
      list->AddLine({at.x - r, at.y - r}, {at.x + r, at.y + r}, colour, 1.6f * ui.t.scale);
      list->AddLine({at.x - r, at.y + r}, {at.x + r, at.y - r}, colour, 1.6f * ui.t.scale);
      break;
  }
}

void DrawAxes(Ui& ui, const GraphPanel& g, const Area& a) {
  const Theme& t = ui.t;
  const float small = t.fonts.small->FontSize;
  ui.draw()->AddLine({a.X(0), a.Y(0)}, {a.X(1), a.Y(0)}, t.rule);
  float until = -1e9f;  // names that would run into each other are left out
  for (const GraphPanel::Tick& tick : g.x_ticks) {
    const float w = ui.SizeOf(t.fonts.small, tick.text).x, x = a.X(tick.at) - 0.5f * w;
    ui.draw()->AddLine({a.X(tick.at), a.Y(0)}, {a.X(tick.at), a.Y(0) + 4}, t.quiet);
    if (x < until) continue;
    ui.TextAt({x, a.Y(0) + 5}, t.fonts.small, t.quiet, tick.text);
    until = x + w + t.Space(0.8f);
  }
  for (const GraphPanel::Tick& tick : g.y_ticks) {
    ui.draw()->AddLine({a.X(0), a.Y(tick.at)}, {a.X(1), a.Y(tick.at)},
                       (t.rule & 0x00ffffffu) | 0x80000000u);
    ui.TextRight({a.X(0) - 6, a.Y(tick.at) - 0.5f * small}, t.fonts.small, t.quiet, tick.text);
  }
  const float w = std::min(ui.SizeOf(t.fonts.small, g.x_title).x, a.size.x);
  ui.TextAt({a.X(1) - w, a.Y(0) + small + 7}, t.fonts.small, t.quiet, g.x_title, a.size.x);
  ui.TextAt({a.X(0), a.Y(1) - small - 5}, t.fonts.small, t.quiet, g.y_title, a.size.x);
}

void DrawRules(Ui& ui, const GraphPanel& g, const Area& a) {
  const Theme& t = ui.t;
  for (const GraphPanel::Rule& rule : g.rules) {
    const std::vector<ImVec2> line =
        rule.upright ? std::vector<ImVec2>{{a.X(rule.at), a.Y(0)}, {a.X(rule.at), a.Y(1)}}
                     : std::vector<ImVec2>{{a.X(0), a.Y(rule.at)}, {a.X(1), a.Y(rule.at)}};
    DrawStyled(ui, line, false, rule.style, 1.4f * t.scale, t.quiet);
    const float w = ui.SizeOf(t.fonts.small, rule.text).x;
    if (rule.upright)
      ui.TextAt({std::min(a.X(rule.at) + 4, a.X(1) - w), a.Y(1)}, t.fonts.small, t.quiet,
                rule.text);
    else
      ui.TextAt({a.X(1) - w, a.Y(rule.at) - t.fonts.small->FontSize - 1}, t.fonts.small, t.quiet,
                rule.text);
  }
}

void DrawContents(Ui& ui, const GraphPanel& g, const Area& a) {
  const Theme& t = ui.t;
  ImDrawList* list = ui.draw();
  const ImDrawListFlags flags = list->Flags;
  list->Flags &= ~ImDrawListFlags_AntiAliasedFill;  // quads side by side without seams
  for (const std::vector<SharePoint>& band : g.bands) {
    const std::size_t n = band.size();
    for (std::size_t i = 0; i + 1 < n / 2; ++i)
      list->AddQuadFilled(a.At(band[i]), a.At(band[i + 1]), a.At(band[n - 2 - i]),
                          a.At(band[n - 1 - i]), BandColour(t));
  }
  list->Flags = flags;
  std::vector<ImVec2> line;
  for (const GraphPanel::Path& path : g.paths) {
    line.clear();
    for (const SharePoint& p : path.points) line.push_back(a.At(p));
    DrawStyled(ui, line, path.closed, path.style, path.weight * t.stroke, ToneColour(t, path.tone));
  }
  DrawRules(ui, g, a);
  for (const GraphPanel::Mark& m : g.marks) {
    const ImU32 colour = ToneColour(t, m.tone);
    if (m.whisker)
      list->AddLine({a.X(m.x), a.Y(m.lo)}, {a.X(m.x), a.Y(m.hi)}, colour, 1.2f * t.scale);
    DrawShape(ui, {a.X(m.x), a.Y(m.y)}, m.shape, colour);
  }
  for (const GraphPanel::Note& note : g.notes) {
    const ImVec2 size = ui.SizeOf(t.fonts.small, note.text);
    const ImVec2 at{a.X(note.x) - 0.5f * size.x, a.Y(note.y) - 0.5f * size.y};
    list->AddRectFilled({at.x - 3, at.y}, {at.x + size.x + 3, at.y + size.y},
                        (t.paper & 0x00ffffffu) | 0xd0000000u, 2 * t.scale);
    ui.TextAt(at, t.fonts.small, t.ink, note.text);
  }
}

// What the marks and lines are, one under the other; returns the height.
float DrawGraphKeys(Ui& ui, const GraphPanel& g, ImVec2 at, float width) {
  const Theme& t = ui.t;
  const float step = t.fonts.small->FontSize + 3;
  float y = at.y;
  for (const GraphPanel::Key& key : g.keys) {
    const float middle = y + 0.5f * step;
    const ImU32 colour = ToneColour(t, key.tone);
    if (key.band)
      ui.draw()->AddRectFilled({at.x, middle - 4}, {at.x + t.Space(2.5f), middle + 4},
                               BandColour(t));
    else if (key.line)
      DrawStyled(ui, {{at.x, middle}, {at.x + t.Space(2.5f), middle}}, false, key.style,
                 1.5f * t.stroke, colour);
    else
      DrawShape(ui, {at.x + t.Space(1.25f), middle}, key.shape, colour);
    ui.TextAt({at.x + t.Space(3.2f), y}, t.fonts.small, t.quiet, key.text, width - t.Space(3.2f));
    y += step;
  }
  return y - at.y;
}

}  // namespace

void DrawGraph(Ui& ui, const GraphPanel& g, ImVec2 at, ImVec2 size) {
  const Theme& t = ui.t;
  const float small = t.fonts.small->FontSize;
  const float key_height = static_cast<float>(g.keys.size()) * (small + 3) + t.Space(0.5f);
  ui.Note("graph/" + g.id, at, size);
  Area a{at, {size.x, size.y - key_height}};
  if (g.map) {
    const float side = std::max(40.f, std::min(a.size.x, a.size.y));
    a.from.x += 0.5f * (a.size.x - side);
    a.size = {side, side};
  } else {
    float left = 0;
    for (const GraphPanel::Tick& tick : g.y_ticks)
      left = std::max(left, ui.SizeOf(t.fonts.small, tick.text).x);
    a.from.x += left + 8;
    a.from.y += small + 8;
    a.size.x = std::max(40.f, a.size.x - left - 12);
    a.size.y = std::max(30.f, a.size.y - 3 * small - 20);
    DrawAxes(ui, g, a);
  }
  ui.draw()->PushClipRect({at.x, at.y}, {at.x + size.x, at.y + size.y}, true);
  DrawContents(ui, g, a);
  ui.draw()->PopClipRect();
  DrawGraphKeys(ui, g, {at.x, at.y + size.y - key_height + t.Space(0.5f)}, size.x);
}

}  // namespace cutface::window
