#include "gui/views/ui.h"

#include <imgui_stdlib.h>

#include <algorithm>

namespace cutface::window {

void Ui::Note(std::string_view name, ImVec2 from, ImVec2 size) {
  places.push_back({std::string(name), from.x, from.y, size.x, size.y});
}

ImVec2 Ui::SizeOf(ImFont* font, const std::string& text, float wrap) const {
  return font->CalcTextSizeA(font->FontSize, 1e9f, wrap, text.c_str());
}

float Ui::TextAt(ImVec2 at, ImFont* font, ImU32 colour, const std::string& text, float width) {
  texts.push_back(text);
  const float full = SizeOf(font, text).x;
  if (width <= 0 || full <= width) {
    draw()->AddText(font, font->FontSize, at, colour, text.c_str());
    return full;
  }
  std::string cut = text;
  while (!cut.empty() && SizeOf(font, cut + "...").x > width) {
    cut.pop_back();
    while (!cut.empty() && (static_cast<unsigned char>(cut.back()) & 0xc0) == 0x80) cut.pop_back();
  }
  cut += "...";
  draw()->AddText(font, font->FontSize, at, colour, cut.c_str());
  return width;
}

float Ui::TextRight(ImVec2 at, ImFont* font, ImU32 colour, const std::string& text) {
  texts.push_back(text);
  const float w = SizeOf(font, text).x;
  draw()->AddText(font, font->FontSize, {at.x - w, at.y}, colour, text.c_str());
  return w;
}

void Ui::Line(ImFont* font, ImU32 colour, const std::string& text) {
  texts.push_back(text);
  ImGui::PushFont(font);
  ImGui::PushStyleColor(ImGuiCol_Text, colour);
  ImGui::TextUnformatted(text.c_str());
  ImGui::PopStyleColor();
  ImGui::PopFont();
}

// At spaces only: Dear ImGui's own wrapping would also part "0.123" behind its point.
std::string Ui::Broken(ImFont* font, const std::string& text, float width) const {
  std::string out, line;
  const auto take = [&](const std::string& word) {
    const std::string longer = line.empty() ? word : line + " " + word;
    if (!line.empty() && SizeOf(font, longer).x > width) {
      out += line + "\n";
      line = word;
    } else {
      line = longer;
    }
  };
  std::string word;
  for (const char c : text) {
    if (c != ' ' && c != '\n') {
      word += c;
      continue;
    }
    take(word);
    word.clear();
    if (c == '\n') {
      out += line + "\n";
      line.clear();
    }
  }
  take(word);
  return out + line;
}

void Ui::Wrapped(ImFont* font, ImU32 colour, const std::string& text, float right) {
  texts.push_back(text);
  ImGui::PushFont(font);
  ImGui::PushStyleColor(ImGuiCol_Text, colour);
  ImGui::TextUnformatted(
      Broken(font, text, std::max(40.f, ImGui::GetContentRegionAvail().x - right)).c_str());
  ImGui::PopStyleColor();
  ImGui::PopFont();
}

void Ui::Gap(float units) { ImGui::Dummy({0, t.Space(units)}); }

void Ui::Rule() {
  const ImVec2 at = ImGui::GetCursorScreenPos();
  draw()->AddLine(at, {at.x + ImGui::GetContentRegionAvail().x, at.y}, t.rule);
  ImGui::Dummy({0, 1});
}

// A key as it looks on a keyboard: a thin frame round its name.
void Ui::Key(ImVec2 at, const std::string& key, ImU32 colour) {
  const ImVec2 size = SizeOf(t.fonts.small, key);
  draw()->AddRect({at.x, at.y - 1}, {at.x + size.x + t.Space(1), at.y + size.y + 1},
                  (colour & 0x00ffffffu) | 0x60000000u, 3 * t.scale);
  draw()->AddText(t.fonts.small, t.fonts.small->FontSize, {at.x + t.Space(0.5f), at.y}, colour,
                  key.c_str());
}

float Ui::KeyWidth(const std::string& key) const {
  return key.empty() ? 0 : SizeOf(t.fonts.small, key).x + t.Space(1);
}

bool Ui::Word(std::string_view name, const std::string& text, const std::string& key, bool strong,
              bool enabled) {
  ImFont* font = t.fonts.strong;
  texts.push_back(text);
  if (!key.empty()) texts.push_back(key);
  const ImVec2 word = SizeOf(font, text);
  const float pad = strong ? t.Space(1.5f) : 0;
  const ImVec2 size{word.x + (key.empty() ? 0 : KeyWidth(key) + t.Space(0.75f)) + 2 * pad,
                    word.y + t.Space(strong ? 1.5f : 0.75f)};
  ImGui::PushID(name.data(), name.data() + name.size());
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const bool clicked = ImGui::InvisibleButton("word", size) && enabled;
  const bool hovered = ImGui::IsItemHovered() && enabled;
  const bool focused = ImGui::IsItemFocused() && ImGui::GetIO().NavVisible;
  ImGui::PopID();
  Note(name, at, size);
  ImU32 ink = enabled ? (strong ? t.on_accent : t.accent) : t.quiet;
  if (strong && enabled)
    draw()->AddRectFilled(at, {at.x + size.x, at.y + size.y},
                          hovered ? (t.accent & 0x00ffffffu) | 0xd8000000u : t.accent,
                          t.Space(0.4f));
  const float y = at.y + 0.5f * (size.y - word.y);
  draw()->AddText(font, font->FontSize, {at.x + pad, y}, ink, text.c_str());
  if (!strong && (hovered || focused))
    draw()->AddLine({at.x, y + word.y + 1}, {at.x + word.x, y + word.y + 1}, t.accent, 1.5f);
  if (!key.empty())
    Key({at.x + pad + word.x + t.Space(0.75f), y + 0.5f * (word.y - t.fonts.small->FontSize) + 1},
        key, strong && enabled ? (ink & 0x00ffffffu) | 0xc0000000u : t.quiet);
  return clicked;
}

bool Ui::Choice(std::string_view name, const std::string& text, bool chosen,
                const std::string& key) {
  ImFont* font = chosen ? t.fonts.strong : t.fonts.body;
  texts.push_back(text);
  const ImVec2 word = SizeOf(t.fonts.strong, text);
  const ImVec2 size{word.x + (key.empty() ? 0 : KeyWidth(key) + t.Space(0.6f)),
                    word.y + t.Space(1)};
  ImGui::PushID(name.data(), name.data() + name.size());
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const bool clicked = ImGui::InvisibleButton("choice", size);
  const bool hovered = ImGui::IsItemHovered();
  ImGui::PopID();
  Note(name, at, size);
  draw()->AddText(font, font->FontSize, at, chosen || hovered ? t.ink : t.quiet, text.c_str());
  if (!key.empty())
    Key({at.x + word.x + t.Space(0.6f), at.y + 0.5f * (word.y - t.fonts.small->FontSize) + 1}, key,
        t.quiet);
  if (chosen)
    draw()->AddRectFilled({at.x, at.y + word.y + t.Space(0.4f)},
                          {at.x + word.x, at.y + word.y + t.Space(0.4f) + 2}, t.accent);
  return clicked;
}

bool Ui::Field(std::string_view name, const std::string& label, std::string& value,
               const std::string& hint, bool secret) {
  if (!label.empty()) {
    Line(t.fonts.small, t.quiet, label);
    ImGui::SetCursorPosY(ImGui::GetCursorPosY() - t.Space(0.6f));
  }
  ImGui::PushID(name.data(), name.data() + name.size());
  ImGui::SetNextItemWidth(ImGui::GetContentRegionAvail().x);
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const float width = ImGui::GetContentRegionAvail().x;
  ImGui::InputTextWithHint("##field", hint.c_str(), &value,
                           secret ? ImGuiInputTextFlags_Password : ImGuiInputTextFlags_None);
  const bool done = ImGui::IsItemDeactivatedAfterEdit();
  const ImVec2 size{width, ImGui::GetItemRectSize().y};
  draw()->AddLine({at.x, at.y + size.y}, {at.x + size.x, at.y + size.y},
                  ImGui::IsItemActive() ? t.accent : t.rule, ImGui::IsItemActive() ? 2.f : 1.f);
  ImGui::PopID();
  Note(name, at, size);
  return done;
}

bool Ui::TextBox(std::string_view name, std::string& value, ImVec2 size) {
  ImGui::PushID(name.data(), name.data() + name.size());
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const bool changed = ImGui::InputTextMultiline("##box", &value, size);
  ImGui::PopID();
  Note(name, at, size);
  return changed;
}

bool Ui::Row(std::string_view name, float height, bool chosen, bool* hovered) {
  ImGui::PushID(name.data(), name.data() + name.size());
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const ImVec2 size{ImGui::GetContentRegionAvail().x, height};
  const bool clicked = ImGui::InvisibleButton("row", size);
  const bool over = ImGui::IsItemHovered();
  ImGui::PopID();
  if (hovered != nullptr) *hovered = over;
  Note(name, at, size);
  if (chosen) {
    draw()->AddRectFilled(at, {at.x + size.x, at.y + size.y}, t.raised);
    draw()->AddRectFilled(at, {at.x + 3 * t.scale, at.y + size.y}, t.accent);
  } else if (over) {
    draw()->AddRectFilled(at, {at.x + size.x, at.y + size.y},
                          (t.raised & 0x00ffffffu) | 0x90000000u);
  }
  return clicked;
}

void Ui::Bracket(ImVec2 at, float size, BracketMark mark, ImU32 colour) {
  if (mark == BracketMark::kNone) return;
  const float h = size, w = 0.9f * size, foot = 0.22f * size;
  const float left = at.x, right = at.x + w, top = at.y, bottom = at.y + h, y = at.y + 0.5f * h;
  const float line = std::max(1.3f, 0.11f * size);
  const auto side = [&](float x, float to) {
    const ImVec2 points[] = {{x + to, top}, {x, top}, {x, bottom}, {x + to, bottom}};
    draw()->AddPolyline(points, 4, colour, ImDrawFlags_None, line);
  };
  if (mark == BracketMark::kElsewhere) {
    draw()->AddLine({left, y}, {right, y}, colour, line);
    return;
  }
  side(left, foot);
  side(right, -foot);
  const float r = 0.17f * size;
  if (mark == BracketMark::kInside) draw()->AddCircleFilled({at.x + 0.5f * w, y}, r, colour);
  if (mark == BracketMark::kOnTheEdge) draw()->AddCircleFilled({right, y}, r, colour);
  if (mark == BracketMark::kOutside)
    draw()->AddCircleFilled({right + 0.36f * size, y}, 1.15f * r, colour);
}

void Ui::VerdictRight(ImVec2 right, ImFont* font, Verdict verdict, const std::string& word) {
  const VerdictLook look = LookOf(t, verdict);
  const float h = 0.72f * font->FontSize, room = 2.1f * h;
  Bracket({right.x - room + 0.55f * h, right.y + 0.5f * (font->FontSize - h)}, h, look.mark,
          look.colour);
  TextRight({right.x - room, right.y}, font, look.colour, word);
}

void Ui::NumberLineAt(ImVec2 at, ImVec2 size, const NumberLine& line, ImU32 colour) {
  if (!line.shown) return;
  const float y = at.y + 0.5f * size.y;
  const auto x = [&](float share) { return at.x + share * size.x; };
  draw()->AddLine({at.x, y}, {at.x + size.x, y}, t.rule, 1);
  // What the drawing allows: a pale band, closed where it has a limit, open where it has none.
  const float from = line.min ? *line.min : 0, to = line.max ? *line.max : 1;
  draw()->AddRectFilled({x(from), y - 5 * t.scale}, {x(to), y + 5 * t.scale},
                        (t.wall & 0x00ffffffu) | (t.dark ? 0x58000000u : 0x60000000u));
  for (const auto& limit : {line.min, line.max}) {
    if (limit)
      draw()->AddRectFilled({x(*limit) - 1, y - 8 * t.scale}, {x(*limit) + 1, y + 8 * t.scale},
                            t.quiet);
  }
  if (line.nominal)
    draw()->AddLine({x(*line.nominal), y - 5 * t.scale}, {x(*line.nominal), y + 5 * t.scale},
                    t.quiet, 1);
  if (line.lo && line.hi)
    draw()->AddRectFilled({x(*line.lo), y - 1.8f * t.scale},
                          {std::max(x(*line.hi), x(*line.lo) + 2), y + 1.8f * t.scale}, colour);
  if (line.actual) {
    draw()->AddCircleFilled({x(*line.actual), y}, 4.2f * t.scale, t.paper);
    draw()->AddCircleFilled({x(*line.actual), y}, 3.2f * t.scale, colour);
  }
  if (line.cut_left || line.cut_right) {
    const float end = line.cut_left ? at.x : at.x + size.x, way = line.cut_left ? 1.f : -1.f;
    draw()->AddTriangleFilled({end, y}, {end + way * 6 * t.scale, y - 4 * t.scale},
                              {end + way * 6 * t.scale, y + 4 * t.scale}, colour);
  }
}

}  // namespace cutface::window
