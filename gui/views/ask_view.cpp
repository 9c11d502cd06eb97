// Asking the face: what is pointed at, what it gives, and what was kept.
#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawInHand(Ui& ui, const AskPanel& ask, Intents& out) {
  const Theme& t = ui.t;
  for (std::size_t i = 0; i < ask.edges.size(); ++i) {
    ui.Line(t.fonts.strong, t.ink, ask.edges[i].text);
    if (!ask.edges[i].can_turn) continue;
    ImGui::SameLine(0, t.Space(2));
    if (ui.Word("ask/turn/" + std::to_string(i), words::kOtherWay))
      out.push_back({Do::kAskTurn, static_cast<int>(i)});
  }
  ui.Wrapped(t.fonts.body, t.accent, ask.prompt);
  if (!ask.trouble.empty()) ui.Wrapped(t.fonts.body, t.alarm, ask.trouble);
}

void DrawAnswer(Ui& ui, const AskPanel& ask, Intents& out) {
  const Theme& t = ui.t;
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), 0});
  for (const ValueLine& v : ask.lines) {
    if (DrawValueLine(ui, v, "asked/" + std::to_string(v.index)))
      out.push_back({Do::kAskShow, v.index});
    if (!v.chosen || v.interval.empty()) continue;
    ImGui::Indent(t.Space(1.5f));
    if (ui.Word("ask/keep", words::kKeep)) out.push_back({Do::kAskKeep, v.index});
    ui.Gap(1);
    ImGui::Unindent(t.Space(1.5f));
  }
  ImGui::PopStyleVar();
}

void DrawKept(Ui& ui, const AskPanel& ask, Intents& out) {
  const Theme& t = ui.t;
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), 0});
  for (const AskPanel::Kept& kept : ask.kept) {
    const int index = kept.line.index;
    if (DrawValueLine(ui, kept.line, "kept/" + std::to_string(index)))
      out.push_back({Do::kAskShowKept, index});
    ImGui::Indent(t.Space(1.5f));
    ui.Wrapped(t.fonts.small, t.quiet, kept.edges + "; " + kept.by);
    if (kept.line.chosen && ui.Word("kept/drop", words::kTakeBack))
      out.push_back({Do::kAskDrop, index});
    ui.Gap(0.8f);
    ImGui::Unindent(t.Space(1.5f));
  }
  ImGui::PopStyleVar();
}

}  // namespace

void DrawAsk(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const AskPanel& ask = app.panels().ask;
  ImGui::Indent(t.Space(1.5f));
  ui.Gap(1);
  if (app.panels().head.verdict.empty()) {
    ui.Wrapped(t.fonts.body, t.quiet, "Measure first; then the face can be asked.");
    ImGui::Unindent(t.Space(1.5f));
    return;
  }
  if (ask.edges.empty()) ui.Wrapped(t.fonts.body, t.quiet, words::kAskWhat);
  DrawInHand(ui, ask, out);
  ui.Gap(0.5f);
  ImGui::Unindent(t.Space(1.5f));
  DrawAnswer(ui, ask, out);
  ImGui::Indent(t.Space(1.5f));
  if (!ask.edges.empty()) {
    ui.Gap(1);
    if (ask.can_keep && ui.Word("ask/keep all", words::kKeepAll, "K"))
      out.push_back({Do::kAskKeep, -1});
    if (ask.can_keep) ImGui::SameLine(0, t.Space(3));
    if (ui.Word("ask/clear", words::kStartAnew, "Esc")) out.push_back({Do::kAskClear});
  }
  if (!ask.kept.empty()) {
    ui.Gap(1);
    ui.Rule();
    ui.Line(t.fonts.small, t.quiet, words::kKept);
  }
  ImGui::Unindent(t.Space(1.5f));
  DrawKept(ui, ask, out);
}

}  // namespace cutface::window
