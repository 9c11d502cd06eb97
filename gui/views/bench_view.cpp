// The bench: calibrate with a target, check with a standard; one step open at a time, then what was
// found.
#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

// Fields of one step. `numbers`: what was found no longer holds.
class BenchFields {
 public:
  BenchFields(Ui& ui, BenchForm& form, const BenchPanel& panel, Intents& out)
      : ui_(ui), t_(ui.t), form_(form), panel_(panel), out_(out) {}

  bool numbers = false;

  void Draw(BenchStep step) {
    switch (step) {
      case BenchStep::kWhat:
        return What();
      case BenchStep::kTarget:
        return Target();
      case BenchStep::kPictures:
        return Pictures();
      case BenchStep::kLight:
        return Light();
      case BenchStep::kRecord:
        return Record();
      case BenchStep::kNames:
        return Names();
    }
  }

 private:
  bool Field(const char* id, const char* label, std::string& value, const char* hint = "") {
    return ui_.Field(std::string("bench/") + id, label, value, hint);
  }
  void Number(const char* id, const char* label, std::string& value, const char* hint = "") {
    numbers = Field(id, label, value, hint) || numbers;
  }
  void Say(const std::string& text) { ui_.Wrapped(t_.fonts.small, t_.quiet, text, t_.Space(1.5f)); }

  void What() {
    for (const bool checks : {false, true}) {
      if (ui_.Choice(checks ? "bench/check" : "bench/calibrate",
                     checks ? words::kBenchCheck : words::kBenchCalibrate, form_.checks == checks))
        out_.push_back({Do::kBenchWhat, checks ? 1 : 0});
      Say(checks ? words::kBenchCheckWhy : words::kBenchCalibrateWhy);
    }
  }

  void Target() {
    bool first = true;
    for (const TargetKind kind : panel_.kinds) {
      if (!first) ImGui::SameLine(0, t_.Space(2.5f));
      first = false;
      const std::string name(TargetKindName(kind));
      if (!ui_.Choice("bench/kind/" + name, name, form_.kind == kind)) continue;
      form_.kind = kind;
      numbers = true;
    }
    if (IsRound(form_.kind))
      Number("diameter", words::kDiameter, form_.diameter_um, "for example 1200");
    else
      Number("division", words::kDivision, form_.division_um, "for example 100");
    Number("u", words::kCertificateU, form_.certificate_u_um);
    Number("certificate", "Certificate", form_.certificate, "its number; without one: uncertified");
    Number("certificate due", "Certificate runs out on", form_.certificate_due, "2027-03-01");
    Field("serial", "Serial number of the target", form_.serial);
    Number("temperature", words::kTemperature, form_.temperature_c, "20, give or take 3");
  }

  void Pictures() {
    Say(panel_.picture_advice);
    for (std::size_t i = 0; i < form_.pictures.size(); ++i) {
      const std::string& path = form_.pictures[i];
      ui_.Line(t_.fonts.body, t_.ink, path.substr(path.find_last_of('/') + 1));
      ImGui::SameLine(0, t_.Space(3));
      if (ui_.Word("bench/without/" + std::to_string(i), words::kWithout)) {
        form_.pictures.erase(form_.pictures.begin() + static_cast<std::ptrdiff_t>(i));
        numbers = true;
        break;
      }
    }
    if (form_.checks && !form_.pictures.empty()) return;
    if (Field("picture", "", form_.next_picture, "drop it here, or write its path") &&
        !form_.next_picture.empty()) {
      form_.pictures.push_back(form_.next_picture);
      form_.next_picture.clear();
      numbers = true;
    }
  }

  void Light() {
    Say(words::kExposureWhy);
    Number("exposure first", "The field, exposed once", form_.exposure_first, "path of a picture");
    Number("exposure second", "The same field, exposed longer", form_.exposure_second,
           "path of a picture");
    Number("exposure ratio", "So many times as long", form_.exposure_ratio, "2");
    ui_.Gap(0.3f);
    Say(words::kBlankWhy);
    Number("blank", "The empty field", form_.blank, "path of a picture");
  }

  void Record() {
    Number("record", "Record that is checked", form_.record, "path of a .calibration.json");
    Number("taken", "When the picture was taken", form_.taken,
           "2026-03-02T09:15; empty: as the picture says");
    Number("limit", words::kLimit, form_.limit_um, "empty: |En| of 1 at most decides");
  }

  void Names() {
    Field("by", form_.checks ? "Who checks" : "Who calibrates", form_.by);
    if (form_.checks) return;
    Field("id", "Id of the record", form_.id, "for example bench2-5x-2026-09");
    Field("folder", "Folder of the records", form_.folder);
    Field("due", "Due again on", form_.due, "2027-03-01");
    Field("made", "Made on", form_.made, "empty: today");
    Field("objective", "Objective", form_.objective, "5x");
    Field("microscope", "Microscope", form_.microscope);
    Field("zoom", "Click stop of the zoom", form_.zoom_stop);
    Field("binning", "Binning of the camera", form_.binning, "2x2");
    Field("supersedes", words::kSupersedes, form_.supersedes, "id of the record before, if any");
    if (ui_.Choice("bench/square", words::kSquare, form_.square_pixels)) {
      form_.square_pixels = !form_.square_pixels;
      numbers = true;
    }
    if (ui_.Choice("bench/copies", words::kCopies, form_.copy_evidence))
      form_.copy_evidence = !form_.copy_evidence;
  }

  Ui& ui_;
  const Theme& t_;
  BenchForm& form_;
  const BenchPanel& panel_;
  Intents& out_;
};

// The step's line: what it is, what it has, and whether it still needs something.
void DrawStepLine(Ui& ui, const BenchPanel::Step& step, int index, bool open, Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const float width = ImGui::GetContentRegionAvail().x;
  if (ui.Row("bench step/" + std::to_string(index), t.Space(4), open))
    out.push_back({Do::kBenchStep, index});
  const float y = at.y + 0.5f * (t.Space(4) - t.fonts.body->FontSize);
  const float title = t.Space(15);
  ui.TextAt({at.x + t.Space(1.5f), y}, t.fonts.strong, t.ink, step.title, title);
  const std::string& text = step.missing.empty() ? step.summary : step.missing;
  if (!open)
    ui.TextAt({at.x + title, y + 2}, t.fonts.small, step.missing.empty() ? t.quiet : t.accent, text,
              width - title - t.Space(1));
  else if (step.optional)
    ui.TextAt({at.x + title, y + 2}, t.fonts.small, t.quiet, "may be left out");
}

void DrawSteps(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  const BenchPanel& p = app.panels().bench;
  BenchFields fields(ui, app.bench_form, p, out);
  for (std::size_t i = 0; i < p.steps.size(); ++i) {
    const int index = static_cast<int>(i);
    const bool open = app.bench_form.step == index;
    DrawStepLine(ui, p.steps[i], index, open, out);
    if (!open) continue;
    ImGui::Indent(t.Space(1.5f));
    ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {t.Space(1), t.Space(0.7f)});
    fields.Draw(p.steps[i].step);
    if (i + 1 < p.steps.size() && ui.Word("bench/next", words::kNextStep))
      out.push_back({Do::kBenchStep, -1});
    ui.Gap(0.5f);
    ImGui::PopStyleVar();
    ImGui::Unindent(t.Space(1.5f));
  }
  if (fields.numbers) out.push_back({Do::kBenchForm});
}

void DrawLines(Ui& ui, const std::vector<BenchPanel::Line>& lines) {
  const Theme& t = ui.t;
  for (const BenchPanel::Line& line : lines) {
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x;
    const float value = 0.3f * width, note = line.note.empty() ? width : 0.52f * width;
    ui.TextAt({at.x, at.y}, t.fonts.body, t.quiet, line.label, value - t.Space(1));
    ui.TextAt({at.x + value, at.y}, t.fonts.strong, t.ink, line.value, note - value - t.Space(1));
    ui.TextAt({at.x + note, at.y + 2}, t.fonts.small, t.quiet, line.note, width - note);
    ImGui::Dummy({width, t.fonts.body->FontSize + t.Space(0.6f)});
  }
}

}  // namespace

void DrawBenchForm(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  ImGui::BeginChild("bench", {0, -t.Space(7.5f)});
  ui.Gap(1);
  ImGui::Indent(t.Space(1.5f));
  ui.Line(t.fonts.title, t.ink, words::kBench);
  ImGui::Unindent(t.Space(1.5f));
  ui.Rule();
  DrawSteps(ui, app, out);
  ImGui::EndChild();
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
  if (ui.Word("bench/look", words::kLook, "M", true, p.hindrance.empty() && !app.job().busy))
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
  if (!p.untold.empty()) ui.Line(t.fonts.small, t.quiet, words::kUntold);
  for (const std::string& text : p.untold) ui.Wrapped(t.fonts.small, t.ink, text);
  if (!p.found.empty()) {
    ui.Gap(1);
    ui.Wrapped(t.fonts.small, t.quiet, p.keep_hindrance.empty() ? p.keep_as : p.keep_hindrance);
    if (ui.Word("bench/keep", app.bench_form.checks ? words::kKeepCheck : words::kKeepRecord,
                "Ctrl S", true, p.keep_hindrance.empty()))
      out.push_back({Do::kBenchKeep});
  }
  ImGui::EndChild();
  ImGui::Unindent(t.Space(4));
}

}  // namespace cutface::window
