// Sheets of what outlives the window: signing, the marked picture, work that was left behind.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

bool EnterPressed() { return ImGui::IsKeyPressed(ImGui::GetKeyIndex(ImGuiKey_Enter)); }

// One thing that stands open, and what is decided about it.
void DrawDecision(Ui& ui, const OpenDecision& open, SignForm::Decision& said, std::size_t index) {
  const Theme& t = ui.t;
  ui.Wrapped(t.fonts.body, t.ink, open.text);
  if (!open.can_decide) return;
  const std::string name = "decide/" + std::to_string(index);
  for (int k = 0; k < static_cast<int>(std::size(words::kDecisions)); ++k) {
    if (k > 0) ImGui::SameLine(0, t.Space(2));
    if (ui.Choice(name + "/" + words::kDecisions[k], words::kDecisions[k], said.what == k))
      said.what = said.what == k ? -1 : k;
  }
  if (said.what >= 0)
    ui.Field(name + "/reason", "", said.reason, "the reason; of a concession its number");
  ui.Gap(0.5f);
}

void DrawMeanings(Ui& ui, SignForm& form) {
  const Theme& t = ui.t;
  ui.Line(t.fonts.small, t.quiet, words::kMeaning);
  for (int k = 0; k < static_cast<int>(std::size(words::kMeanings)); ++k) {
    if (k > 0) ImGui::SameLine(0, t.Space(2.5f));
    if (ui.Choice(std::string("meaning/") + words::kMeanings[k], words::kMeanings[k],
                  form.meaning == k))
      form.meaning = k;
  }
  ImGui::SameLine(0, t.Space(2.5f));
  if (ui.Choice("meaning/none", words::kDecideOnly, form.meaning < 0)) form.meaning = -1;
}

}  // namespace

void DrawSignSheet(Ui& ui, App& app, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  SignForm& form = app.sign_form;
  const SignPanel& panel = app.panels().sign;
  if (!BeginSheet(ui, "sign sheet", t.Space(96), t.Space(panel.state.open.empty() ? 62 : 104)))
    return;
  const bool ready = panel.hindrance.empty();
  ui.Line(t.fonts.title, t.ink, words::kSignTitle);
  ui.Wrapped(t.fonts.small, ready ? t.quiet : t.alarm, ready ? panel.about : panel.hindrance);
  if (ui.Field("sign/store", words::kStore, form.store,
               "the path of a file, for example records.db"))
    out.push_back({Do::kSignForm});
  if (!panel.store_is_there && !form.store.empty())
    ui.Wrapped(t.fonts.small, t.accent, words::kNewStore);
  for (const std::string& line : panel.state.signatures) ui.Line(t.fonts.strong, t.accent, line);
  for (const std::string& line : panel.state.decided) ui.Wrapped(t.fonts.small, t.quiet, line);
  if (!panel.state.replaced.empty()) ui.Wrapped(t.fonts.small, t.alarm, panel.state.replaced);
  if (!panel.state.open.empty()) {
    ui.Gap(0.5f);
    ui.Line(t.fonts.small, t.quiet, words::kStandsOpen);
    ImGui::BeginChild("open items", {0, t.Space(40)});
    for (std::size_t i = 0; i < panel.state.open.size() && i < form.decisions.size(); ++i)
      DrawDecision(ui, panel.state.open[i], form.decisions[i], i);
    ImGui::EndChild();
    if (ui.Choice("sign/release", words::kRelease, form.release)) form.release = !form.release;
  }
  ui.Gap(0.5f);
  DrawMeanings(ui, form);
  ui.Field("sign/person", "Who", form.person);
  if (drafts.fresh) ImGui::SetKeyboardFocusHere();
  ui.Field("sign/passphrase", words::kPassphrase, form.passphrase, "", /*secret=*/true);
  const bool enter = ImGui::IsItemFocused() && EnterPressed() && !drafts.fresh;
  drafts.fresh = false;
  ui.Gap(0.5f);
  const bool can = ready && !form.passphrase.empty() && !form.store.empty() && !app.job().busy;
  if (ui.Word("sign/now", form.meaning >= 0 ? words::kSignNow : words::kDecideNow, "Enter", true,
              can) ||
      (enter && can))
    out.push_back({Do::kSign});
  ImGui::SameLine(0, t.Space(4));
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.4f));
  if (ui.Word("sign/close", words::kClose, "Esc")) out.push_back({Do::kCloseSheet});
  if (!app.notice().empty())
    ui.Wrapped(t.fonts.body, app.notice_is_error() ? t.alarm : t.quiet, app.notice());
  ImGui::EndPopup();
}

void DrawPictureSheet(Ui& ui, const App& app, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  if (!BeginSheet(ui, "picture sheet", t.Space(84), t.Space(30))) return;
  if (drafts.fresh) drafts.picture = app.panels().picture_path;
  ui.Line(t.fonts.title, t.ink, words::kPictureTitle);
  ui.Wrapped(t.fonts.body, t.quiet, words::kPictureWhy);
  ui.Gap(0.5f);
  ui.Field("picture/path", "", drafts.picture, "a path that ends in .png or .svg");
  const bool enter = EnterPressed() && !drafts.fresh;
  drafts.fresh = false;
  ui.Gap(0.5f);
  const bool can = !drafts.picture.empty() && !app.panels().picture_path.empty();
  if (ui.Word("picture/write", words::kWrite, "Enter", true, can) || (enter && can))
    out.push_back({Do::kPicture, 0, drafts.picture});
  ImGui::SameLine(0, t.Space(4));
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.4f));
  if (ui.Word("picture/close", words::kCancel, "Esc")) out.push_back({Do::kCloseSheet});
  ImGui::EndPopup();
}

void DrawRecoverSheet(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  if (!BeginSheet(ui, "recover sheet", t.Space(84), t.Space(44))) return;
  ui.Line(t.fonts.title, t.ink, words::kRecoverTitle);
  ui.Wrapped(t.fonts.body, t.quiet, words::kRecoverWhy);
  ui.Gap(0.5f);
  for (const std::string& line : app.panels().left_behind) ui.Line(t.fonts.body, t.ink, line);
  ui.Gap(1);
  if (ui.Word("recover/take", words::kTakeUp, "Enter", true) || EnterPressed())
    out.push_back({Do::kRecover, 1});
  ImGui::SameLine(0, t.Space(4));
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.4f));
  if (ui.Word("recover/drop", words::kLetGo)) out.push_back({Do::kRecover, 0});
  ImGui::SameLine(0, t.Space(4));
  if (ui.Word("recover/later", "Later", "Esc")) out.push_back({Do::kCloseSheet});
  ImGui::EndPopup();
}

}  // namespace cutface::window
