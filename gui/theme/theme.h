// Colours, fonts and spacing of the window, in one place.
//
// Paper and graphite: a quiet ground, one ink, one accent. Marks on the face keep the picture
// room's colours, told apart by line style too and cased in dark, so that they stand on bright and
// on dark. Verdicts are a word, a mark (where a point lies between two brackets) and a colour,
// each of which tells them apart alone.
#pragma once

#include <imgui.h>

#include "cutface/section.h"
#include "gui/state/scene.h"

namespace cutface::window {

struct Fonts {
  ImFont* body = nullptr;
  ImFont* strong = nullptr;
  ImFont* small = nullptr;
  ImFont* title = nullptr;
};

struct Theme {
  bool dark = false;
  float scale = 1;  // of text and spacing
  Fonts fonts;
  ImU32 ground = 0;  // behind the face
  ImU32 paper = 0;   // panels
  ImU32 raised = 0;  // chosen row, fields
  ImU32 rule = 0;    // hairlines
  ImU32 ink = 0, quiet = 0, accent = 0, on_accent = 0;
  ImU32 alarm = 0, on_alarm = 0;
  ImU32 casing = 0, plate = 0, on_plate = 0;  // on the face
  ImU32 wall = 0, wall_unseen = 0;
  float unit = 8;       // spacing
  float stroke = 1.4f;  // of a mark

  float Space(float units) const { return units * unit; }
};
Theme MakeTheme(bool dark, float scale, const Fonts& fonts);

// Loads the fonts at a size; the built-in font where they are not installed. Once before the first
// frame and whenever the size changes, between frames.
Fonts LoadFonts(float scale);
void ApplyTheme(const Theme& theme);

ImU32 PaintColour(const Theme& theme, Paint paint);

// How a verdict looks beside its word.
enum class BracketMark { kInside, kOutside, kOnTheEdge, kEmpty, kElsewhere, kNone };
struct VerdictLook {
  ImU32 colour = 0;
  BracketMark mark = BracketMark::kNone;
};
VerdictLook LookOf(const Theme& theme, Verdict verdict);

}  // namespace cutface::window
