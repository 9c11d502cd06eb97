// The head of the sheet: the verdict in words, what was judged, and what to be careful about.
#include "gui/views/views.h"

namespace cutface::window {

void DrawHead(Ui& ui, const App& app, Intents& /*out*/) {
  const Theme& t = ui.t;
  const HeadPanel& head = app.panels().head;
  ui.Gap(1);
  if (head.verdict.empty()) {
    ui.Line(t.fonts.title, t.ink, "cutface");
    ui.Line(t.fonts.body, t.quiet, "measures the cut face of a catheter");
    ui.Gap(1);
    return;
  }
  ui.Line(t.fonts.small, t.quiet, head.part + "   " + head.section + "   " + head.sample);
  const VerdictLook look = LookOf(t, head.word);
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const float h = 0.62f * t.fonts.title->FontSize;
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() - t.Space(0.5f));
  std::string word = head.verdict;
  if (!word.empty()) word[0] = static_cast<char>(word[0] - 'a' + 'A');
  const ImVec2 size = ui.SizeOf(t.fonts.title, word);
  ui.TextAt({at.x, at.y - t.Space(0.5f)}, t.fonts.title, look.colour, word);
  ui.Bracket({at.x + size.x + t.Space(1.5f), at.y - t.Space(0.5f) + 0.5f * (size.y - h) + 2}, h,
             look.mark, look.colour);
  ui.Note("verdict", {at.x, at.y}, size);
  ImGui::Dummy({size.x, size.y});
  ui.Line(t.fonts.body, t.ink, head.sentence);
  for (const std::string& signature : head.signatures) ui.Line(t.fonts.small, t.accent, signature);
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), t.Space(0.3f)});
  for (std::size_t i = 0; i < head.cautions.size() && i < 4; ++i) {
    const ImVec2 from = ImGui::GetCursorScreenPos();
    ImGui::Indent(t.Space(1.2f));
    ui.Wrapped(t.fonts.small, t.alarm, head.cautions[i]);
    ImGui::Unindent(t.Space(1.2f));
    const float end = ImGui::GetCursorScreenPos().y - t.Space(0.5f);
    ui.draw()->AddRectFilled({from.x, from.y + 2}, {from.x + 3 * t.scale, end}, t.alarm);
  }
  if (head.cautions.size() > 4)
    ui.Line(t.fonts.small, t.quiet,
            "and " + std::to_string(head.cautions.size() - 4) + " more in the result");
  ImGui::PopStyleVar();
  ui.Gap(0.5f);
}

}  // namespace cutface::window
