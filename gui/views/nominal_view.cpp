// Drawing a nominal: the text of the drawing, its mistakes, the shape in hand with its sizes and
// what can become a row, and the live rows.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawStarts(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  if (ui.Word("nominal/survey", words::kFromPicture, "", false, !app.job().busy))
    out.push_back({Do::kNominalSurvey});
  ImGui::SameLine(0, t.Space(4));
  if (ui.Word("nominal/open", words::kFromDrawing, "", false,
              !app.form.design.empty() && !app.job().busy))
    out.push_back({Do::kNominalOpen});
}

void DrawText(Ui& ui, App& app, float height, Intents& out) {
  const Theme& t = ui.t;
  const NominalPanel& p = app.panels().nominal;
  const ImVec2 size{ImGui::GetContentRegionAvail().x, height};
  if (ui.TextBox("nominal/text", app.nominal_text(), size)) out.push_back({Do::kNominalTyped});
  if (p.error.empty())
    ui.Line(t.fonts.small, t.quiet, p.old ? words::kDraftOld : words::kDraftSound);
  else
    ui.Wrapped(t.fonts.body, t.alarm, p.error);
}

// Sizes of the shape in hand, to be typed; what is typed stays until it is finished.
void DrawSizes(Ui& ui, const NominalPanel& p, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  const float width = ImGui::GetContentRegionAvail().x, gap = t.Space(1.5f);
  const float each = (width - 3 * gap) / 4;
  std::string in_hand;
  for (std::size_t i = 0; i < p.sizes.size(); ++i) {
    const NominalPanel::Size& size = p.sizes[i];
    if (i > 0) ImGui::SameLine(0, gap);
    ImGui::BeginChild(("size " + size.id).c_str(), {each, t.Space(6.4f)});
    std::string& text = drafts.sizes[size.id];
    if (drafts.size_in_hand != size.id) text = size.text;
    if (ui.Field("size/" + size.id, size.label, text))
      out.push_back({Do::kNominalSize, 0, size.id, text});
    if (ImGui::IsItemActive()) in_hand = size.id;
    ImGui::EndChild();
  }
  drafts.size_in_hand = in_hand;
}

void DrawOffers(Ui& ui, const NominalPanel& p, Intents& out) {
  const Theme& t = ui.t;
  ui.Line(t.fonts.small, t.quiet, words::kBecomesRow);
  const float column = 0.5f * ImGui::GetContentRegionAvail().x;
  const float left = ImGui::GetCursorPosX();
  for (std::size_t i = 0; i < p.offers.size(); ++i) {
    const NominalPanel::Offer& offer = p.offers[i];
    if (i % 2 == 1) ImGui::SameLine(left + column);
    if (ui.Word("offer/" + std::to_string(i), offer.title))
      out.push_back({Do::kNominalRow, static_cast<int>(i)});
    const ImVec2 least = ImGui::GetItemRectMin(), most = ImGui::GetItemRectMax();
    ui.TextAt({most.x + t.Space(1), 0.5f * (least.y + most.y - t.fonts.small->FontSize) + 1},
              t.fonts.small, t.quiet, offer.value);
  }
}

void DrawLiveRows(Ui& ui, const NominalPanel& p) {
  const Theme& t = ui.t;
  if (p.rows.empty()) return;
  ui.Gap(0.5f);
  ui.Line(t.fonts.small, t.quiet, words::kLiveRows);
  for (const NominalPanel::Row& row : p.rows) {
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    ui.TextAt({at.x, at.y + 2}, t.fonts.small, t.quiet, row.no);
    ui.TextAt({at.x + t.Space(3.2f), at.y}, t.fonts.body, t.ink, row.subject,
              0.44f * width - t.Space(3.2f));
    ui.TextAt({at.x + 0.45f * width, at.y + 2}, t.fonts.small, t.quiet, row.requirement,
              0.24f * width);
    ui.TextAt({at.x + 0.7f * width, at.y}, t.fonts.strong, t.ink, row.actual, 0.22f * width);
    const VerdictLook look = LookOf(t, row.word);
    ui.Bracket({at.x + 0.94f * width, at.y + 2}, 0.8f * t.fonts.small->FontSize, look.mark,
               look.colour);
    ui.Note("live/" + row.no, at, {width, t.fonts.body->FontSize});
    ImGui::Dummy({width, t.fonts.body->FontSize + t.Space(0.5f)});
  }
}

void DrawSaving(Ui& ui, const NominalPanel& p, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  ui.Field("nominal/path", words::kSaveDrawingAs, drafts.nominal,
           "a path that ends in .design.json");
  const bool can = p.error.empty() && !drafts.nominal.empty();
  if (!p.replaces.empty() && p.replaces == drafts.nominal) {
    if (ui.Word("nominal/replace", words::kReplaceIt, "", true, can))
      out.push_back({Do::kNominalSave, 1, drafts.nominal});
    ImGui::SameLine(0, t.Space(3));
    ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.7f));
    ui.Line(t.fonts.small, t.alarm, words::kIsThere);
    return;
  }
  if (ui.Word("nominal/save", words::kSaveDrawing, "Ctrl S", true, can))
    out.push_back({Do::kNominalSave, 0, drafts.nominal});
}

}  // namespace

void DrawNominal(Ui& ui, App& app, Drafts& drafts, Intents& out) {
  const Theme& t = ui.t;
  const NominalPanel& p = app.panels().nominal;
  ImGui::BeginChild("nominal", {0, -t.Space(7.5f)});
  ImGui::Indent(t.Space(1.5f));
  ui.Gap(1);
  ui.Line(t.fonts.title, t.ink, words::kDrawing);
  DrawStarts(ui, app, out);
  if (!p.started) {
    ui.Wrapped(t.fonts.body, t.quiet, words::kDrawingNone, t.Space(1.5f));
    ImGui::EndChild();
    return;
  }
  for (std::size_t i = 0; i < p.planes.size(); ++i) {
    if (i > 0) ImGui::SameLine(0, t.Space(2));
    if (ui.Choice("nominal plane/" + p.planes[i], p.planes[i], p.planes[i] == p.plane))
      out.push_back({Do::kNominalPlane, 0, p.planes[i]});
  }
  const ImVec2 room = ImGui::GetContentRegionAvail();
  const float width = room.x - t.Space(1.5f), foot = t.Space(13);
  ImGui::BeginChild("nominal body", {width, std::max(t.Space(20), room.y - foot)});
  DrawText(ui, app, std::max(t.Space(14), 0.34f * room.y), out);
  ui.Gap(0.3f);
  if (p.feature.empty()) {
    ui.Wrapped(t.fonts.small, t.quiet, words::kChooseShape);
  } else {
    ui.Line(t.fonts.strong, t.ink, p.feature);
    DrawSizes(ui, p, drafts, out);
    DrawOffers(ui, p, out);
  }
  DrawLiveRows(ui, p);
  ImGui::EndChild();
  ImGui::BeginChild("nominal saving", {width, 0});
  DrawSaving(ui, p, drafts, out);
  ImGui::EndChild();
  ImGui::Unindent(t.Space(1.5f));
  ImGui::EndChild();
}

}  // namespace cutface::window
