// The drawing's rows: what is asked for, what is there, and how they stand to each other.
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawOpened(Ui& ui, const RowLine& row, ImVec2 at, float width) {
  const Theme& t = ui.t;
  std::string text;
  if (!row.interval.empty()) text = "95 % interval " + row.interval;
  if (!row.probability.empty())
    text += std::string(text.empty() ? "" : ",  ") + "probability of conforming " + row.probability;
  if (text.empty()) text = row.note;
  ui.TextAt({at.x, at.y}, t.fonts.small, t.quiet, text, width);
  if (!row.note.empty() && text != row.note)
    ui.TextAt({at.x, at.y + t.fonts.small->FontSize + 3}, t.fonts.small, t.ink, row.note, width);
}

void DrawRow(Ui& ui, const RowLine& row, Intents& out) {
  const Theme& t = ui.t;
  const float line = t.Space(6.2f), more = row.chosen ? t.Space(row.note.empty() ? 2.4f : 4.6f) : 0;
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const float width = ImGui::GetContentRegionAvail().x;
  if (ui.Row("row/" + row.no, line + more, row.chosen)) out.push_back({Do::kChooseRow, 0, row.no});
  const float left = at.x + t.Space(1.5f), right = at.x + width - t.Space(1.5f);
  const float name = left + t.Space(3.2f), figures = 0.27f * width, axis = 0.19f * width;
  const float y1 = at.y + t.Space(0.8f), y2 = y1 + t.fonts.body->FontSize + t.Space(0.3f);
  ui.TextAt({left, y1 + 2}, t.fonts.small, t.quiet, row.no);
  const float room = right - figures - axis - name - t.Space(1);
  ui.TextAt({name, y1}, row.critical ? t.fonts.strong : t.fonts.body, t.ink, row.subject, room);
  ui.TextAt({name, y2}, t.fonts.small, t.quiet, row.requirement, room);
  const VerdictLook look = LookOf(t, row.word);
  ui.NumberLineAt({right - figures - axis, at.y}, {axis, line}, row.line, look.colour);
  ui.TextRight({right, y1}, t.fonts.strong, t.ink, row.actual);
  ui.VerdictRight({right, y2}, t.fonts.small, row.word, row.verdict);
  if (row.chosen) DrawOpened(ui, row, {name, at.y + line}, right - name);
  ui.draw()->AddLine({name, at.y + line + more}, {right, at.y + line + more}, t.rule);
}

}  // namespace

void DrawRows(Ui& ui, const App& app, Intents& out) {
  const RowsPanel& panel = app.panels().rows;
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {0, 0});
  for (const RowLine& row : panel.rows) {
    DrawRow(ui, row, out);
    if (row.chosen && ImGui::IsKeyPressed(ImGui::GetKeyIndex(ImGuiKey_DownArrow)))
      ImGui::SetScrollHereY(0.7f);
    if (row.chosen && ImGui::IsKeyPressed(ImGui::GetKeyIndex(ImGuiKey_UpArrow)))
      ImGui::SetScrollHereY(0.3f);
  }
  ImGui::PopStyleVar();
  if (panel.rows.empty() && !panel.empty.empty()) {
    ImGui::Indent(ui.t.Space(2));
    ui.Gap(2);
    ui.Wrapped(ui.t.fonts.body, ui.t.quiet, panel.empty);
    ImGui::Unindent(ui.t.Space(2));
  }
}

}  // namespace cutface::window
