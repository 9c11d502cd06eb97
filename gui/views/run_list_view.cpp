// The run's left side: samples by characteristics, each verdict as its mark; and the folders.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawPlanes(Ui& ui, const RunPanel& run, Intents& out) {
  const Theme& t = ui.t;
  for (std::size_t i = 0; i < run.planes.size(); ++i) {
    if (i > 0) ImGui::SameLine(0, t.Space(2));
    const std::string& plane = run.planes[i];
    if (ui.Choice("plane/" + plane, plane.empty() ? "no plane named" : plane, plane == run.plane))
      out.push_back({Do::kRunPlane, 0, plane});
  }
}

// One column a characteristic: its number above, a mark for each sample below.
struct Grid {
  float names = 0, cell = 0, row = 0, head = 0;
};

void DrawHeads(Ui& ui, const RunPanel& run, const Grid& grid, Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 at = ImGui::GetCursorScreenPos();
  for (std::size_t i = 0; i < run.columns.size(); ++i) {
    const RunPanel::Column& column = run.columns[i];
    const float x = at.x + grid.names + static_cast<float>(i) * grid.cell;
    ImGui::SetCursorScreenPos({x, at.y});
    ImGui::PushID(column.no.c_str());
    if (ImGui::InvisibleButton("head", {grid.cell, grid.head}))
      out.push_back({Do::kRunColumn, 0, column.no});
    const bool over = ImGui::IsItemHovered(), chosen = column.no == run.no;
    ImGui::PopID();
    ui.Note("column/" + column.no, {x, at.y}, {grid.cell, grid.head});
    ImFont* font = chosen ? t.fonts.strong : t.fonts.small;
    const ImVec2 size = ui.SizeOf(font, column.no);
    ui.draw()->AddText(font, font->FontSize, {x + 0.5f * (grid.cell - size.x), at.y},
                       chosen || over ? t.ink : t.quiet, column.no.c_str());
    if (chosen)
      ui.draw()->AddRectFilled({x + 2, at.y + grid.head - 3},
                               {x + grid.cell - 2, at.y + grid.head - 1}, t.accent);
    if (!over) continue;
    ImGui::PushStyleColor(ImGuiCol_PopupBg, t.plate);
    ImGui::PushStyleColor(ImGuiCol_Text, t.on_plate);
    ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, {t.Space(1), t.Space(0.6f)});
    ImGui::SetTooltip("%s\n%s", column.subject.c_str(), column.requirement.c_str());
    ImGui::PopStyleVar();
    ImGui::PopStyleColor(2);
  }
  ImGui::SetCursorScreenPos({at.x, at.y + grid.head});
}

void DrawLine(Ui& ui, const RunPanel& run, const RunPanel::Line& line, const Grid& grid,
              Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 at = ImGui::GetCursorScreenPos();
  bool over = false;
  if (ui.Row("sample/" + std::to_string(line.face), grid.row, line.chosen, &over))
    out.push_back({Do::kRunOpenFace, line.face, run.no});
  if (over && !line.chosen) out.push_back({Do::kRunFace, line.face});
  const float y = at.y + 0.5f * (grid.row - t.fonts.body->FontSize);
  const std::string name = line.about.empty() ? line.name : line.name + ", " + line.about;
  const float mark = 0.9f * t.fonts.small->FontSize;
  const VerdictLook whole = LookOf(t, line.word);
  ui.Bracket({at.x + t.Space(1.5f), at.y + 0.5f * (grid.row - mark)}, mark, whole.mark,
             whole.colour);
  ui.TextAt({at.x + t.Space(4.6f), y}, t.fonts.body, t.ink, name, grid.names - t.Space(5));
  if (!line.trouble.empty()) {
    ui.TextAt({at.x + grid.names, y}, t.fonts.small, t.quiet, line.verdict + ": " + line.trouble,
              static_cast<float>(std::max<std::size_t>(run.columns.size(), 8)) * grid.cell);
    return;
  }
  const float size = std::min(0.5f * grid.cell, mark);
  for (std::size_t i = 0; i < line.cells.size(); ++i) {
    if (!line.cells[i]) continue;
    const VerdictLook look = LookOf(t, *line.cells[i]);
    const float x = at.x + grid.names + (static_cast<float>(i) + 0.5f) * grid.cell;
    ui.Bracket({x - 0.45f * size, at.y + 0.5f * (grid.row - size)}, size, look.mark, look.colour);
  }
}

void DrawGrid(Ui& ui, const RunPanel& run, Intents& out) {
  const Theme& t = ui.t;
  const float width = ImGui::GetContentRegionAvail().x - t.Space(1.5f);
  Grid grid;
  grid.names = std::clamp(0.3f * width, t.Space(14), t.Space(20));
  grid.cell = std::min(t.Space(5), (width - grid.names) / static_cast<float>(std::max<std::size_t>(
                                                              run.columns.size(), 1)));
  grid.row = t.Space(3.2f);
  grid.head = t.Space(3);
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {0, 0});
  DrawHeads(ui, run, grid, out);
  for (const RunPanel::Line& line : run.lines) DrawLine(ui, run, line, grid, out);
  ImGui::PopStyleVar();
}

void DrawFolders(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  RunOrder& form = app.run_form;
  bool changed = ui.Field("run/pictures", words::kRunPictures, form.pictures);
  changed = ui.Field("run/results", words::kRunResults, form.results) || changed;
  if (changed) out.push_back({Do::kRunForm});
  const std::string& hindrance = app.panels().run_hindrance;
  ui.Gap(0.3f);
  if (ui.Word("run/measure", words::kRunMeasure, "", false, hindrance.empty() && !app.job().busy))
    out.push_back({Do::kRunMeasure});
  ImGui::SameLine(0, t.Space(4));
  if (ui.Word("run/read", words::kRunRead, "", false, !form.results.empty() && !app.job().busy))
    out.push_back({Do::kRunLoad, 0, form.results});
  if (!hindrance.empty()) ui.Wrapped(t.fonts.small, t.quiet, hindrance);
}

}  // namespace

void DrawRunList(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  ImGui::BeginChild("run list", {0, -t.Space(7.5f)});
  ImGui::Indent(t.Space(1.5f));
  ui.Gap(1);
  if (app.panels().run) {
    const RunPanel& run = *app.panels().run;
    ui.Line(t.fonts.title, t.ink, run.title);
    ui.Wrapped(t.fonts.small, t.quiet, run.counts, t.Space(1.5f));
    DrawPlanes(ui, run, out);
    ImGui::Unindent(t.Space(1.5f));
    ui.Rule();
    ImGui::BeginChild("grid", {0, -t.Space(22)});
    DrawGrid(ui, run, out);
    ImGui::EndChild();
    ImGui::Indent(t.Space(1.5f));
  } else {
    ui.Line(t.fonts.title, t.ink, words::kRun);
    ui.Wrapped(t.fonts.body, t.quiet, words::kRunNone);
  }
  ImGui::BeginChild("folders", {ImGui::GetContentRegionAvail().x - t.Space(1.5f), 0});
  DrawFolders(ui, app, out);
  ImGui::EndChild();
  ImGui::Unindent(t.Space(1.5f));
  ImGui::EndChild();
}

}  // namespace cutface::window
