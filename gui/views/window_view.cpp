// The whole window: tray, sheet of pages, face and wall; and the keys.
#include <algorithm>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

bool Pressed(ImGuiKey key, bool repeat = true) {
  return ImGui::IsKeyPressed(ImGui::GetKeyIndex(key), repeat);
}
// Letters and figures by their ASCII codes, as the window system numbers them.
bool Letter(char key) { return ImGui::IsKeyPressed(key, false); }

void ControlKeys(const App& app, const Drafts& drafts, Intents& out) {
  if (Letter('O')) out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kOpen)});
  if (Letter('S') && app.room() == Room::kNominal)
    out.push_back({Do::kNominalSave, 0, drafts.nominal});
  else if (Letter('S'))
    out.push_back({app.room() == Room::kBench ? Do::kBenchKeep : Do::kSave});
  if (Letter('G')) out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kSign)});
  if (Letter('E')) out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kPicture)});
  if (Letter('Z')) out.push_back({Do::kUndo});
  if (Letter('Y')) out.push_back({Do::kRedo});
  if (Letter('W')) out.push_back({Do::kCloseSample});
  if (Letter('Q')) out.push_back({Do::kLeave});
  if (Letter('C')) ImGui::SetClipboardText(app.TableText().c_str());
}

// In the run: arrows go through samples and characteristics.
void RunKeys(const App& app, Intents& out) {
  if (Letter('B')) out.push_back({Do::kRunByStation});
  if (!app.panels().run) return;
  const RunPanel& run = *app.panels().run;
  if (Letter('1')) out.push_back({Do::kRunQuestion, 0, ""});
  for (std::size_t i = 0; i < run.questions.size() && i < 8; ++i)
    if (Letter(static_cast<char>('2' + i)))
      out.push_back({Do::kRunQuestion, 0, run.questions[i].id});
  int line = -1, column = -1;
  for (std::size_t i = 0; i < run.lines.size(); ++i)
    if (run.lines[i].chosen) line = static_cast<int>(i);
  for (std::size_t i = 0; i < run.columns.size(); ++i)
    if (run.columns[i].no == run.no) column = static_cast<int>(i);
  const int lines = static_cast<int>(run.lines.size()),
            columns = static_cast<int>(run.columns.size());
  const int down = (Pressed(ImGuiKey_DownArrow) ? 1 : 0) - (Pressed(ImGuiKey_UpArrow) ? 1 : 0);
  const int right = (Pressed(ImGuiKey_RightArrow) ? 1 : 0) - (Pressed(ImGuiKey_LeftArrow) ? 1 : 0);
  if (down != 0 && lines > 0) {
    const int to = std::clamp(line + down, 0, lines - 1);
    out.push_back({Do::kRunFace, run.lines[static_cast<std::size_t>(to)].face});
  }
  if (right != 0 && columns > 0) {
    const int to = std::clamp(column + right, 0, columns - 1);
    if (to != column)
      out.push_back({Do::kRunColumn, 0, run.columns[static_cast<std::size_t>(to)].no});
  }
  if (Pressed(ImGuiKey_Enter, false) && line >= 0)
    out.push_back({Do::kRunOpenFace, run.lines[static_cast<std::size_t>(line)].face, run.no});
}

void PlainKeys(const App& app, Intents& out) {
  if (Letter('M')) out.push_back({Do::kMeasure});
  if (Letter('F')) out.push_back({Do::kFit});
  if (Letter('T')) out.push_back({Do::kClockUp});
  if (Letter('H')) out.push_back({Do::kShowMarks});
  if (Letter('G')) out.push_back({Do::kFullContrast});
  if (Letter('J')) out.push_back({Do::kJump});
  for (int page = 0; page < static_cast<int>(Page::kCount); ++page)
    if (Letter(static_cast<char>('1' + page))) out.push_back({Do::kShowPage, page});
  if (Pressed(ImGuiKey_DownArrow)) out.push_back({Do::kStepRow, 1});
  if (Pressed(ImGuiKey_UpArrow)) out.push_back({Do::kStepRow, -1});
  if (Pressed(ImGuiKey_PageDown)) out.push_back({Do::kNextSample, 1});
  if (Pressed(ImGuiKey_PageUp)) out.push_back({Do::kNextSample, -1});
  if (Pressed(ImGuiKey_Enter, false))
    out.push_back({app.draft().takes_points ? Do::kEndLine : Do::kJump});
  if (app.page() == Page::kAsk && Letter('K')) out.push_back({Do::kAskKeep, -1});
  if (Letter('A')) out.push_back({Do::kShowPage, static_cast<int>(Page::kAsk)});
}

void Keys(const App& app, const Drafts& drafts, Intents& out) {
  const ImGuiIO& io = ImGui::GetIO();
  if (Pressed(ImGuiKey_Escape, false)) {
    if (app.draft().active)
      out.push_back({Do::kDropLine});
    else if (app.sheet() != Sheet::kNone)
      out.push_back({Do::kCloseSheet});
    else if (app.job().busy)
      out.push_back({Do::kStop});
    else if (!io.WantTextInput)
      out.push_back({Do::kChooseNothing});
  }
  if (app.sheet() != Sheet::kNone) return;
  if (io.KeyCtrl) return ControlKeys(app, drafts, out);
  if (io.WantTextInput) return;
  for (const auto& [key, room] :
       {std::pair{'R', Room::kRun}, {'N', Room::kBench}, {'D', Room::kNominal}}) {
    if (Letter(key))
      out.push_back({Do::kShowRoom, static_cast<int>(app.room() == room ? Room::kFace : room)});
  }
  if (Letter('L')) out.push_back({Do::kTheme, app.settings().dark ? 0 : 1});
  if (app.room() == Room::kBench && Letter('M') && app.panels().bench.hindrance.empty())
    out.push_back({Do::kBenchLook});
  if (app.room() == Room::kRun) RunKeys(app, out);
  if (app.room() == Room::kFace) PlainKeys(app, out);
}

void DrawPages(Ui& ui, App& app, Intents& out) {
  const Theme& t = ui.t;
  ImGui::Indent(t.Space(1.5f));
  DrawHead(ui, app, out);
  // As far apart as the sheet allows.
  float used = t.Space(1.5f);
  for (int page = 0; page < static_cast<int>(Page::kCount); ++page)
    used += ui.SizeOf(t.fonts.strong, words::kPages[page]).x +
            ui.KeyWidth(std::to_string(page + 1)) + t.Space(0.6f);
  const float gap =
      std::clamp((ImGui::GetContentRegionAvail().x - used) / 5, t.Space(0.4f), t.Space(1.6f));
  for (int page = 0; page < static_cast<int>(Page::kCount); ++page) {
    if (page > 0) ImGui::SameLine(0, gap);
    if (ui.Choice(std::string("page/") + words::kPages[page], words::kPages[page],
                  static_cast<int>(app.page()) == page, std::to_string(page + 1)))
      out.push_back({Do::kShowPage, page});
  }
  ImGui::Unindent(t.Space(1.5f));
  ui.Rule();
  ImGui::BeginChild("page", {0, -t.Space(7.5f)});
  switch (app.page()) {
    case Page::kRows:
      DrawRows(ui, app, out);
      break;
    case Page::kFindings:
      DrawFindings(ui, app, out);
      break;
    case Page::kValues:
      DrawValues(ui, app, out);
      break;
    case Page::kAsk:
      DrawAsk(ui, app, out);
      break;
    case Page::kSample:
      DrawSamplePage(ui, app, out);
      break;
    case Page::kCorrections:
      DrawCorrections(ui, app, out);
      break;
    case Page::kCount:
      break;
  }
  ImGui::EndChild();
}

void DrawFaceActions(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const Sample* sample = app.current();
  if (ui.Word("measure", words::kMeasure, "M", false, app.panels().can_measure))
    out.push_back({Do::kMeasure});
  ImGui::SameLine(0, t.Space(2));
  if (ui.Word("save", words::kSave, "Ctrl S", false, sample != nullptr && sample->unsaved))
    out.push_back({Do::kSave});
  ImGui::SameLine(0, t.Space(2));
  if (ui.Word("sign", words::kSign, "Ctrl G", false,
              sample != nullptr && !sample->saved_as.empty() && !sample->unsaved))
    out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kSign)});
  ImGui::SameLine(0, t.Space(2));
  if (ui.Word("picture", words::kPictureWord, "Ctrl E", false,
              sample != nullptr && sample->measured && sample->picture))
    out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kPicture)});
}

// Keys that no control on the page shows.
const char* KeyHint(Room room) {
  switch (room) {
    case Room::kFace:
      return words::kFaceKeys;
    case Room::kRun:
      return words::kRunKeys;
    case Room::kBench:
      return words::kBenchKeys;
    case Room::kNominal:
      return words::kDrawingKeys;
  }
  return "";
}

// Actions, progress, and the last thing that happened.
void DrawFoot(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  ui.Rule();
  ImGui::Indent(t.Space(1.5f));
  const Background::State job = app.job();
  if (job.busy) {
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x - t.Space(1.5f);
    ui.draw()->AddRectFilled({at.x, at.y}, {at.x + width, at.y + 3}, t.rule);
    ui.draw()->AddRectFilled(
        {at.x, at.y},
        {at.x + width * static_cast<float>(std::clamp(job.share, 0.02, 1.0)), at.y + 3}, t.accent);
    ui.Gap(0.3f);
    if (ui.Word("stop", job.stopping ? "Stopping" : words::kStop, "Esc", false, !job.stopping))
      out.push_back({Do::kStop});
    ImGui::SameLine(0, t.Space(2));
    ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.3f));
    ui.Line(t.fonts.small, t.quiet, job.step.empty() ? job.name : job.name + ", " + job.step);
  } else if (app.room() == Room::kFace) {
    DrawFaceActions(ui, app, out);
  }
  const ImVec2 at = ImGui::GetCursorScreenPos();
  ui.TextAt({at.x, at.y - t.Space(0.3f)}, t.fonts.small, app.notice_is_error() ? t.alarm : t.quiet,
            app.notice().empty() ? KeyHint(app.room()) : app.notice(),
            ImGui::GetContentRegionAvail().x - t.Space(1.5f));
  ImGui::Unindent(t.Space(1.5f));
}

void DrawFaceAndWall(Ui& ui, const App& app, FaceView& face, Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 window = ImGui::GetIO().DisplaySize;
  const bool has_wall = app.room() == Room::kFace && !app.panels().wall.names.empty();
  const float wall = has_wall ? std::clamp(0.24f * window.y, t.Space(16), t.Space(30)) : 0;
  ImGui::BeginChild("face", {0, -wall}, false,
                    ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
  DrawFace(ui, app, face, out);
  if (app.room() == Room::kFace) DrawPlate(ui, app, out);
  ImGui::EndChild();
  if (has_wall) {
    ImGui::SetCursorPosY(window.y - wall);
    ImGui::BeginChild("wall", {0, 0}, false, ImGuiWindowFlags_NoScrollbar);
    DrawWall(ui, app, out);
    ImGui::EndChild();
  }
}

}  // namespace

void DrawWindow(Ui& ui, App& app, FaceView& face, const CoinTextures& coins, Drafts& drafts,
                Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 window = ImGui::GetIO().DisplaySize;
  if (app.sheet() == Sheet::kNone) drafts.fresh = true;
  Keys(app, drafts, out);
  ImGui::SetNextWindowPos({0, 0});
  ImGui::SetNextWindowSize(window);
  ImGui::Begin("cutface", nullptr,
               ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove | ImGuiWindowFlags_NoNav |
                   ImGuiWindowFlags_NoBringToFrontOnFocus | ImGuiWindowFlags_NoSavedSettings |
                   ImGuiWindowFlags_NoBackground);
  const float tray = t.Space(12), sheet = std::clamp(0.38f * window.x, t.Space(48), t.Space(68));
  // Paper only where nothing else fills: with software rendering every pixel drawn twice counts.
  const bool shows_face = app.room() == Room::kFace || app.room() == Room::kNominal;
  ui.draw()->AddRectFilled({0, 0}, {shows_face ? tray + 1 + sheet : window.x, window.y}, t.paper);
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {0, t.Space(1)});
  ImGui::BeginChild("tray", {tray, 0}, false, ImGuiWindowFlags_NoScrollbar);
  DrawTray(ui, app, coins, out);
  ImGui::EndChild();
  ImGui::PopStyleVar();
  ui.draw()->AddLine({tray, 0}, {tray, window.y}, t.rule);
  ImGui::SameLine(0, 1);
  ImGui::BeginChild("sheet", {sheet, 0});
  const Room room = app.room();
  if (room == Room::kRun)
    DrawRunList(ui, app, out);
  else if (room == Room::kBench)
    DrawBenchForm(ui, app, out);
  else if (room == Room::kNominal)
    DrawNominal(ui, app, drafts, out);
  else
    DrawPages(ui, app, out);
  DrawFoot(ui, app, out);
  ImGui::EndChild();
  ImGui::SameLine(0, 0);
  ImGui::BeginChild("right", {0, 0});
  if (room == Room::kRun)
    DrawRunValues(ui, app, out);
  else if (room == Room::kBench)
    DrawBenchFound(ui, app, out);
  else
    DrawFaceAndWall(ui, app, face, out);
  ImGui::EndChild();
  ImGui::End();
  if (app.sheet() == Sheet::kOpen) DrawOpenSheet(ui, app, drafts, out);
  if (app.sheet() == Sheet::kReason) DrawReasonSheet(ui, app, drafts, out);
  if (app.sheet() == Sheet::kSign) DrawSignSheet(ui, app, drafts, out);
  if (app.sheet() == Sheet::kPicture) DrawPictureSheet(ui, app, drafts, out);
  if (app.sheet() == Sheet::kRecover) DrawRecoverSheet(ui, app, out);
  if (app.sheet() == Sheet::kAbout) DrawAboutSheet(ui, app, out);
}

}  // namespace cutface::window
