// The bench: calibrate with a target, check with a standard; step by step from the top.
#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

void DrawWhatFor(Ui& ui, BenchForm& form, bool& changed) {
  const Theme& t = ui.t;
  for (const bool checks : {false, true}) {
    if (checks) ImGui::SameLine(0, t.Space(3));
    if (ui.Choice(checks ? "bench/check" : "bench/calibrate",
                  checks ? words::kBenchCheck : words::kBenchCalibrate, form.checks == checks)) {
      form.checks = checks;
      changed = true;
    }
  }
  ImGui::NewLine();
}

void DrawTarget(Ui& ui, BenchForm& form, bool& changed) {
  const Theme& t = ui.t;
  ui.Line(t.fonts.small, t.quiet, words::kBenchTarget);
  for (int k = 0; !form.checks && k < 3; ++k) {
    if (k > 0) ImGui::SameLine(0, t.Space(2.5f));
    if (ui.Choice(std::string("bench/kind/") + words::kTargets[k], words::kTargets[k],
                  form.kind == k)) {
      form.kind = k;
      changed = true;
    }
  }
  const auto field = [&](const char* name, const char* label, std::string& value,
                         const char* hint = "") {
    changed = ui.Field(std::string("bench/") + name, label, value, hint) || changed;
  };
  field("division", words::kDivision, form.division_um, "for example 10");
  field("u", words::kCertificateU, form.certificate_u_um);
  field("certificate", "Certificate", form.certificate, "its number; without one: uncertified");
  field("certificate due", "Certificate runs out on", form.certificate_due, "2027-03-01");
  field("serial", "Serial of the artefact", form.serial);
}

void DrawPictures(Ui& ui, BenchForm& form, bool& changed) {
  const Theme& t = ui.t;
  ui.Gap(0.5f);
  ui.Line(t.fonts.small, t.quiet, form.checks ? words::kCheckPicture : words::kTargetPictures);
  for (std::size_t i = 0; i < form.pictures.size(); ++i) {
    ui.Line(t.fonts.body, t.ink, form.pictures[i].substr(form.pictures[i].find_last_of('/') + 1));
    ImGui::SameLine(0, t.Space(3));
    if (ui.Word("bench/without/" + std::to_string(i), words::kWithout)) {
      form.pictures.erase(form.pictures.begin() + static_cast<std::ptrdiff_t>(i));
      changed = true;
      break;
    }
  }
  if (form.checks && !form.pictures.empty()) return;
  if (ui.Field("bench/picture", "", form.next_picture, "drop it here, or write its path") &&
      !form.next_picture.empty()) {
    form.pictures.push_back(form.next_picture);
    form.next_picture.clear();
    changed = true;
  }
}

void DrawKeeping(Ui& ui, BenchForm& form, bool& numbers) {
  const auto name = [&](const char* id, const char* label, std::string& value,
                        const char* hint = "") {
    ui.Field(std::string("bench/") + id, label, value, hint);
  };
  ui.Gap(0.5f);
  name("by", "By", form.by);
  if (form.checks) {
    numbers = ui.Field("bench/record", "Record that is checked", form.record) || numbers;
    numbers = ui.Field("bench/taken", "Taken", form.taken, "2026-03-02T09:15") || numbers;
    numbers = ui.Field("bench/limit", words::kLimit, form.limit_um, "none: En decides") || numbers;
    return;
  }
  name("id", "Id of the record", form.id, "for example bench2-5x-2026-09");
  name("objective", "Objective", form.objective, "5x");
  name("microscope", "Microscope", form.microscope);
  name("due", "Due again on", form.due, "2027-03-01");
  name("supersedes", words::kSupersedes, form.supersedes, "id of the record before, if any");
  name("folder", "Folder of the records", form.folder);
  if (ui.Choice("bench/square", words::kSquare, form.square_pixels)) {
    form.square_pixels = !form.square_pixels;
    numbers = true;
  }
}

void DrawLines(Ui& ui, const std::vector<BenchPanel::Line>& lines) {
  const Theme& t = ui.t;
  for (const BenchPanel::Line& line : lines) {
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    ui.TextAt({at.x, at.y}, t.fonts.body, t.quiet, line.label, 0.3f * width);
    ui.TextAt({at.x + 0.32f * width, at.y}, t.fonts.strong, t.ink, line.value, 0.4f * width);
    ui.TextAt({at.x + 0.74f * width, at.y + 2}, t.fonts.small, t.quiet, line.note, 0.26f * width);
    ImGui::Dummy({width, t.fonts.body->FontSize + t.Space(0.6f)});
  }
}

}  // namespace

void DrawBenchForm(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  BenchForm& form = app.bench_form;
  bool changed = false;
  ImGui::BeginChild("bench", {0, -t.Space(7.5f)});
  ImGui::Indent(t.Space(1.5f));
  ImGui::BeginChild("bench form", {ImGui::GetContentRegionAvail().x - t.Space(1.5f), 0});
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), t.Space(0.7f)});
  ui.Gap(1);
  ui.Line(t.fonts.title, t.ink, words::kBench);
  DrawWhatFor(ui, form, changed);
  DrawTarget(ui, form, changed);
  DrawPictures(ui, form, changed);
  DrawKeeping(ui, form, changed);
  ImGui::PopStyleVar();
  ImGui::EndChild();
  ImGui::Unindent(t.Space(1.5f));
  ImGui::EndChild();
  if (changed) out.push_back({Do::kBenchForm});
}

void DrawBenchFound(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const BenchPanel& p = app.panels().bench;
  const ImVec2 at = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
  ui.draw()->AddLine({at.x, at.y}, {at.x, at.y + room.y}, t.rule);
  ImGui::Indent(t.Space(4));
  ImGui::BeginChild("found", {room.x - t.Space(8), 0});
  ui.Gap(2);
  if (!p.hindrance.empty()) ui.Wrapped(t.fonts.body, t.quiet, p.hindrance);
  if (ui.Word("bench/look", words::kLook, "", true, p.hindrance.empty() && !app.job().busy))
    out.push_back({Do::kBenchLook});
  ui.Gap(1);
  if (!p.verdict.empty()) ui.Wrapped(t.fonts.title, p.failed ? t.alarm : t.ink, p.verdict);
  DrawLines(ui, p.found);
  if (!p.budget.empty()) {
    ui.Gap(1);
    ui.Line(t.fonts.small, t.quiet, words::kBenchBudget);
    DrawLines(ui, p.budget);
  }
  ui.Gap(1);
  DrawLines(ui, p.pictures);
  for (const std::string& caution : p.cautions) ui.Wrapped(t.fonts.small, t.alarm, caution);
  if (!p.found.empty()) {
    ui.Gap(1);
    ui.Wrapped(t.fonts.small, t.quiet, p.keep_hindrance.empty() ? p.keep_as : p.keep_hindrance);
    if (ui.Word("bench/keep", app.bench_form.checks ? words::kKeepCheck : words::kKeepRecord, "",
                true, p.keep_hindrance.empty()))
      out.push_back({Do::kBenchKeep});
  }
  ImGui::EndChild();
  ImGui::Unindent(t.Space(4));
}

}  // namespace cutface::window
