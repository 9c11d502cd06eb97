// The window's views without a window: Dear ImGui with no backend at all. A test draws frames, asks
// what stands on them, and clicks controls by name.
#pragma once

#include <gtest/gtest.h>
#include <imgui.h>

#include <cmath>
#include <string>

#include "gui/state/app.h"
#include "gui/theme/theme.h"
#include "gui/views/views.h"

namespace cutface::window {

class Headless {
 public:
  explicit Headless(float width = 1440, float height = 900) {
    context_ = ImGui::CreateContext();
    ImGuiIO& io = ImGui::GetIO();
    io.IniFilename = nullptr;
    io.DisplaySize = {width, height};
    io.DeltaTime = 1.0f / 60;
    io.MousePos = {-1, -1};
    theme_ = MakeTheme(false, 1, LoadFonts(1));
    ApplyTheme(theme_);
    unsigned char* pixels = nullptr;
    int w = 0, h = 0;
    io.Fonts->GetTexDataAsRGBA32(&pixels, &w, &h);
    io.Fonts->SetTexID(reinterpret_cast<ImTextureID>(1));
  }
  ~Headless() { ImGui::DestroyContext(context_); }
  Headless(const Headless&) = delete;
  Headless& operator=(const Headless&) = delete;

  // One frame; its intents are applied, as in the program.
  void Frame(App& app) {
    ImGui::NewFrame();
    Ui ui(theme_);
    Intents intents;
    DrawWindow(ui, app, face_, coins_, drafts_, intents);
    ImGui::Render();
    places = std::move(ui.places);
    texts = std::move(ui.texts);
    app.Apply(intents);
    CheckDrawn();
  }
  void Frames(App& app, int count = 3) {
    for (int i = 0; i < count; ++i) Frame(app);
  }
  bool Has(const std::string& place) const { return Find(place) != nullptr; }
  bool Says(const std::string& part) const {
    for (const std::string& text : texts)
      if (text.find(part) != std::string::npos) return true;
    return false;
  }
  void Click(App& app, const std::string& place) {
    const Ui::Place* at = Find(place);
    ASSERT_NE(at, nullptr) << place;
    ImGuiIO& io = ImGui::GetIO();
    io.MousePos = {at->x + 0.5f * at->w, at->y + 0.5f * at->h};
    Frame(app);
    io.MouseDown[0] = true;
    Frame(app);
    io.MouseDown[0] = false;
    Frame(app);
    io.MousePos = {-1, -1};
    Frames(app, 2);
  }
  void Key(App& app, int key, bool control = false) {
    ImGuiIO& io = ImGui::GetIO();
    io.KeyCtrl = control;
    io.KeysDown[key] = true;
    Frame(app);
    io.KeysDown[key] = false;
    io.KeyCtrl = false;
    Frames(app, 2);
  }

  std::vector<Ui::Place> places;
  std::vector<std::string> texts;
  FaceView& face() { return face_; }
  Drafts& drafts() { return drafts_; }
  std::size_t vertices() const { return vertices_; }

 private:
  const Ui::Place* Find(const std::string& place) const {
    for (const Ui::Place& p : places)
      if (p.name == place) return &p;
    return nullptr;
  }
  // Whatever is drawn has finite places, and something is drawn.
  void CheckDrawn() {
    vertices_ = 0;
    const ImDrawData* data = ImGui::GetDrawData();
    for (int i = 0; i < data->CmdListsCount; ++i) {
      for (const ImDrawVert& v : data->CmdLists[i]->VtxBuffer) {
        ASSERT_TRUE(std::isfinite(v.pos.x) && std::isfinite(v.pos.y));
        ++vertices_;
      }
    }
    ASSERT_GT(vertices_, 0u);
  }

  ImGuiContext* context_ = nullptr;
  Theme theme_;
  FaceView face_;
  CoinTextures coins_;
  Drafts drafts_;
  std::size_t vertices_ = 0;
};

}  // namespace cutface::window
