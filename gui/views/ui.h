// The few controls that the window is made of, drawn in the theme's hand. Every control notes where
// it lies under its name, so that tests find it as a person does. Keywords: text, word, field.
#pragma once

#include <imgui.h>

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "gui/state/panels.h"
#include "gui/theme/theme.h"

namespace cutface::window {

class Ui {
 public:
  explicit Ui(const Theme& theme) : t(theme) {}

  const Theme& t;
  struct Place {
    std::string name;
    float x, y, w, h;
  };
  std::vector<Place> places;       // of this frame
  std::vector<std::string> texts;  // as they are drawn in this frame

  void Note(std::string_view name, ImVec2 from, ImVec2 size);

  // Text at a place, without moving the cursor. Cut with "..." at `width` when it is given.
  float TextAt(ImVec2 at, ImFont* font, ImU32 colour, const std::string& text, float width = 0);
  float TextRight(ImVec2 at, ImFont* font, ImU32 colour, const std::string& text);
  ImVec2 SizeOf(ImFont* font, const std::string& text, float wrap = 0) const;
  // Text in the flow.
  void Line(ImFont* font, ImU32 colour, const std::string& text);
  // Broken at spaces, `right` short of the region's end.
  void Wrapped(ImFont* font, ImU32 colour, const std::string& text, float right = 0);
  std::string Broken(ImFont* font, const std::string& text, float width) const;
  void Gap(float units);
  void Rule();

  void Key(ImVec2 at, const std::string& key, ImU32 colour);
  float KeyWidth(const std::string& key) const;
  // A word that acts; `key` is set small beside it. Quiet ones are text, strong ones a filled
  // plate.
  bool Word(std::string_view name, const std::string& text, const std::string& key = "",
            bool strong = false, bool enabled = true);
  // One of several words, underlined when it is the chosen one.
  bool Choice(std::string_view name, const std::string& text, bool chosen,
              const std::string& key = "");
  // A labelled line to write on; true when the entry is finished and has changed.
  bool Field(std::string_view name, const std::string& label, std::string& value,
             const std::string& hint = "", bool secret = false);
  // Several lines to write on; true when they were changed.
  bool TextBox(std::string_view name, std::string& value, ImVec2 size);
  // A whole row as a control, under what is drawn on it.
  bool Row(std::string_view name, float height, bool chosen, bool* hovered = nullptr);

  // Where a point lies between two brackets: a verdict's mark, `size` high.
  void Bracket(ImVec2 at, float size, BracketMark mark, ImU32 colour);
  // Word and mark, right-aligned to `right`.
  void VerdictRight(ImVec2 right, ImFont* font, Verdict verdict, const std::string& word);
  void NumberLineAt(ImVec2 at, ImVec2 size, const NumberLine& line, ImU32 colour);

  ImDrawList* draw() const { return ImGui::GetWindowDrawList(); }
};

}  // namespace cutface::window
