// The run's right side: one characteristic's values within its limits, every edge over the nominal,
// and what is worst.
#include <algorithm>
#include <cmath>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

struct Strip {
  ImVec2 from, size;
  float X(float share) const { return from.x + share * size.x; }
  float Y(float share) const { return from.y + (1 - share) * size.y; }
};

// What the drawing allows: the pale band of the number line, upright.
void DrawLimits(Ui& ui, const RunPanel& run, const Strip& s) {
  const Theme& t = ui.t;
  const float low = run.min ? *run.min : 0, high = run.max ? *run.max : 1;
  ui.draw()->AddRectFilled({s.X(0), s.Y(high)}, {s.X(1), s.Y(low)},
                           (t.wall & 0x00ffffffu) | (t.dark ? 0x40000000u : 0x48000000u));
  const auto limit = [&](const std::optional<float>& y, const std::string& text, bool nominal) {
    if (!y) return;
    ui.draw()->AddLine({s.X(0), s.Y(*y)}, {s.X(1), s.Y(*y)}, t.quiet, nominal ? 1.f : 2.f);
    ui.TextAt({s.X(0) + 4, s.Y(*y) + (nominal ? -t.fonts.small->FontSize - 1 : 2)}, t.fonts.small,
              t.quiet, text);
  };
  for (const auto& bound : {run.bound_low, run.bound_high}) {
    if (!bound) continue;
    for (float x = s.X(0); x < s.X(1); x += 12 * t.scale)  // dashed: it is no limit
      ui.draw()->AddLine({x, s.Y(*bound)}, {std::min(x + 7 * t.scale, s.X(1)), s.Y(*bound)},
                         t.accent, 1.4f * t.scale);
    const float w = ui.SizeOf(t.fonts.small, run.bound_text).x;
    ui.TextAt(
        {s.X(1) - w, s.Y(*bound) + (bound == run.bound_low ? 2 : -t.fonts.small->FontSize - 2)},
        t.fonts.small, t.accent, run.bound_text);
  }
  limit(run.nominal, run.nominal_text, true);
  limit(run.min, run.min_text, false);
  limit(run.max, run.max_text, false);
}

void DrawPoints(Ui& ui, const RunPanel& run, const Strip& s, Intents& out) {
  const Theme& t = ui.t;
  for (const std::vector<int>& trend : run.trends) {
    for (std::size_t i = 0; i + 1 < trend.size(); ++i) {
      const RunPanel::Value& a = run.values[static_cast<std::size_t>(trend[i])];
      const RunPanel::Value& b = run.values[static_cast<std::size_t>(trend[i + 1])];
      ui.draw()->AddLine({s.X(a.x), s.Y(a.y)}, {s.X(b.x), s.Y(b.y)}, t.rule, 1.5f);
    }
  }
  const RunPanel::Value* told = nullptr;
  const float reach =
      std::clamp(0.4f * s.size.x / static_cast<float>(std::max<std::size_t>(run.values.size(), 1)),
                 5.f * t.scale, 24.f * t.scale);
  for (const RunPanel::Value& v : run.values) {
    const VerdictLook look = LookOf(t, v.word);
    const float x = s.X(v.x), y = s.Y(v.y);
    ui.draw()->AddRectFilled({x - 1.8f * t.scale, s.Y(v.hi)}, {x + 1.8f * t.scale, s.Y(v.lo)},
                             (look.colour & 0x00ffffffu) | 0x90000000u);
    ui.draw()->AddCircleFilled({x, y}, (v.chosen ? 6.5f : 4.5f) * t.scale, t.paper);
    ui.draw()->AddCircleFilled({x, y}, (v.chosen ? 5.2f : 3.4f) * t.scale, look.colour);
    ImGui::SetCursorScreenPos({x - reach, s.Y(1)});
    ImGui::PushID(&v);
    if (ImGui::InvisibleButton("value", {2 * reach, s.size.y}))
      out.push_back({Do::kRunOpenFace, v.face, run.no});
    if (ImGui::IsItemHovered() && !v.chosen) out.push_back({Do::kRunFace, v.face});
    ImGui::PopID();
    ui.Note("point/" + std::to_string(v.face), {x - 4, y - 4}, {8, 8});
    if (v.chosen) told = &v;
    if (run.values.size() <= 30 && !run.by_station) {
      const float w = ui.SizeOf(t.fonts.small, v.name).x;
      if (w < s.size.x / static_cast<float>(run.values.size()))
        ui.TextAt({x - 0.5f * w, s.Y(0) + 3}, t.fonts.small, v.chosen ? t.ink : t.quiet, v.name);
    }
  }
  for (const RunPanel::Place& station : run.stations) {
    const float w = ui.SizeOf(t.fonts.small, station.text).x;
    ui.draw()->AddLine({s.X(station.x), s.Y(0)}, {s.X(station.x), s.Y(0) + 4}, t.quiet);
    ui.TextAt({s.X(station.x) - 0.5f * w, s.Y(0) + 5}, t.fonts.small, t.quiet, station.text);
  }
  if (told != nullptr) {
    const ImVec2 size = ui.SizeOf(t.fonts.small, told->text);
    const float x = std::clamp(s.X(told->x) - 0.5f * size.x, s.X(0), s.X(1) - size.x - 12);
    const float y = s.Y(told->hi) - size.y - 14;
    ui.draw()->AddRectFilled({x - 6, y - 3}, {x + size.x + 6, y + size.y + 3}, t.plate,
                             3 * t.scale);
    ui.TextAt({x, y}, t.fonts.small, t.on_plate, told->text);
  }
}

// What the parts say together, and what the reader must know beside it.
void DrawSentence(Ui& ui, const RunPanel& run) {
  const Theme& t = ui.t;
  const float edge = t.Space(2);
  if (!run.statistics_trouble.empty())
    ui.Wrapped(t.fonts.small, t.quiet,
               std::string(words::kNoStatistics) + ": " + run.statistics_trouble, edge);
  if (!run.sentence.empty()) ui.Wrapped(t.fonts.body, t.ink, run.sentence, edge);
  for (std::size_t i = 0; i < run.doubts.size() && i < 2; ++i)
    ui.Wrapped(t.fonts.small, t.quiet, run.doubts[i], edge);
}

void DrawValuesOfRun(Ui& ui, const RunPanel& run, float height, Intents& out) {
  const Theme& t = ui.t;
  ImGui::BeginChild("values of the run", {0, height}, false, ImGuiWindowFlags_NoScrollbar);
  ImGui::Indent(t.Space(3));
  ui.Gap(1);
  if (run.no.empty()) {
    ui.Wrapped(t.fonts.body, t.quiet, words::kRunChoose);
    ImGui::EndChild();
    return;
  }
  ui.Line(t.fonts.strong, t.ink, run.no + "   " + run.subject + "   " + run.requirement);
  ImGui::SameLine(0, t.Space(4));
  if (ui.Choice("run/by", run.by_station ? words::kByStation : words::kBySample, true, "B"))
    out.push_back({Do::kRunByStation});
  DrawSentence(ui, run);
  const ImVec2 at = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
  const float foot = t.Space(run.left_out.empty() ? 3 : 6.5f);
  const Strip strip{{at.x, at.y + t.Space(0.5f)},
                    {room.x - t.Space(3), std::max(40.f, room.y - foot)}};
  ui.Note("run values", strip.from, strip.size);
  DrawLimits(ui, run, strip);
  DrawPoints(ui, run, strip, out);
  if (!run.left_out.empty()) {
    std::string text = std::string(words::kLeftOut) + ": " + run.left_out.front();
    if (run.left_out.size() > 1)
      text += "; and " + std::to_string(run.left_out.size() - 1) + " more";
    ui.TextAt({strip.from.x, strip.Y(0) + t.Space(3)}, t.fonts.small, t.quiet, text, strip.size.x);
  }
  ImGui::EndChild();
}

// Each question's plot, the edges first.
void DrawQuestions(Ui& ui, const RunPanel& run, Intents& out) {
  const Theme& t = ui.t;
  if (ui.Choice("question/edges", words::kEveryEdge, run.question.empty(), "1"))
    out.push_back({Do::kRunQuestion, 0, ""});
  const float right = ImGui::GetWindowPos().x + ImGui::GetWindowSize().x;
  int key = 2;
  for (const RunPanel::Question& q : run.questions) {
    const std::string number = std::to_string(key++);
    const float width = ui.SizeOf(t.fonts.strong, q.text).x + ui.KeyWidth(number) + t.Space(0.6f);
    ImGui::SameLine(0, t.Space(1.4f));
    if (ImGui::GetCursorScreenPos().x + width > right) ImGui::NewLine();
    if (ui.Choice("question/" + q.id, q.text, q.id == run.question, number))
      out.push_back({Do::kRunQuestion, 0, q.id});
  }
}

// Every edge over the nominal; pointing at one chooses its face, a click opens it.
void DrawEdges(Ui& ui, const RunPanel& run, Intents& out) {
  const Theme& t = ui.t;
  ui.Line(t.fonts.small, t.quiet, run.has_nominal ? words::kAllEdges : words::kAllEdgesAlone);
  const ImVec2 at = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
  const float side = std::max(40.f, std::min(room.x, room.y - t.Space(1)));
  const ImVec2 from{at.x + 0.5f * (room.x - side), at.y};
  ui.Note("run edges", from, {side, side});
  ImGui::SetCursorScreenPos(from);
  const bool clicked = ImGui::InvisibleButton("edges", {side, side});
  const ImVec2 mouse = ImGui::GetIO().MousePos;
  if (ImGui::IsItemHovered() || clicked) {
    const int face =
        FaceNear(run, (mouse.x - from.x) / side, (mouse.y - from.y) / side, 8 * t.scale / side);
    if (face >= 0 && clicked) out.push_back({Do::kRunOpenFace, face, run.no});
    const bool moved = ImGui::GetIO().MouseDelta.x != 0 || ImGui::GetIO().MouseDelta.y != 0;
    if (face >= 0 && !clicked && moved) out.push_back({Do::kRunFace, face});
  }
  std::vector<ImVec2> line;
  for (const bool chosen : {false, true}) {
    for (const RunPanel::Edge& edge : run.edges) {
      if (edge.chosen != chosen) continue;
      line.clear();
      for (const auto& [x, y] : edge.points) line.push_back({from.x + x * side, from.y + y * side});
      const bool nominal = edge.face < 0;
      const ImU32 colour = chosen    ? t.accent
                           : nominal ? t.ink
                                     : (LookOf(t, edge.word).colour & 0x00ffffffu) | 0x70000000u;
      ui.draw()->AddPolyline(line.data(), static_cast<int>(line.size()), colour, ImDrawFlags_Closed,
                             chosen    ? 2.4f * t.scale
                             : nominal ? 1.6f * t.scale
                                       : 1.f);
    }
  }
}

void DrawLookedInto(Ui& ui, const RunPanel& run, float width, Intents& out) {
  const Theme& t = ui.t;
  ImGui::BeginChild("looked into", {width, 0}, false, ImGuiWindowFlags_NoScrollbar);
  ImGui::Indent(t.Space(3));
  DrawQuestions(ui, run, out);
  if (!run.graph) {
    DrawEdges(ui, run, out);
  } else {
    ui.Line(t.fonts.strong, t.ink, run.graph->question);
    if (run.graph->answer != run.sentence) ui.Wrapped(t.fonts.small, t.quiet, run.graph->answer);
    const ImVec2 at = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
    DrawGraph(ui, *run.graph, at, {room.x - t.Space(1), std::max(60.f, room.y - t.Space(1))});
  }
  ImGui::EndChild();
}

void DrawWorst(Ui& ui, const RunPanel& run, Intents& out) {
  const Theme& t = ui.t;
  ImGui::BeginChild("worst of the run", {0, 0});
  ui.Line(t.fonts.small, t.quiet, words::kWorst);
  ImGui::PushStyleVar(ImGuiStyleVar_ItemSpacing, {0, 0});
  for (std::size_t i = 0; i < run.worst.size(); ++i) {
    const RunPanel::Worst& w = run.worst[i];
    const ImVec2 at = ImGui::GetCursorScreenPos();
    const float width = ImGui::GetContentRegionAvail().x - t.Space(2);
    if (ui.Row("worst/" + std::to_string(i), t.Space(5.6f), false))
      out.push_back({Do::kRunOpenFace, w.face, w.no});
    const float y = at.y + t.Space(0.5f);
    const float word = ui.SizeOf(t.fonts.small, w.verdict).x + t.Space(4);
    ui.TextAt({at.x + t.Space(1), y}, t.fonts.strong, t.ink,
              run.no.empty() ? w.name + "   " + w.no + "  " + w.subject : w.name,
              width - word - t.Space(1));
    ui.VerdictRight({at.x + width, y}, t.fonts.small, w.word, w.verdict);
    ui.TextAt({at.x + t.Space(1), y + t.fonts.body->FontSize + 2}, t.fonts.small, t.quiet, w.text,
              width - t.Space(1));
  }
  ImGui::PopStyleVar();
  ImGui::EndChild();
}

}  // namespace

void DrawRunValues(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  if (!app.panels().run) return;
  const RunPanel& run = *app.panels().run;
  const ImVec2 at = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
  ui.draw()->AddLine({at.x, at.y}, {at.x, at.y + room.y}, t.rule);
  DrawValuesOfRun(ui, run, 0.46f * room.y, out);
  DrawLookedInto(ui, run, 0.56f * room.x, out);
  ImGui::SameLine(0, t.Space(2));
  DrawWorst(ui, run, out);
}

}  // namespace cutface::window
