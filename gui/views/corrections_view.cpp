// What can be put right by hand, and what was.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

int Number(Correction::Kind kind) { return static_cast<int>(kind); }

// Words for the chosen region: what it may be.
void DrawRegionWords(Ui& ui, const App& app, const std::string& of, Intents& out) {
  const Theme& t = ui.t;
  ui.Line(t.fonts.small, t.quiet, words::kSayWhat);
  const float right = ImGui::GetCursorScreenPos().x + ImGui::GetContentRegionAvail().x;
  bool first = true;
  for (const std::string& word : app.WordsFor(Correction::Kind::kSayWhat)) {
    if (!first) ImGui::SameLine(0, t.Space(1.5f));
    if (!first &&
        ImGui::GetCursorScreenPos().x + ui.SizeOf(t.fonts.strong, word).x > right - t.Space(2))
      ImGui::NewLine();
    first = false;
    if (ui.Choice("region/" + word, word, false))
      out.push_back({Do::kAskReason, Number(Correction::Kind::kSayWhat), of, word});
  }
}

void DrawNames(Ui& ui, const App& app, const std::string& of, Intents& out) {
  const Theme& t = ui.t;
  const std::vector<std::string> names = app.WordsFor(Correction::Kind::kRename);
  if (std::find(names.begin(), names.end(), of) == names.end()) return;
  ui.Line(t.fonts.small, t.quiet, std::string(words::kRename) + ": it is really");
  bool first = true;
  for (const std::string& name : names) {
    if (name == of) continue;
    if (!first) ImGui::SameLine(0, t.Space(1.5f));
    first = false;
    if (ui.Choice("rename/" + name, name, false))
      out.push_back({Do::kAskReason, Number(Correction::Kind::kRename), of, name});
  }
  if (!first) ui.Gap(0.5f);
}

void DrawTools(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const std::vector<std::string>& features = app.chosen().features;
  const std::string of = features.empty() ? "" : features.front();
  const bool locked = app.edges_locked();
  ui.Line(t.fonts.small, t.quiet, of.empty() ? "Choose an edge or a region on the face" : "Chosen");
  if (!of.empty()) ui.Line(t.fonts.strong, t.ink, of);
  ui.Gap(0.5f);
  if (!of.empty()) {
    if (of.starts_with("void ")) {
      DrawRegionWords(ui, app, of, out);
      if (ui.Word("correct/join", words::kJoin, "", false, !locked))
        out.push_back({Do::kStartJoin, 0, of});
      ui.Gap(0.5f);
    }
    DrawNames(ui, app, of, out);
    if (ui.Word("correct/redraw", words::kRedraw, "", false, !locked))
      out.push_back({Do::kStartLine, Number(Correction::Kind::kRedraw), of});
    if (ui.Word("correct/leave", words::kLeaveOut, "", false, !locked))
      out.push_back({Do::kStartLine, Number(Correction::Kind::kLeaveOut), of});
    if (of.find('+') != std::string::npos &&
        ui.Word("correct/split", words::kSplit, "", false, !locked))
      out.push_back({Do::kStartLine, Number(Correction::Kind::kSplit), of});
  }
  if (ui.Word("correct/add", words::kAdd))
    out.push_back({Do::kStartLine, Number(Correction::Kind::kAdd), "", "void"});
  if (locked) {
    ui.Gap(0.5f);
    ui.Wrapped(t.fonts.small, t.quiet, words::kLocked);
  }
}

}  // namespace

void DrawCorrections(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  ImGui::Indent(t.Space(1.5f));
  ImGui::BeginChild("tools", {ImGui::GetContentRegionAvail().x - t.Space(1.5f), 0});
  ui.Gap(1);
  if (app.panels().head.verdict.empty()) {
    ui.Wrapped(t.fonts.body, t.quiet, "Measure first; then what was found can be put right.");
  } else {
    DrawTools(ui, app, out);
    ui.Gap(1);
    ui.Rule();
    ui.Gap(0.5f);
    const std::vector<std::string>& made = app.panels().corrections;
    if (made.empty()) ui.Wrapped(t.fonts.body, t.quiet, words::kNoCorrections);
    for (const std::string& text : made) {
      ui.Wrapped(t.fonts.body, t.ink, text);
      ui.Gap(0.5f);
    }
    if (ui.Word("correct/undo", words::kUndo, "Ctrl Z")) out.push_back({Do::kUndo});
    ImGui::SameLine(0, t.Space(3));
    if (ui.Word("correct/redo", words::kRedo, "Ctrl Y")) out.push_back({Do::kRedo});
  }
  ImGui::EndChild();
  ImGui::Unindent(t.Space(1.5f));
}

}  // namespace cutface::window
