// Findings with their evidence, their usual causes, and what was said about them.
#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawFinding(Ui& ui, const FindingLine& f, Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const float width = ImGui::GetContentRegionAvail().x;
  const std::string name = "finding/" + std::to_string(f.index);
  if (ui.Row(name, t.Space(4.6f), f.chosen)) out.push_back({Do::kChooseFinding, f.index});
  const float left = at.x + t.Space(1.5f), right = at.x + width - t.Space(1.5f);
  const float w =
      ui.TextAt({left, at.y + t.Space(1)}, t.fonts.strong, f.high ? t.alarm : t.ink, f.kind);
  ui.TextAt({left + w + t.Space(1), at.y + t.Space(1)}, t.fonts.body, t.quiet, f.where,
            right - left - w - t.Space(8));
  ui.TextRight({right, at.y + t.Space(1) + 2}, t.fonts.small, f.high ? t.alarm : t.quiet,
               f.severity);
  ImGui::Indent(t.Space(1.5f));
  const float edge = t.Space(1.5f);
  ui.Wrapped(t.fonts.body, t.ink, f.text, edge);
  if (!f.disposition.empty())
    ui.Wrapped(t.fonts.small, t.accent, "disposed of by " + f.disposition, edge);
  if (f.chosen) {
    ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), t.Space(0.4f)});
    ui.Gap(0.5f);
    for (const std::string& e : f.evidence) ui.Line(t.fonts.small, t.quiet, e);
    if (!f.causes.empty()) {
      ui.Gap(0.5f);
      ui.Line(t.fonts.small, t.ink, "usual causes, and what to check");
      for (const std::string& c : f.causes) ui.Wrapped(t.fonts.small, t.quiet, c, edge);
    }
    ImGui::PopStyleVar();
    ui.Gap(0.5f);
    if (f.placed && ui.Word("finding/jump", "Go there", "J")) out.push_back({Do::kJump});
    if (f.placed) ImGui::SameLine(0, t.Space(3));
    const std::string of = f.where.empty() ? f.kind : f.kind + ", " + f.where;
    if (f.disposition.empty() && ui.Word("finding/dispose", words::kDispose))
      out.push_back({Do::kAskReason, static_cast<int>(Correction::Kind::kDispose), of, "accept"});
  }
  ImGui::Unindent(t.Space(1.5f));
  ui.Gap(1);
}

}  // namespace

void DrawFindings(Ui& ui, const App& app, Intents& out) {
  const FindingsPanel& panel = app.panels().findings;
  for (const FindingLine& f : panel.lines) DrawFinding(ui, f, out);
  if (panel.lines.empty() && !panel.empty.empty()) {
    ImGui::Indent(ui.t.Space(2));
    ui.Gap(2);
    ui.Wrapped(ui.t.fonts.body, ui.t.quiet, panel.empty);
    ImGui::Unindent(ui.t.Space(2));
  }
}

}  // namespace cutface::window
