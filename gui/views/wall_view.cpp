// The wall by the clock: unrolled from 12 to 12, thick where it is thick.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawBand(Ui& ui, const WallPanel& w, ImVec2 at, ImVec2 size) {
  const Theme& t = ui.t;
  ImDrawList* list = ui.draw();
  const auto x = [&](float share) { return at.x + share * size.x; };
  const auto y = [&](float share) { return at.y + (1 - share) * size.y; };
  const std::size_t n = w.places.size();
  list->Flags &= ~ImDrawListFlags_AntiAliasedFill;  // neighbours share an edge: no seams
  for (std::size_t i = 0; i + 1 < n; ++i) {
    const WallPanel::Place &a = w.places[i], &b = w.places[i + 1];
    if (!b.joined) continue;
    const ImU32 colour = a.seen && b.seen ? t.wall : t.wall_unseen;
    list->AddQuadFilled({x(a.x), y(0)}, {x(a.x), y(a.y)}, {x(b.x), y(b.y)}, {x(b.x), y(0)}, colour);
  }
  list->Flags |= ImDrawListFlags_AntiAliasedFill;
  for (std::size_t i = 0; i + 1 < n; ++i) {
    const WallPanel::Place &a = w.places[i], &b = w.places[i + 1];
    if (a.seen && b.seen && b.joined)
      list->AddLine({x(a.x), y(a.y)}, {x(b.x), y(b.y)}, t.ink, 1.3f * t.scale);
  }
  for (std::size_t i = 0; i + 1 < w.wave.size(); i += 2)  // every other step: a dashed line
    list->AddLine({x(w.wave[i].x), y(w.wave[i].y)}, {x(w.wave[i + 1].x), y(w.wave[i + 1].y)},
                  t.accent, 1.2f * t.scale);
  for (const WallPanel::Level& level : w.levels) {
    const float line = y(level.y);
    if (level.is_limit) {
      for (float d = 0; d < size.x; d += 12 * t.scale)
        list->AddLine({at.x + d, line}, {at.x + std::min(size.x, d + 7 * t.scale), line}, t.alarm,
                      1.5f * t.scale);
      const ImVec2 text = ui.SizeOf(t.fonts.small, level.text);
      const ImVec2 seat{at.x + size.x - text.x - 4, line - text.y - 3};
      list->AddRectFilled({seat.x - 3, seat.y}, {seat.x + text.x + 3, seat.y + text.y},
                          (t.paper & 0x00ffffffu) | 0xd0000000u, 2 * t.scale);
      ui.TextAt(seat, t.fonts.small, t.alarm, level.text);
    } else {
      list->AddLine({at.x, line}, {at.x + size.x, line}, (t.rule & 0x00ffffffu) | 0x90000000u);
      ui.TextRight({at.x - 6, line - 0.5f * t.fonts.small->FontSize}, t.fonts.small, t.quiet,
                   level.text);
    }
  }
}

void DrawMark(Ui& ui, const WallPanel::Place& p, const char* word, ImVec2 at, ImVec2 size) {
  const Theme& t = ui.t;
  const float x = at.x + p.x * size.x, y = at.y + (1 - p.y) * size.y;
  ui.draw()->AddLine({x, at.y + size.y}, {x, y}, t.ink, 1.2f);
  ui.draw()->AddCircleFilled({x, y}, 3 * t.scale, t.ink);
  const float w = ui.SizeOf(t.fonts.small, word).x;
  const float left = std::clamp(x - 0.5f * w, at.x, at.x + size.x - w);
  ui.TextAt({left, y - t.fonts.small->FontSize - 4 * t.scale}, t.fonts.small, t.ink, word);
}

}  // namespace

void DrawWall(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const WallPanel& w = app.panels().wall;
  const ImVec2 at = ImGui::GetCursorScreenPos(), size = ImGui::GetContentRegionAvail();
  ui.draw()->AddRectFilled(at, {at.x + size.x, at.y + size.y}, t.paper);
  ui.draw()->AddLine(at, {at.x + size.x, at.y}, t.rule);
  if (w.names.empty()) return;
  ImGui::SetCursorScreenPos({at.x + t.Space(2), at.y + t.Space(1.2f)});
  for (const std::string& name : w.names) {
    if (ui.Choice("wall/" + name, name, name == w.name)) out.push_back({Do::kChooseWall, 0, name});
    ImGui::SameLine(0, t.Space(2));
  }
  const WallPanel::Hand& hand = app.hand();
  const std::string text = hand.shown ? hand.text
                                      : std::string(words::kThinnest) + " " + w.least_text + "   " +
                                            words::kMean + " " + w.mean_text + "   " +
                                            words::kThickest + " " + w.greatest_text;
  // Beside the names where there is room, else below them.
  ImFont* font = hand.shown ? t.fonts.strong : t.fonts.body;
  const float used = ImGui::GetCursorScreenPos().x - at.x;
  const bool below = used + ui.SizeOf(font, text).x > size.x - t.Space(2);
  const float drop = below ? t.Space(2.6f) : 0;
  ui.TextRight({at.x + size.x - t.Space(2), at.y + t.Space(1.2f) + drop}, font, t.ink, text);
  float ticks = 0;  // room for their words at the left
  for (const WallPanel::Level& level : w.levels)
    if (!level.is_limit) ticks = std::max(ticks, ui.SizeOf(t.fonts.small, level.text).x + 6);
  const ImVec2 strip{at.x + t.Space(2) + ticks, at.y + t.Space(5) + drop};
  const ImVec2 area{size.x - t.Space(4) - ticks, size.y - t.Space(8) - drop};
  if (area.y < 20) return;
  ImGui::SetCursorScreenPos(strip);
  ImGui::InvisibleButton("strip", area);
  const bool hovered = ImGui::IsItemHovered();
  ui.Note("wall", strip, area);
  DrawBand(ui, w, strip, area);
  DrawMark(ui, w.least, words::kThinnest, strip, area);
  DrawMark(ui, w.greatest, words::kThickest, strip, area);
  static constexpr const char* kHours[] = {"12", "3", "6", "9", "12"};
  for (int i = 0; i < 5; ++i) {
    const float x = strip.x + 0.25f * static_cast<float>(i) * area.x;
    const float half = 0.5f * ui.SizeOf(t.fonts.small, kHours[i]).x;
    ui.draw()->AddLine({x, strip.y + area.y}, {x, strip.y + area.y + 4}, t.quiet);
    ui.TextAt({x - half, strip.y + area.y + 5}, t.fonts.small, t.quiet, kHours[i]);
  }
  if (!w.wave_text.empty())
    ui.TextAt({strip.x + 0.03f * area.x, strip.y + area.y + 5}, t.fonts.small, t.accent,
              w.wave_text, 0.2f * area.x);
  if (!w.clock_text.empty()) {
    const float wide = ui.SizeOf(t.fonts.small, w.clock_text).x;
    const ImVec2 seat{strip.x + 0.98f * area.x - wide, strip.y};
    ui.TextAt(seat, t.fonts.small, t.ink, w.clock_text);
    ui.Note("wall clock", seat, {wide, t.fonts.small->FontSize});
  }
  if (hand.shown) {
    const float x = strip.x + hand.x * area.x, y = strip.y + (1 - hand.y) * area.y;
    ui.draw()->AddLine({x, strip.y}, {x, strip.y + area.y}, t.accent, 1.5f * t.scale);
    ui.draw()->AddCircleFilled({x, y}, 4.5f * t.scale, t.paper);
    ui.draw()->AddCircleFilled({x, y}, 3.4f * t.scale, t.accent);
  }
  if (hovered) {
    Intent point{Do::kPointWall};
    point.share = static_cast<double>((ImGui::GetIO().MousePos.x - strip.x) / area.x);
    if (ImGui::GetIO().MouseDelta.x != 0 || ImGui::GetIO().MouseDelta.y != 0) out.push_back(point);
  }
}

}  // namespace cutface::window
