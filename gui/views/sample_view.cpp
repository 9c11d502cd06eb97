// Who and what: the sample's identity, drawing, calibration and inspector; remembered for the next.
#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

// Two fields beside each other.
template <class Left, class Right>
void Pair(Ui& ui, const Left& left, const Right& right) {
  const float half = 0.5f * (ImGui::GetContentRegionAvail().x - ui.t.Space(2));
  ImGui::BeginGroup();
  ImGui::PushClipRect({-1e6f, -1e6f}, {1e6f, 1e6f}, true);
  ImGui::BeginChild(ImGui::GetID(ui.places.empty() ? "left" : ui.places.back().name.c_str()),
                    {half, ui.t.Space(6.4f)});
  left();
  ImGui::EndChild();
  ImGui::SameLine(0, ui.t.Space(2));
  ImGui::BeginChild(
      ImGui::GetID((ui.places.empty() ? "" : ui.places.back().name + "/right").c_str()),
      {half, ui.t.Space(6.4f)});
  right();
  ImGui::EndChild();
  ImGui::PopClipRect();
  ImGui::EndGroup();
}

}  // namespace

void DrawSamplePage(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  Order& o = app.form;
  SampleIdentity& s = o.sample;
  bool changed = false;
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), t.Space(0.8f)});
  ImGui::Indent(t.Space(1.5f));
  ImGui::BeginChild("form", {ImGui::GetContentRegionAvail().x - t.Space(1.5f), 0});
  ui.Gap(1);
  const auto field = [&](const char* name, const char* label, std::string& value,
                         const char* hint = "") {
    changed = ui.Field(std::string("sample/") + name, label, value, hint) || changed;
  };
  field("inspector", "Inspector", o.inspector, "who measures; stands in the result");
  ui.Gap(0.5f);
  Pair(
      ui, [&] { field("serial", "Serial", s.serial); }, [&] { field("lot", "Lot", s.lot); });
  Pair(
      ui, [&] { field("block", "Block", s.block); },
      [&] { field("face", "Face", s.face, "proximal or distal"); });
  Pair(
      ui, [&] { field("prepared", "Prepared by", s.prepared_by); },
      [&] { field("taken", "Taken", s.taken, "2026-04-01"); });
  ui.Gap(0.5f);
  field("design", "Drawing", o.design, "drop a .design.json here, or write its path");
  field("section", "Section of the drawing", o.section, "where it has several");
  field("calibration", "Calibration record, or the folder of all of them", o.calibration,
        "drop a .calibration.json here, or write its path");
  field("out", "Results go to", o.out, "the folder that the program was started in");
  ui.Gap(0.5f);
  if (ui.Word("sample/measure", words::kMeasure, "M", true, app.panels().can_measure))
    out.push_back({Do::kMeasure});
  ImGui::SameLine(0, t.Space(3));
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.4f));
  if (ui.Word("sample/browse", "Find the files", "Ctrl O"))
    out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kOpen)});
  ui.Gap(2);
  ui.Rule();
  ui.Gap(0.5f);
  ui.Line(t.fonts.small, t.quiet, "Shown in");
  const Settings& settings = app.settings();
  const auto unit = [&](const char* name, const char* text, int number, bool chosen) {
    if (ui.Choice(std::string("units/") + name, text, chosen)) out.push_back({Do::kUnits, number});
    ImGui::SameLine(0, t.Space(2));
  };
  unit("drawing", "the drawing's units", -1, !settings.units);
  unit("um", "um", 0, settings.units == LengthUnit::kMicrometre);
  unit("mm", "mm", 1, settings.units == LengthUnit::kMillimetre);
  unit("in", "in", 2, settings.units == LengthUnit::kInch);
  ImGui::NewLine();
  ui.Line(t.fonts.small, t.quiet, "Text");
  const auto size = [&](const char* name, const char* text, double scale) {
    if (ui.Choice(std::string("text/") + name, text, settings.text_scale == scale))
      out.push_back({Do::kTextScale, 0, "", "", scale});
    ImGui::SameLine(0, t.Space(2));
  };
  size("small", "small", 0.85);
  size("medium", "medium", 1.0);
  size("large", "large", 1.25);
  size("huge", "very large", 1.6);
  ImGui::NewLine();
  ImGui::EndChild();
  ImGui::Unindent(t.Space(1.5f));
  ImGui::PopStyleVar();
  if (changed) out.push_back({Do::kOrder});
}

}  // namespace cutface::window
