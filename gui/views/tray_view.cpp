// The tray: every sample as a coin cut from its face, with its name and verdict.
#include <algorithm>
#include <tuple>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

ImTextureID CoinTextures::Find(int id) const {
  for (const auto& [sample, texture] : of)
    if (sample == id) return texture;
  return nullptr;
}

namespace {

// What the window can be for, each with its key; then opening, light, and about.
void DrawRooms(Ui& ui, const App& app, float width, Intents& out) {
  const Theme& t = ui.t;
  const auto word = [&](const char* name, const char* text, const char* key) {
    const float w =
        ui.SizeOf(t.fonts.strong, text).x + (*key == '\0' ? 0 : ui.KeyWidth(key) + t.Space(0.75f));
    ImGui::SetCursorPosX(std::max(0.f, 0.5f * (width - w)));
    return ui.Word(name, text, key);
  };
  for (const auto& [name, text, key, room] :
       {std::tuple{"room/run", words::kRun, "R", Room::kRun},
        {"room/bench", words::kBench, "N", Room::kBench},
        {"room/nominal", words::kDrawing, "D", Room::kNominal}}) {
    const bool here = app.room() == room;
    if (word(name, here ? words::kFaceWord : text, key))
      out.push_back({Do::kShowRoom, static_cast<int>(here ? Room::kFace : room)});
  }
  if (word("open", words::kOpen, ""))
    out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kOpen)});
  const ImVec2 at = ImGui::GetCursorScreenPos();
  const std::string key = "Ctrl O";
  ui.Key({at.x + 0.5f * (width - ui.KeyWidth(key)), at.y - t.Space(0.6f)}, key, t.quiet);
  ui.Gap(3);
  const bool dark = app.settings().dark;
  if (word("theme", dark ? words::kLight : words::kDark, "L"))
    out.push_back({Do::kTheme, dark ? 0 : 1});
  if (word("about", words::kAbout, ""))
    out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kAbout)});
}

}  // namespace

void DrawTray(Ui& ui, const App& app, const CoinTextures& coins, Intents& out) {
  const Theme& t = ui.t;
  const float width = ImGui::GetContentRegionAvail().x, coin = t.Space(7.5f);
  // The rooms keep their place below, however many samples there are.
  const float rooms = t.Space(34);
  ImGui::BeginChild("samples", {0, std::max(coin, ImGui::GetContentRegionAvail().y - rooms)});
  ui.Gap(2);
  for (const TrayLine& line : app.panels().tray) {
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float height = coin + t.Space(6);
    const std::string name = "tray/" + std::to_string(line.id);
    if (ui.Row(name, height, line.current)) out.push_back({Do::kShowSample, line.id});
    const ImVec2 middle{at.x + 0.5f * width, at.y + t.Space(1.2f) + 0.5f * coin};
    const ImVec2 from{middle.x - 0.5f * coin, middle.y - 0.5f * coin};
    const ImVec2 to{middle.x + 0.5f * coin, middle.y + 0.5f * coin};
    if (ImTextureID texture = coins.Find(line.id))
      ui.draw()->AddImageRounded(texture, from, to, {0, 0}, {1, 1}, IM_COL32_WHITE, 0.5f * coin);
    else
      ui.draw()->AddCircleFilled(middle, 0.5f * coin, t.rule, 48);
    const ImU32 rim = line.failed ? t.alarm : line.current ? t.accent : t.rule;
    ui.draw()->AddCircle(middle, 0.5f * coin + 1.5f, rim, 48, line.current ? 2.f : 1.f);
    const float y = to.y + t.Space(0.6f), room = width - t.Space(1);
    const float w = std::min(room, ui.SizeOf(t.fonts.small, line.name).x);
    ui.TextAt({middle.x - 0.5f * w, y}, t.fonts.small, t.ink, line.name, room);
    const VerdictLook look = LookOf(t, line.word);
    const float mark = t.Space(1.3f), below = y + t.fonts.small->FontSize + t.Space(0.5f);
    if (look.mark != BracketMark::kNone)
      ui.Bracket({middle.x - 0.5f * mark, below}, mark, look.mark, look.colour);
    else
      ui.TextAt({middle.x - 0.5f * ui.SizeOf(t.fonts.small, line.verdict).x, below - 2},
                t.fonts.small, t.quiet, line.verdict);
    if (line.unsaved)
      ui.draw()->AddCircleFilled({to.x - t.Space(0.4f), from.y + t.Space(0.4f)}, t.Space(0.45f),
                                 t.accent);
  }
  ImGui::EndChild();
  DrawRooms(ui, app, width, out);
}

}  // namespace cutface::window
