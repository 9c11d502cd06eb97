// Everything that was measured of one feature; the opened one with definition and formula.
#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawOpened(Ui& ui, const ValueLine& v) {
  const Theme& t = ui.t;
  ImGui::Indent(t.Space(1.5f));
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), t.Space(0.3f)});
  ui.Wrapped(t.fonts.body, t.ink, v.definition);
  ui.Wrapped(t.fonts.small, t.accent, v.formula);
  ui.Wrapped(t.fonts.small, t.quiet, v.source);
  ui.Gap(0.4f);
  for (const std::string& part : v.budget) ui.Line(t.fonts.small, t.quiet, part);
  ui.Gap(0.8f);
  ImGui::PopStyleVar();
  ImGui::Unindent(t.Space(1.5f));
}

}  // namespace

bool DrawValueLine(Ui& ui, const ValueLine& v, const std::string& name) {
  const Theme& t = ui.t;
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const float width = ImGui::GetContentRegionAvail().x,
              height = t.Space(v.grade.empty() ? 3.8f : 6);
  const bool clicked = ui.Row(name, height, v.chosen);
  const float left = at.x + t.Space(1.5f), end = at.x + width - t.Space(1.5f),
              y = at.y + t.Space(0.8f);
  const bool measured = !v.interval.empty() || v.grade.empty();
  ui.TextAt({left, y}, t.fonts.body, t.ink, v.title, 0.48f * width);
  const float w = ui.TextRight({end, y}, measured ? t.fonts.strong : t.fonts.body,
                               measured ? t.ink : t.quiet, v.value);
  ui.TextRight({end - w - t.Space(1.5f), y + 2}, t.fonts.small, t.quiet, v.interval);
  if (!v.grade.empty())
    ui.TextAt({left, y + t.fonts.body->FontSize + 3}, t.fonts.small, t.quiet, v.grade, end - left);
  if (v.chosen) DrawOpened(ui, v);
  return clicked;
}

void DrawValues(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const ValuesPanel& panel = app.panels().values;
  ImGui::Indent(t.Space(1.5f));
  ui.Gap(1);
  const float right = ImGui::GetCursorScreenPos().x + ImGui::GetContentRegionAvail().x;
  for (std::size_t i = 0; i < panel.features.size(); ++i) {
    const std::string& name = panel.features[i];
    if (i > 0) ImGui::SameLine(0, t.Space(2));
    if (i > 0 &&
        ImGui::GetCursorScreenPos().x + ui.SizeOf(t.fonts.strong, name).x > right - t.Space(2))
      ImGui::NewLine();
    if (ui.Choice("feature/" + name, name, name == panel.feature))
      out.push_back({Do::kChooseFeature, 0, name});
  }
  ui.Gap(0.5f);
  ImGui::Unindent(t.Space(1.5f));
  if (panel.lines.empty()) {
    ImGui::Indent(t.Space(2));
    ui.Wrapped(t.fonts.body, t.quiet, words::kPickFeature);
    ImGui::Unindent(t.Space(2));
    return;
  }
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), 0});
  for (const ValueLine& v : panel.lines) {
    if (DrawValueLine(ui, v, "value/" + std::to_string(v.index)))
      out.push_back({Do::kChooseValue, v.index});
  }
  ImGui::PopStyleVar();
}

}  // namespace cutface::window
