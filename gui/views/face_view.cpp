// The face: picture, marks, names, scale bar and hand; pan, zoom, point and choose.
#include <algorithm>
#include <cmath>

#include "gui/theme/words.h"
#include "gui/views/views.h"

namespace cutface::window {

namespace {

ImVec2 V(ScreenPoint p) { return {p.x, p.y}; }

void DrawStroke(ImDrawList* list, const Theme& t, const Stroke& s) {
  if (s.points.size() < 2) return;
  const auto* points = reinterpret_cast<const ImVec2*>(s.points.data());
  static_assert(sizeof(ScreenPoint) == sizeof(ImVec2));
  const int n = static_cast<int>(s.points.size());
  const float width = std::max(1.f, s.width * t.stroke);
  const ImU32 colour = PaintColour(t, s.paint);
  list->AddPolyline(points, n, t.casing, ImDrawFlags_None, width + 2.2f * t.stroke);
  list->AddPolyline(points, n, colour, ImDrawFlags_None, width);
  if (!s.arrows) return;
  const ImVec2 a = points[0], b = points[n - 1];
  const float length = std::hypot(b.x - a.x, b.y - a.y);
  const float head = std::min(7.f * t.scale, std::max(3.f, 0.4f * length));
  if (!(length > 0)) return;
  const ImVec2 d{(b.x - a.x) / length, (b.y - a.y) / length};
  const auto tip = [&](ImVec2 p, float way) {
    const ImVec2 back{p.x + way * head * d.x, p.y + way * head * d.y};
    const ImVec2 side{-0.5f * head * d.y, 0.5f * head * d.x};
    list->AddTriangleFilled(p, {back.x + side.x, back.y + side.y},
                            {back.x - side.x, back.y - side.y}, colour);
  };
  if (length > 14 * t.scale) {
    tip(a, 1);
    tip(b, -1);
  } else {  // too short for heads inside: they point at it from outside
    tip({a.x, a.y}, -1);
    tip({b.x, b.y}, 1);
  }
}

void DrawTag(Ui& ui, const Tag& tag) {
  const Theme& t = ui.t;
  const ScreenRect& r = tag.plate;
  const bool chosen = tag.paint == Paint::kChosen;
  ui.draw()->AddRectFilled({r.x, r.y}, {r.x + r.w, r.y + r.h}, chosen ? t.accent : t.plate,
                           3 * t.scale);
  float y = r.y + 2;
  std::size_t from = 0;
  bool first = true;
  while (from <= tag.text.size()) {
    const std::size_t end = std::min(tag.text.find('\n', from), tag.text.size());
    const std::string line = tag.text.substr(from, end - from);
    const float w = ui.SizeOf(t.fonts.small, line).x;
    const ImU32 colour = chosen ? t.on_accent : first ? PaintColour(t, tag.paint) : t.on_plate;
    ui.draw()->AddText(t.fonts.small, t.fonts.small->FontSize, {r.x + 0.5f * (r.w - w), y}, colour,
                       line.c_str());
    y += t.fonts.small->FontSize;
    from = end + 1;
    first = false;
  }
}

void DrawBar(Ui& ui, const Scene::Bar& bar) {
  const Theme& t = ui.t;
  ImDrawList* list = ui.draw();
  const float foot = 5 * t.scale;
  const ImVec2 size = ui.SizeOf(t.fonts.small, bar.text);
  list->AddRectFilled({bar.left.x - 10, bar.left.y - size.y - 10},
                      {bar.right.x + 10, bar.left.y + 10}, t.plate, 3 * t.scale);
  const ImVec2 points[] = {{bar.left.x, bar.left.y - foot},
                           V(bar.left),
                           V(bar.right),
                           {bar.right.x, bar.right.y - foot}};
  list->AddPolyline(points, 4, t.on_plate, ImDrawFlags_None, 2 * t.scale);
  list->AddText(t.fonts.small, t.fonts.small->FontSize,
                {0.5f * (bar.left.x + bar.right.x - size.x), bar.left.y - size.y - 3}, t.on_plate,
                bar.text.c_str());
}

void Chosen(const App& app, FaceView& face, ScreenPoint at, Intents& out) {
  const Sample* sample = app.current();
  if (sample == nullptr) return;
  if (app.draft().takes_points) {
    Intent point{Do::kAddPoint};
    point.at = face.transform.ToImage(at);
    out.push_back(point);
    return;
  }
  if (app.room() == Room::kNominal) {
    const std::string shape = FeatureAt(face.marks, face.transform, at, 8);
    out.push_back({Do::kNominalChoose, 0, shape});
    return;
  }
  if (!sample->measured) return;
  const std::string feature = FeatureAt(sample->measured->marks, face.transform, at, 8);
  if (app.draft().picks_region) {
    out.push_back({Do::kJoinWith, 0, feature});
  } else if (feature.empty()) {
    out.push_back({Do::kChooseNothing});
  } else if (app.page() == Page::kAsk) {
    Intent point{Do::kAskPoint, 0, feature};
    point.at = face.transform.ToImage(at);
    out.push_back(point);
  } else {
    out.push_back({Do::kChooseFeature, 0, feature});
  }
}

// A shape of the nominal follows the pointer. True while one does.
bool DragShape(const App& app, FaceView& face, bool hovered, Intents& out) {
  const ImGuiIO& io = ImGui::GetIO();
  const ScreenPoint at{io.MousePos.x, io.MousePos.y};
  if (app.room() != Room::kNominal) return false;
  if (hovered && ImGui::IsMouseClicked(0))
    face.handle = HandleAt(face.marks, face.transform, at, 12 * ImGui::GetFontSize() / 17);
  if (face.handle >= 0) {
    if (ImGui::IsMouseDragging(0, 2)) {
      Intent size{Do::kNominalResize, face.handle};
      size.at = face.transform.ToImage(at);
      out.push_back(size);
      face.moved = true;
    }
    if (ImGui::IsMouseReleased(0)) {
      out.push_back({Do::kNominalMoved});
      face.handle = -1;
    }
    return true;
  }
  if (hovered && ImGui::IsMouseClicked(0)) {
    face.dragged = FeatureAt(face.marks, face.transform, at, 8);
    if (face.dragged == "outline") face.dragged.clear();  // it is the picture's frame
    face.dragged_from = face.transform.ToImage(at);
    face.moved = false;
  }
  if (face.dragged.empty()) return false;
  if (ImGui::IsMouseDragging(0, 4)) {
    Intent move{Do::kNominalMove, 0, face.dragged};
    move.from = face.dragged_from;
    move.at = face.transform.ToImage(at);
    out.push_back(move);
    face.dragged_from = move.at;
    face.moved = true;
  }
  if (ImGui::IsMouseReleased(0)) {
    out.push_back(face.moved ? Intent{Do::kNominalMoved}
                             : Intent{Do::kNominalChoose, 0, face.dragged});
    face.dragged.clear();
  }
  return true;
}

void Handle(const App& app, FaceView& face, bool hovered, Intents& out) {
  const ImGuiIO& io = ImGui::GetIO();
  const ScreenPoint at{io.MousePos.x, io.MousePos.y};
  if (DragShape(app, face, hovered, out)) return;
  if (hovered && io.MouseWheel != 0)
    face.transform.ZoomAbout(at, std::pow(1.2, static_cast<double>(io.MouseWheel)));
  if (hovered && (ImGui::IsMouseClicked(0) || ImGui::IsMouseClicked(2))) {
    face.panning = true;
    face.moved = false;
  }
  if (face.panning) {
    if (std::abs(io.MouseDelta.x) + std::abs(io.MouseDelta.y) > 0 &&
        (face.moved || ImGui::IsMouseDragging(0, 4) || ImGui::IsMouseDragging(2, 1))) {
      face.moved = true;
      face.transform.PanBy(io.MouseDelta.x, io.MouseDelta.y);
    }
    if (ImGui::IsMouseReleased(0) || ImGui::IsMouseReleased(2)) {
      if (!face.moved && ImGui::IsMouseReleased(0)) Chosen(app, face, at, out);
      face.panning = false;
    }
  }
  if (hovered && ImGui::IsMouseClicked(1) && app.draft().active) out.push_back({Do::kDropLine});
  if (!hovered) return;
  face.pointer = app.PointerText(face.transform.ToImage(at));
  if (!face.panning && (io.MouseDelta.x != 0 || io.MouseDelta.y != 0)) {
    Intent point{Do::kPointFace};
    point.at = face.transform.ToImage(at);
    point.share = 28 / face.transform.zoom();
    out.push_back(point);
  }
}

void DrawControls(Ui& ui, const App& app, ScreenRect r, Intents& out) {
  const Theme& t = ui.t;
  ImGui::SetCursorScreenPos({r.x + t.Space(2), r.y + t.Space(1.4f)});
  if (ui.Word("face/fit", words::kWholeFace, "F")) out.push_back({Do::kFit});
  ImGui::SameLine(0, t.Space(3));
  if (ui.Choice("face/clock", words::kTwelveUp, app.clock_up(), "T")) out.push_back({Do::kClockUp});
  ImGui::SameLine(0, t.Space(3));
  if (ui.Choice("face/marks", words::kMarks, app.marks_shown(), "H"))
    out.push_back({Do::kShowMarks});
  ImGui::SameLine(0, t.Space(3));
  if (ui.Choice("face/stretch", words::kStretch, false, "G")) out.push_back({Do::kFullContrast});
  const Sample* sample = app.current();
  if (sample == nullptr) return;
  ImGui::SameLine(0, t.Space(2));
  float range[2] = {static_cast<float>(sample->range.black),
                    static_cast<float>(sample->range.white)};
  ImGui::SetNextItemWidth(t.Space(18));
  const ImVec2 at = ImGui::GetCursorScreenPos();
  ImGui::PushFont(t.fonts.small);
  if (ImGui::DragFloatRange2("##tones", &range[0], &range[1], 0.002f, 0, 1, "black %.3f",
                             "white %.3f")) {
    Intent set{Do::kSetRange};
    set.share = static_cast<double>(range[0]);
    set.more_share = static_cast<double>(range[1]);
    out.push_back(set);
  }
  ImGui::PopFont();
  ui.Note("face/tones", at, {t.Space(18), t.Space(3)});
}

}  // namespace

void DrawFace(Ui& ui, const App& app, FaceView& face, Intents& out) {
  const Theme& t = ui.t;
  const ImVec2 at = ImGui::GetCursorScreenPos(), size = ImGui::GetContentRegionAvail();
  const float head = t.Space(5), foot = t.Space(3.5f);
  const ScreenRect view{at.x, at.y + head, size.x, std::max(40.f, size.y - head - foot)};
  face.transform.SetView(view);
  ui.Note("face", {view.x, view.y}, {view.w, view.h});
  ImGui::SetCursorScreenPos({view.x, view.y});
  ImGui::InvisibleButton("face", {view.w, view.h},
                         ImGuiButtonFlags_MouseButtonLeft | ImGuiButtonFlags_MouseButtonRight |
                             ImGuiButtonFlags_MouseButtonMiddle);
  ImGui::SetItemAllowOverlap();  // the plate over it has controls of its own
  const bool hovered = ImGui::IsItemHovered();
  ImDrawList* list = ui.draw();
  list->PushClipRect({view.x, view.y}, {view.x + view.w, view.y + view.h}, true);
  for (const TileQuad& q : face.tiles) {
    // NOLINTNEXTLINE(performance-no-int-to-ptr): ImGui wants a texture's number as a pointer
    list->AddImageQuad(reinterpret_cast<ImTextureID>(q.texture), V(q.corners[0]), V(q.corners[1]),
                       V(q.corners[2]), V(q.corners[3]));
  }
  for (const Stroke& s : face.scene.strokes) DrawStroke(list, t, s);
  for (const Tag& tag : face.scene.tags) DrawTag(ui, tag);
  if (face.scene.bar) DrawBar(ui, *face.scene.bar);
  list->PopClipRect();
  Handle(app, face, hovered, out);
  if (!hovered) face.pointer.clear();
  ui.TextAt({at.x + t.Space(2), view.y + view.h + t.Space(0.9f)}, t.fonts.small, t.quiet,
            face.pointer.empty() ? "wheel zooms, drag moves, click chooses" : face.pointer,
            size.x - t.Space(4));
  if (!app.draft().prompt.empty()) {
    const ImVec2 text = ui.SizeOf(t.fonts.strong, app.draft().prompt);
    const float x = view.x + 0.5f * (view.w - text.x), y = view.y + t.Space(2);
    list->AddRectFilled({x - t.Space(2), y - t.Space(1)},
                        {x + text.x + t.Space(2), y + text.y + t.Space(1)}, t.accent,
                        t.Space(0.5f));
    ui.TextAt({x, y}, t.fonts.strong, t.on_accent, app.draft().prompt);
  }
  if (app.current() != nullptr) DrawControls(ui, app, {at.x, at.y, size.x, head}, out);
}

void DrawPlate(Ui& ui, const App& app, Intents& out) {
  const Theme& t = ui.t;
  const Panels& p = app.panels();
  if (p.plate_title.empty()) return;
  const ImVec2 at = ImGui::GetWindowPos(), size = ImGui::GetWindowSize();
  const float width = std::min(t.Space(62), size.x - t.Space(6));
  const ImVec2 text = ui.SizeOf(t.fonts.body, p.plate_text, width - t.Space(6));
  const float height = text.y + t.Space(p.plate_can_accept || app.current() == nullptr ? 19 : 12);
  const ImVec2 from{at.x + 0.5f * (size.x - width), at.y + 0.5f * (size.y - height)};
  ImDrawList* list = ui.draw();
  list->AddRectFilled(from, {from.x + width, from.y + height}, t.paper, t.Space(0.6f));
  if (p.plate_is_error) {
    list->AddRectFilled(from, {from.x + width, from.y + t.Space(0.8f)}, t.alarm);
  }
  ui.TextAt({from.x + t.Space(3), from.y + t.Space(2.5f)}, t.fonts.title,
            p.plate_is_error ? t.alarm : t.ink, p.plate_title);
  ui.texts.push_back(p.plate_text);
  list->AddText(t.fonts.body, t.fonts.body->FontSize, {from.x + t.Space(3), from.y + t.Space(8)},
                t.ink, p.plate_text.c_str(), nullptr, width - t.Space(6));
  ui.Note("plate", from, {width, height});
  ImGui::SetCursorScreenPos({from.x + t.Space(3), from.y + t.Space(10) + text.y});
  if (app.current() == nullptr) {
    if (ui.Word("plate/open", words::kOpen, "Ctrl O", true))
      out.push_back({Do::kOpenSheet, static_cast<int>(Sheet::kOpen)});
    return;
  }
  if (!p.plate_can_accept) return;
  if (ui.Word("plate/record", words::kChooseRecord, "", true))
    out.push_back({Do::kShowPage, static_cast<int>(Page::kSample)});
  ImGui::SameLine(0, t.Space(3));
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() + t.Space(0.4f));
  if (ui.Word("plate/accept", words::kAccept)) out.push_back({Do::kAcceptScale});
}

}  // namespace cutface::window
