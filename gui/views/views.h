// One function per view; each reads the state and hands back intents. Drawing only: no numbers are
// made here, no file is touched. Keywords: view, draw.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "gui/state/app.h"
#include "gui/state/scene.h"
#include "gui/views/ui.h"

namespace cutface::window {

// What the face view keeps between frames; the program owns it.
struct FaceView {
  CanvasTransform transform;
  Scene scene;
  std::vector<TileQuad> tiles;
  bool panning = false, moved = false;
  std::string dragged;  // a shape of the nominal
  int handle = -1;      // or a handle of the chosen one
  PointPx dragged_from;
  std::vector<Mark> marks;  // that the scene was made of
  std::string pointer;      // text of the place under the pointer
  float black = 0, white = 1;
};
struct CoinTextures {
  std::vector<std::pair<int, ImTextureID>> of;  // sample id
  ImTextureID Find(int id) const;
};
// What a person is typing; kept by the program, taken over by intents.
struct Drafts {
  std::string reason, path, filter, picture, nominal;
  std::map<std::string, std::string> sizes;  // of the shape in hand
  std::string size_in_hand;                  // that is being typed
  int file = 0;                              // marked entry of the open sheet
  bool fresh = true;                         // the sheet has just opened
};

void DrawTray(Ui& ui, const App& app, const CoinTextures& coins, Intents& out);
void DrawHead(Ui& ui, const App& app, Intents& out);
void DrawRows(Ui& ui, const App& app, Intents& out);
void DrawFindings(Ui& ui, const App& app, Intents& out);
void DrawValues(Ui& ui, const App& app, Intents& out);
// One measured value, opened when chosen; true when it was clicked.
bool DrawValueLine(Ui& ui, const ValueLine& line, const std::string& name);
void DrawRunList(Ui& ui, App& app, Intents& out);  // samples by characteristics, and the folders
void DrawGraph(Ui& ui, const GraphPanel& graph, ImVec2 at, ImVec2 size);
void DrawRunValues(Ui& ui, const App& app, Intents& out);  // values, edges, worst
void DrawNominal(Ui& ui, App& app, Drafts& drafts, Intents& out);
void DrawBenchForm(Ui& ui, App& app, Intents& out);
void DrawBenchFound(Ui& ui, const App& app, Intents& out);
void DrawAsk(Ui& ui, const App& app, Intents& out);
void DrawSamplePage(Ui& ui, App& app, Intents& out);
void DrawCorrections(Ui& ui, const App& app, Intents& out);
void DrawFace(Ui& ui, const App& app, FaceView& face, Intents& out);
void DrawPlate(Ui& ui, const App& app, Intents& out);
void DrawWall(Ui& ui, const App& app, Intents& out);
void DrawOpenSheet(Ui& ui, const App& app, Drafts& drafts, Intents& out);
void DrawReasonSheet(Ui& ui, const App& app, Drafts& drafts, Intents& out);
// A sheet of paper in the middle of the window; ImGui::EndPopup() when it returns true.
bool BeginSheet(Ui& ui, const char* name, float width, float height);
void DrawSignSheet(Ui& ui, App& app, Drafts& drafts, Intents& out);
void DrawPictureSheet(Ui& ui, const App& app, Drafts& drafts, Intents& out);
void DrawRecoverSheet(Ui& ui, const App& app, Intents& out);
void DrawAboutSheet(Ui& ui, const App& app, Intents& out);
// The whole window; keys first.
void DrawWindow(Ui& ui, App& app, FaceView& face, const CoinTextures& coins, Drafts& drafts,
                Intents& out);

}  // namespace cutface::window
