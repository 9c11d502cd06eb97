#include "gui/theme/theme.h"

#include <imgui_freetype.h>

#include <cmath>
#include <string>

namespace cutface::window {
namespace {

constexpr float kBody = 17, kSmall = 14, kTitle = 30;

ImU32 Grey(double r, double g, double b, double a = 1) {
  return ImGui::ColorConvertFloat4ToU32(
      {static_cast<float>(r), static_cast<float>(g), static_cast<float>(b), static_cast<float>(a)});
}

ImFont* Load(const char* file, float px) {
  // Latin, the Greek mu, dashes and quotes; enough for the rooms' words.
  static constexpr ImWchar kRanges[] = {0x20,   0x24f,  0x391,  0x3c9, 0x2010,
                                        0x2026, 0x2212, 0x2212, 0};
  ImFontConfig config;
  config.OversampleH = 2;
  const std::string path = std::string(CUTFACE_FONT_FOLDER) + "/" + file;
  ImGuiIO& io = ImGui::GetIO();
  if (ImFont* font = io.Fonts->AddFontFromFileTTF(path.c_str(), px, &config, kRanges)) return font;
  config.SizePixels = px;
  return io.Fonts->AddFontDefault(&config);
}

}  // namespace

Fonts LoadFonts(float scale) {
  ImGuiIO& io = ImGui::GetIO();
  io.Fonts->Clear();
  io.Fonts->FontBuilderFlags = ImGuiFreeTypeBuilderFlags_LightHinting;
  Fonts fonts;
  fonts.body = Load("Lato-Regular.ttf", std::round(kBody * scale));
  fonts.strong = Load("Lato-Bold.ttf", std::round(kBody * scale));
  fonts.small = Load("Lato-Regular.ttf", std::round(kSmall * scale));
  fonts.title = Load("Lato-Light.ttf", std::round(kTitle * scale));
  io.Fonts->Build();
  return fonts;
}

Theme MakeTheme(bool dark, float scale, const Fonts& fonts) {
  Theme t;
  t.dark = dark;
  t.scale = scale;
  t.fonts = fonts;
  t.unit = 8 * scale;
  t.stroke = 1.4f * std::sqrt(scale);
  t.casing = Grey(0.04, 0.05, 0.07, 0.72);
  t.plate = Grey(0.04, 0.05, 0.07, 0.80);
  t.on_plate = Grey(0.97, 0.97, 0.95);
  if (dark) {
    t.ground = Grey(0.075, 0.08, 0.09);
    t.paper = Grey(0.115, 0.12, 0.135);
    t.raised = Grey(0.165, 0.175, 0.195);
    t.rule = Grey(0.23, 0.24, 0.26);
    t.ink = Grey(0.92, 0.92, 0.90);
    t.quiet = Grey(0.62, 0.63, 0.64);
    t.accent = Grey(0.47, 0.76, 0.82);
    t.on_accent = Grey(0.06, 0.09, 0.10);
    t.alarm = Grey(0.98, 0.55, 0.36);
    t.on_alarm = Grey(0.09, 0.05, 0.03);
    t.wall = Grey(0.35, 0.42, 0.46);
    t.wall_unseen = Grey(0.24, 0.26, 0.28);
  } else {
    t.ground = Grey(0.875, 0.865, 0.84);
    t.paper = Grey(0.985, 0.98, 0.965);
    t.raised = Grey(0.945, 0.938, 0.915);
    t.rule = Grey(0.855, 0.845, 0.82);
    t.ink = Grey(0.10, 0.11, 0.13);
    t.quiet = Grey(0.40, 0.41, 0.43);
    t.accent = Grey(0.05, 0.34, 0.42);
    t.on_accent = Grey(0.985, 0.98, 0.965);
    t.alarm = Grey(0.70, 0.22, 0.06);
    t.on_alarm = Grey(1, 0.98, 0.96);
    t.wall = Grey(0.66, 0.72, 0.73);
    t.wall_unseen = Grey(0.86, 0.85, 0.83);
  }
  return t;
}

void ApplyTheme(const Theme& t) {
  ImGuiStyle& style = ImGui::GetStyle();
  style = ImGuiStyle();
  style.WindowPadding = {0, 0};
  style.WindowBorderSize = style.ChildBorderSize = style.PopupBorderSize = 0;
  style.WindowRounding = style.ChildRounding = 0;
  style.FrameRounding = 3 * t.scale;
  style.FramePadding = {t.Space(1), t.Space(0.75f)};
  style.FrameBorderSize = 0;
  style.ItemSpacing = {t.Space(1), t.Space(1)};
  style.ScrollbarSize = t.Space(1);
  style.ScrollbarRounding = t.Space(0.5f);
  style.AntiAliasedLinesUseTex = true;
  const auto set = [&](ImGuiCol slot, ImU32 colour) {
    style.Colors[slot] = ImGui::ColorConvertU32ToFloat4(colour);
  };
  set(ImGuiCol_Text, t.ink);
  set(ImGuiCol_TextDisabled, t.quiet);
  set(ImGuiCol_WindowBg, t.paper);
  set(ImGuiCol_ChildBg, 0);
  set(ImGuiCol_PopupBg, t.paper);
  set(ImGuiCol_FrameBg, t.raised);
  set(ImGuiCol_FrameBgHovered, t.raised);
  set(ImGuiCol_FrameBgActive, t.raised);
  set(ImGuiCol_TextSelectedBg, (t.accent & 0x00ffffffu) | 0x50000000u);
  set(ImGuiCol_ScrollbarBg, 0);
  set(ImGuiCol_ScrollbarGrab, t.rule);
  set(ImGuiCol_ScrollbarGrabHovered, t.quiet);
  set(ImGuiCol_ScrollbarGrabActive, t.quiet);
  set(ImGuiCol_NavHighlight, t.accent);
  set(ImGuiCol_Header, t.raised);
  set(ImGuiCol_HeaderHovered, t.raised);
  set(ImGuiCol_HeaderActive, t.raised);
  set(ImGuiCol_ModalWindowDimBg, Grey(0.04, 0.05, 0.07, t.dark ? 0.6 : 0.35));
}

ImU32 PaintColour(const Theme& theme, Paint paint) {
  // As in the finished picture: Okabe & Ito's eight colours for readers with any colour vision.
  switch (paint) {
    case Paint::kOutline:
      return Grey(0.94, 0.89, 0.26);
    case Paint::kLumen:
      return Grey(0.34, 0.71, 0.91);
    case Paint::kRing:
      return Grey(0.80, 0.60, 0.75);
    case Paint::kLiner:
      return Grey(0.98, 0.84, 0.90);
    case Paint::kWire:
      return Grey(0.20, 0.76, 0.58);
    case Paint::kVoid:
      return Grey(0.90, 0.62, 0.00);
    case Paint::kLeast:
      return Grey(1, 1, 1);
    case Paint::kFinding:
      return Grey(1.00, 0.48, 0.22);
    case Paint::kNeutral:
      return Grey(0.88, 0.88, 0.88);
    case Paint::kChosen:
    case Paint::kHand:
      return Grey(1, 1, 1);
    case Paint::kDrawn:
      return Grey(0.98, 0.80, 0.35);
    case Paint::kCount:
      break;
  }
  return theme.ink;
}

VerdictLook LookOf(const Theme& theme, Verdict verdict) {
  switch (verdict) {
    case Verdict::kConforms:
      return {theme.accent, BracketMark::kInside};
    case Verdict::kDoesNotConform:
      return {theme.alarm, BracketMark::kOutside};
    case Verdict::kNotProven:
      return {theme.dark ? Grey(0.74, 0.66, 0.95) : Grey(0.38, 0.27, 0.62),
              BracketMark::kOnTheEdge};
    case Verdict::kNotMeasured:
      return {theme.ink, BracketMark::kEmpty};
    case Verdict::kElsewhere:
      return {theme.quiet, BracketMark::kElsewhere};
    case Verdict::kNotJudged:
      break;
  }
  return {theme.quiet, BracketMark::kNone};
}

}  // namespace cutface::window
