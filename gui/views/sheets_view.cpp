// What lies over the window for a moment: opening a file, giving a reason, about.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

bool Pressed(ImGuiKey key) { return ImGui::IsKeyPressed(ImGui::GetKeyIndex(key)); }

const char* KindWord(FileKind kind) {
  switch (kind) {
    case FileKind::kFolder:
      return "folder";
    case FileKind::kPicture:
      return "picture";
    case FileKind::kDesign:
      return "drawing";
    case FileKind::kCalibration:
      return "calibration";
    case FileKind::kResult:
      return "result";
    case FileKind::kRun:
      return "run";
  }
  return "";
}

void Take(const FileEntry& e, Drafts& drafts, Intents& out) {
  out.push_back({e.kind == FileKind::kFolder ? Do::kOpenFolder : Do::kOpenPath, 0, e.path});
  drafts.file = 0;
}

void DrawEntries(Ui& ui, const App& app, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  const FileList& files = app.files();
  if (!files.trouble.empty()) ui.Wrapped(t.fonts.body, t.alarm, files.trouble);
  const int n = static_cast<int>(files.entries.size());
  drafts.file = std::clamp(drafts.file, 0, std::max(0, n - 1));
  const bool typing = ImGui::GetIO().WantTextInput;
  if (!typing && Pressed(ImGuiKey_DownArrow)) drafts.file = std::min(n - 1, drafts.file + 1);
  if (!typing && Pressed(ImGuiKey_UpArrow)) drafts.file = std::max(0, drafts.file - 1);
  if (!typing && Pressed(ImGuiKey_Backspace))
    out.push_back({Do::kOpenFolder, 0, ParentOf(files.folder)});
  if (!typing && n > 0 && Pressed(ImGuiKey_Enter))
    Take(files.entries[static_cast<std::size_t>(drafts.file)], drafts, out);
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {0, 0});
  for (int i = 0; i < n; ++i) {
    const FileEntry& e = files.entries[static_cast<std::size_t>(i)];
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    if (ui.Row("file/" + e.name, t.Space(3.6f), i == drafts.file)) Take(e, drafts, out);
    if (i == drafts.file && (Pressed(ImGuiKey_DownArrow) || Pressed(ImGuiKey_UpArrow)))
      ImGui::SetScrollHereY();
    const float y = at.y + t.Space(0.7f);
    ui.TextAt({at.x + t.Space(1.5f), y},
              e.kind == FileKind::kFolder ? t.fonts.strong : t.fonts.body, t.ink, e.name,
              0.62f * width);
    ui.TextAt({at.x + 0.68f * width, y + 2}, t.fonts.small, t.quiet, KindWord(e.kind));
    ui.TextRight({at.x + width - t.Space(1.5f), y + 2}, t.fonts.small, t.quiet, e.note);
  }
  ImGui::PopStyleVar();
}

}  // namespace

bool BeginSheet(Ui& ui, const char* name, float width, float height) {
  const Theme& t = ui.t;
  const ImVec2 window = ImGui::GetIO().DisplaySize;
  const ImVec2 size{std::min(width, window.x - t.Space(4)),
                    std::min(height, window.y - t.Space(4))};
  ImGui::SetNextWindowPos({0.5f * (window.x - size.x), 0.5f * (window.y - size.y)});
  ImGui::SetNextWindowSize(size);
  if (!ImGui::IsPopupOpen(name)) ImGui::OpenPopup(name);
  ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, {t.Space(4), t.Space(3)});
  const bool open = ImGui::BeginPopupModal(name, nullptr,
                                           ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove);
  ImGui::PopStyleVar();
  return open;
}

void DrawOpenSheet(Ui& ui, const App& app, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  if (!BeginSheet(ui, "open sheet", t.Space(118), t.Space(80))) return;
  if (drafts.fresh) drafts.path = app.files().folder;
  ui.Line(t.fonts.title, t.ink, words::kOpen);
  if (ui.Field("open/path", "", drafts.path, "a picture, drawing, calibration record or result") ||
      (ImGui::IsItemFocused() && Pressed(ImGuiKey_Enter))) {
    const bool file = KindOf(drafts.path) != FileKind::kFolder;
    out.push_back({file ? Do::kOpenPath : Do::kOpenFolder, 0, drafts.path});
  }
  if (ui.Word("open/up", words::kUp, "Backspace"))
    out.push_back({Do::kOpenFolder, 0, ParentOf(app.files().folder)});
  ImGui::SameLine(0, t.Space(4));
  if (ui.Word("open/cancel", words::kCancel, "Esc")) out.push_back({Do::kCloseSheet});
  const float recent = 0.36f * ImGui::GetContentRegionAvail().x;
  ImGui::BeginChild("entries", {ImGui::GetContentRegionAvail().x - recent - t.Space(3), 0});
  DrawEntries(ui, app, drafts, out);
  ImGui::EndChild();
  ImGui::SameLine(0, t.Space(3));
  ImGui::BeginChild("recent", {0, 0});
  ui.Line(t.fonts.small, t.quiet, words::kRecent);
  for (const std::string& path : app.settings().recent) {
    const std::string name = path.substr(path.find_last_of('/') + 1);
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    if (ui.Row("recent/" + name, t.Space(3.2f), false)) out.push_back({Do::kOpenPath, 0, path});
    ui.TextAt({at.x + t.Space(0.5f), at.y + t.Space(0.4f)}, t.fonts.body, t.ink, name,
              width - t.Space(1));
  }
  ImGui::EndChild();
  drafts.fresh = false;
  ImGui::EndPopup();
}

namespace {

// What was added: a class, or a lumen that was not found.
void DrawAddAs(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  ui.Line(t.fonts.small, t.quiet, words::kAddAs);
  const float right = ImGui::GetCursorScreenPos().x + ImGui::GetContentRegionAvail().x;
  bool first = true;
  for (const std::string& word : app.WordsFor(Correction::Kind::kAdd)) {
    if (!first) ImGui::SameLine(0, t.Space(1.5f));
    if (!first && ImGui::GetCursorScreenPos().x + ui.SizeOf(t.fonts.strong, word).x > right)
      ImGui::NewLine();
    first = false;
    if (ui.Choice("add as/" + word, word, word == app.draft().to))
      out.push_back({Do::kDraftTo, 0, word});
  }
}

}  // namespace

void DrawReasonSheet(Ui& ui, const App& app, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  if (!BeginSheet(ui, "reason sheet", t.Space(80), t.Space(44))) return;
  const Draft& d = app.draft();
  std::string what(CorrectionName(d.kind));
  what[0] = static_cast<char>(what[0] - 'a' + 'A');
  ui.Line(t.fonts.title, t.ink, what + (d.of.empty() ? "" : ": " + d.of));
  if (d.kind == Correction::Kind::kAdd)
    DrawAddAs(ui, app, out);
  else if (!d.to.empty())
    ui.Line(t.fonts.body, t.ink, "to: " + d.to);
  ui.Gap(0.5f);
  if (drafts.fresh) ImGui::SetKeyboardFocusHere();
  ui.Field("reason", words::kWhy, drafts.reason, "for example: dust on the edge");
  const bool enter = Pressed(ImGuiKey_Enter) && !drafts.fresh;
  drafts.fresh = false;
  ui.Gap(1);
  if (ui.Word("reason/make", words::kMake, "Enter", true, !drafts.reason.empty()) ||
      (enter && !drafts.reason.empty())) {
    out.push_back({Do::kCorrect, 0, drafts.reason});
    drafts.reason.clear();
  }
  ImGui::SameLine(0, t.Space(4));
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.4f));
  if (ui.Word("reason/cancel", words::kCancel, "Esc")) out.push_back({Do::kDropLine});
  ImGui::EndPopup();
}

void DrawAboutSheet(Ui& ui, const App& /*app*/, Intents& out) {
  const Theme& t = ui.t;
  if (!BeginSheet(ui, "about sheet", t.Space(92), t.Space(62))) return;
  ui.Line(t.fonts.title, t.ink, "cutface");
  ui.Line(
      t.fonts.body, t.quiet,
      std::string("version ") + CUTFACE_VERSION + ", measures the cut faces of complex catheters");
  ui.Gap(1);
  for (const char* caution : words::kCautions) {
    ui.Wrapped(t.fonts.body, t.ink, caution);
    ui.Gap(0.3f);
  }
  ui.Gap(1);
  ui.Wrapped(
      t.fonts.small, t.quiet,
      "Keys: Ctrl O open, M measure, Ctrl S save, Ctrl G sign, Ctrl E marked picture, 1 to 6 "
      "pages, up and down rows, A ask the face, R run and back, N bench and back, D drawing and "
      "back, in a run B by station and 1 to 6 plots, K keep what was asked, J go to what is "
      "chosen, F whole face, T 12 on top, H marks, G stretch tones, Ctrl Z undo, Ctrl Y "
      "again, Ctrl C copy the page as a table, Ctrl P picture of the window, Page up and down "
      "samples, Ctrl W close the sample, Ctrl Q leave, L light or dark, Esc stop or leave.");
  ui.Gap(1);
  if (ui.Word("about/close", words::kClose, "Esc", true)) out.push_back({Do::kCloseSheet});
  ImGui::EndPopup();
}

}  // namespace cutface::window
