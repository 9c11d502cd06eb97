// Drawing a nominal: the text of the drawing, its mistakes, the live rows, and what can become one.
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

void DrawText(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  const NominalPanel& p = app.panels().nominal;
  const ImVec2 size{ImGui::GetContentRegionAvail().x, 0.42f * ImGui::GetContentRegionAvail().y};
  if (ui.TextBox("nominal/text", app.nominal_text(), size)) out.push_back({Do::kNominalTyped});
  if (p.error.empty())
    ui.Line(t.fonts.small, t.quiet, p.old ? words::kDraftOld : words::kDraftSound);
  else
    ui.Wrapped(t.fonts.body, t.alarm, p.error);
}

void DrawLiveRows(Ui& ui, const NominalPanel& p) {
  const Theme& t = ui.t;
  for (const NominalPanel::Row& row : p.rows) {
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    ui.TextAt({at.x, at.y}, t.fonts.body, t.ink, row.no + "   " + row.subject, 0.42f * width);
    ui.TextAt({at.x + 0.44f * width, at.y + 2}, t.fonts.small, t.quiet, row.requirement,
              0.24f * width);
    ui.TextAt({at.x + 0.69f * width, at.y}, t.fonts.strong, t.ink, row.actual, 0.22f * width);
    const VerdictLook look = LookOf(t, row.word);
    ui.Bracket({at.x + 0.94f * width, at.y + 2}, 0.8f * t.fonts.small->FontSize, look.mark,
               look.colour);
    ui.Note("live/" + row.no, at, {width, t.fonts.body->FontSize});
    ImGui::Dummy({width, t.fonts.body->FontSize + t.Space(0.5f)});
  }
}

void DrawOffers(Ui& ui, const NominalPanel& p, Intents& out) {
  const Theme& t = ui.t;
  if (p.feature.empty()) {
    ui.Wrapped(t.fonts.small, t.quiet, words::kChooseShape);
    return;
  }
  ui.Line(t.fonts.small, t.quiet, p.feature + ": " + words::kBecomesRow);
  for (std::size_t i = 0; i < p.offers.size(); ++i) {
    const NominalPanel::Offer& offer = p.offers[i];
    if (ui.Word("offer/" + std::to_string(i), offer.title))
      out.push_back({Do::kNominalRow, static_cast<int>(i)});
    ImGui::SameLine(0, t.Space(2));
    ui.Line(t.fonts.body, t.quiet, offer.value);
  }
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
    ui.Wrapped(t.fonts.body, t.quiet, words::kDrawingNone);
    ImGui::EndChild();
    return;
  }
  for (std::size_t i = 0; i < p.planes.size(); ++i) {
    if (i > 0) ImGui::SameLine(0, t.Space(2));
    if (ui.Choice("nominal plane/" + p.planes[i], p.planes[i], p.planes[i] == p.plane))
      out.push_back({Do::kNominalPlane, 0, p.planes[i]});
  }
  ImGui::BeginChild("nominal body", {ImGui::GetContentRegionAvail().x - t.Space(1.5f), 0});
  DrawText(ui, app, out);
  ui.Gap(0.5f);
  DrawLiveRows(ui, p);
  DrawOffers(ui, p, out);
  ui.Gap(0.5f);
  ui.Field("nominal/path", words::kSaveDrawingAs, drafts.nominal,
           "a path that ends in .design.json");
  if (ui.Word("nominal/save", words::kSaveDrawing, "", true,
              p.error.empty() && !drafts.nominal.empty()))
    out.push_back({Do::kNominalSave, 0, drafts.nominal});
  ImGui::EndChild();
  ImGui::Unindent(t.Space(1.5f));
  ImGui::EndChild();
}

}  // namespace cutface::window
