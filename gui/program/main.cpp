// cutface-gui: the inspector's window.
#include <GLFW/glfw3.h>
#include <fmt/format.h>
#include <imgui.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <clocale>
#include <ctime>
#include <iostream>
#include <map>
#include <numbers>
#include <utility>

#include "cutface/micrograph.h"
#include "gui/state/app.h"
#include "gui/theme/theme.h"
#include "gui/views/views.h"
#include "program/screen.h"

namespace cutface::window {
namespace {

struct Call {
  Order order;
  std::vector<std::string> paths;
  int width = 1440, height = 900;
  std::string places;       // where controls lie, for tests
  std::string window_file;  // the picture of the window that Ctrl P makes
  bool forget = false;      // no settings are read or written
  bool times = false;
};

// Time since it was made: on the wall, and of this thread, or of all with the software renderer's,
// on processors.
class Stopwatch {
 public:
  double Milliseconds() const {
    return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start_)
        .count();
  }
  double CpuMilliseconds() const { return Cpu(CLOCK_THREAD_CPUTIME_ID) - cpu_; }
  double AllCpuMilliseconds() const { return Cpu(CLOCK_PROCESS_CPUTIME_ID) - all_; }

 private:
  static double Cpu(clockid_t clock) {
    timespec now{};
    clock_gettime(clock, &now);
    return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
  }
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
  double cpu_ = Cpu(CLOCK_THREAD_CPUTIME_ID), all_ = Cpu(CLOCK_PROCESS_CPUTIME_ID);
};

class Program {
 public:
  Program(Screen& screen, const Call& call)
      : screen_(screen),
        call_(call),
        settings_path_(call.forget ? "" : SettingsPath()),
        app_(ReadSettings(settings_path_), settings_path_, &Screen::Wake),
        tiles_(screen) {
    app_.Start(call.order, call.paths);
  }
  ~Program() {
    for (const auto& [id, coin] : coins_) screen_.Destroy(coin.texture);
  }

  void Run() {
    while (!screen_.closing() && !app_.leaving()) {
      // Three frames settle after the last input or job event; then it waits.
      screen_.Poll(settle_ > 0 ? 0 : 0.25);
      const bool news = Changes();
      if (news) settle_ = 3;
      if (settle_ == 0) continue;
      --settle_;
      Frame();
    }
  }

 private:
  bool Changes() {
    bool news = app_.TakeOutcomes() || app_.job().busy || ImGui::GetIO().WantTextInput;
    for (const std::string& path : screen_.TakeDropped()) {
      app_.Apply({{Do::kOpenPath, 0, path}});
      news = true;
    }
    news = news || std::exchange(screen_.heard, false);
    double x = 0, y = 0;
    glfwGetCursorPos(screen_.window(), &x, &y);
    int w = 0, h = 0;
    glfwGetWindowSize(screen_.window(), &w, &h);
    const bool moved = x != x_ || y != y_ || w != w_ || h != h_;
    x_ = x;
    y_ = y;
    w_ = w;
    h_ = h;
    const ImGuiIO& io = ImGui::GetIO();
    bool keys = screen_.HasKeys();
    for (const bool down : io.KeysDown) keys = keys || down;
    for (int b = 0; b < 3; ++b)
      keys = keys || glfwGetMouseButton(screen_.window(), b) == GLFW_PRESS || io.MouseDown[b];
    return news || moved || keys || app_.revision() != shown_;
  }

  void Frame() {
    Stopwatch watch;
    SetTheme();
    PrepareFace();
    PrepareCoins();
    shown_ = app_.revision();
    const double prepared = watch.Milliseconds();
    screen_.BeginFrame();
    Ui ui(theme_);
    Intents intents;
    DrawWindow(ui, app_, face_, coin_textures_, drafts_, intents);
    const bool shot = ImGui::GetIO().KeyCtrl && ImGui::IsKeyPressed('P', false);
    const double built = watch.Milliseconds();
    screen_.EndFrame(theme_.ground);  // behind the face
    if (shot) SavePicture(ui);
    glfwSwapBuffers(screen_.window());
    if (!call_.places.empty()) NotePlaces(ui);
    app_.Apply(intents);
    if (!intents.empty() || !tiles_complete_) settle_ = std::max(settle_, 2);
    if (call_.times)
      std::cerr << fmt::format(
          "frame {:.2f} ms, prepared {:.2f}, built {:.2f}, own CPU {:.2f}, all CPU {:.2f}\n",
          watch.Milliseconds(), prepared, built - prepared, watch.CpuMilliseconds(),
          watch.AllCpuMilliseconds());
  }

  void SetTheme() {
    const float scale = screen_.content_scale() * static_cast<float>(app_.settings().text_scale);
    if (scale != theme_.scale || theme_.fonts.body == nullptr) {
      const bool again = theme_.fonts.body != nullptr;
      theme_.fonts = LoadFonts(scale);
      if (again) screen_.FontsChanged();
    } else if (theme_.dark == app_.settings().dark && theme_.paper != 0) {
      return;
    }
    theme_ = MakeTheme(app_.settings().dark, scale, theme_.fonts);
    ApplyTheme(theme_);
    scene_revision_ = 0;
  }

  // Tiles and marks for the present view; before drawing, so that drawing only draws.
  void PrepareFace() {
    const Sample* sample = app_.current();
    Go(sample);
    if (sample == nullptr) {
      tiles_.Show(nullptr);
      face_.tiles.clear();
      face_.scene = {};
      return;
    }
    tiles_.Show(sample->tiles);
    tiles_.SetRange(sample->range);
    tiles_complete_ = tiles_.Update(face_.transform, 6);
    face_.tiles = tiles_.quads();
    if (scene_revision_ == app_.revision() && SameView(scene_view_, face_.transform)) return;
    if (scene_revision_ != app_.revision()) face_.marks = app_.FaceMarks();
    scene_revision_ = app_.revision();
    scene_view_ = face_.transform;
    SceneInput in;
    const Measured* m = app_.FaceMeasured();
    if (m != nullptr) {
      in.marks = &face_.marks;
      in.px_per_um = 1 / m->scale.mean_pitch_um();
      if (app_.hand().shown)
        in.hand = {m->scale.ToPx(app_.hand().place.inner), m->scale.ToPx(app_.hand().place.outer)};
    } else {
      in.px_per_um = 0;
    }
    in.show_marks = app_.marks_shown();
    in.chosen = app_.chosen();
    in.drawn = app_.draft().points;
    in.units = app_.units();
    const ImFont* font = theme_.fonts.small;
    face_.scene = BuildScene(
        in, face_.transform,
        [font](const std::string& text) {
          const ImVec2 size = font->CalcTextSizeA(font->FontSize, 1e9f, 0, text.c_str());
          return TextSize{size.x, size.y};
        },
        theme_.stroke);
  }

  void Go(const Sample* sample) {
    double turn = 0;
    if (sample != nullptr && sample->measured && app_.clock_up()) {
      const PointUm up = sample->measured->frame.Direction(0);
      turn = -std::numbers::pi / 2 - std::atan2(up.y, up.x);
    }
    face_.transform.TurnTo(turn);
    if (face_.transform.view().w <= 100) return;  // the first frame lays the window out
    const App::Goto go = app_.TakeGoto();
    // Until a hand moves it, a fitted face stays fitted, whatever the panels leave of the window.
    const bool untouched = fitted_ && face_.transform.zoom() == fitted_zoom_ &&
                           Distance(face_.transform.centre(), fitted_centre_) < 1e-9;
    if (go.fit) fit_box_ = go.box;
    if (go.fit || (untouched && !go.jump)) {
      face_.transform.Fit(fit_box_, sample != nullptr && sample->measured ? 0.12 : 0.04);
      fitted_ = true;
      fitted_zoom_ = face_.transform.zoom();
      fitted_centre_ = face_.transform.centre();
    } else if (go.jump) {
      const PointPx size = go.box.greatest - go.box.least;
      const PointPx middle = go.box.least + 0.5 * size;
      const double shown = std::max({size.x, size.y, 20.0}) * 6;
      face_.transform.CentreOn(
          middle, std::min(face_.transform.view().w, face_.transform.view().h) / shown);
    }
  }

  void PrepareCoins() {
    coin_textures_.of.clear();
    for (const TrayLine& line : app_.panels().tray) {
      const Sample* sample = app_.FindSample(line.id);
      if (sample == nullptr || sample->thumbnail.empty()) continue;
      Coin& coin = coins_[line.id];
      if (coin.of != sample->thumbnail.data) {
        if (coin.texture != 0) screen_.Destroy(coin.texture);
        std::vector<std::uint32_t> rgba;
        for (int y = 0; y < sample->thumbnail.rows; ++y) {
          for (int x = 0; x < sample->thumbnail.cols; ++x) {
            const std::uint32_t v = sample->thumbnail.ptr<std::uint8_t>(y)[x];
            rgba.push_back(0xff000000u | v << 16 | v << 8 | v);
          }
        }
        coin = {screen_.Create(sample->thumbnail.cols, sample->thumbnail.rows, rgba.data()),
                sample->thumbnail.data};
      }
      // NOLINTNEXTLINE(performance-no-int-to-ptr): ImGui wants a texture's number as a pointer
      coin_textures_.of.emplace_back(line.id, reinterpret_cast<ImTextureID>(coin.texture));
    }
    std::erase_if(coins_, [&](const auto& entry) {
      if (app_.FindSample(entry.first) != nullptr) return false;
      screen_.Destroy(entry.second.texture);
      return true;
    });
  }

  void SavePicture(const Ui&) {
    const std::string path = call_.window_file.empty() ? "cutface-window.png" : call_.window_file;
    auto png = EncodePng(screen_.Picture());
    if (png) {
      if (auto status = WriteWhole(path, *png); !status)
        std::cerr << "cutface-gui: " << status.error().message << "\n";
    }
  }

  void NotePlaces(const Ui& ui) {
    std::string text;
    const ImGuiIO& io = ImGui::GetIO();
    for (const Ui::Place& p : ui.places) {
      if (p.x < io.DisplaySize.x && p.y < io.DisplaySize.y && p.y >= 0)
        text += fmt::format("{}\t{:.0f}\t{:.0f}\t{:.0f}\t{:.0f}\n", p.name, p.x, p.y, p.w, p.h);
    }
    const Background::State job = app_.job();
    text += fmt::format("busy\t{}\nnotice\t{}\nverdict word\t{}\n", job.busy ? 1 : 0, app_.notice(),
                        app_.panels().head.verdict);
    for (const std::string& signature : app_.panels().head.signatures)
      text += "signed\t" + signature + "\n";
    const CanvasTransform& view = face_.transform;
    const ScreenPoint origin = view.ToScreen({0, 0});
    text += fmt::format("view\t{}\t{}\t{}\t{}\n", origin.x, origin.y, view.zoom(), view.turn());
    if (text == noted_) return;
    noted_ = text;
    if (auto status = WriteWhole(call_.places, text); !status)
      std::cerr << "cutface-gui: " << status.error().message << "\n";
  }

  Screen& screen_;
  const Call& call_;
  std::string settings_path_;
  App app_;
  TileCache tiles_;
  Theme theme_;
  FaceView face_;
  Drafts drafts_;
  struct Coin {
    TextureStore::Id texture = 0;
    const void* of = nullptr;
  };
  std::map<int, Coin> coins_;
  CoinTextures coin_textures_;
  bool tiles_complete_ = true;
  std::uint64_t scene_revision_ = 0, shown_ = 0;
  CanvasTransform scene_view_;
  bool fitted_ = false;
  Box<FramePx> fit_box_;
  double fitted_zoom_ = 0;
  PointPx fitted_centre_;
  std::string noted_;
  int settle_ = 3;
  double x_ = 0, y_ = 0;
  int w_ = 0, h_ = 0;
};

// The words of `cutface measure`, where they make sense for a window. An exit status when there is
// nothing more to do.
std::optional<int> Parse(int count, char** words, Call& call) {
  CLI::App cli(
      "The inspector's window of cutface: opens pictures of cut faces, measures, judges, "
      "and saves results as `cutface measure` does.");
  cli.set_version_flag("--version", std::string("cutface-gui ") + CUTFACE_VERSION);
  Order& o = call.order;
  cli.add_option("files", call.paths, "pictures, results, drawings, calibration records");
  cli.add_option("--design", o.design, "drawing");
  cli.add_option("--section", o.section, "section of the drawing");
  cli.add_option("--calibration", o.calibration, "record, or folder of records");
  cli.add_option("--out", o.out, "folder for results");
  cli.add_option("--inspector", o.inspector, "who measures");
  cli.add_option("--serial", o.sample.serial, "serial number of the part");
  cli.add_option("--lot", o.sample.lot, "lot");
  cli.add_option("--block", o.sample.block, "potting block");
  cli.add_option("--face", o.sample.face, "face: proximal or distal");
  cli.add_option("--taken", o.sample.taken, "when the picture was taken, ISO 8601");
  cli.add_option("--width", call.width, "of the window")->check(CLI::Range(640, 10000));
  cli.add_option("--height", call.height, "of the window")->check(CLI::Range(480, 10000));
  cli.add_option("--window-picture", call.window_file, "file of the picture that Ctrl P makes");
  cli.add_option("--places", call.places, "file that says where each control lies, for tests");
  cli.add_flag("--forget", call.forget, "start without what was remembered, and remember nothing");
  cli.add_flag("--frame-times", call.times, "say on standard error how long each frame took");
  try {
    cli.parse(count, words);
  } catch (const CLI::ParseError& error) {
    return cli.exit(error) == 0 ? 0 : 2;
  }
  return std::nullopt;
}

int Main(int count, char** words) {
  Call call;
  if (const auto status = Parse(count, words, call)) return *status;
  ImGui::CreateContext();
  ImGui::GetIO().IniFilename = nullptr;
  int status = 0;
  {
    auto screen = Screen::Open(call.width, call.height);
    if (screen) {
      Program(**screen, call).Run();
    } else {
      std::cerr << "cutface-gui: " << screen.error().message << "\n";
      status = 2;
    }
  }
  ImGui::DestroyContext();
  return status;
}

}  // namespace
}  // namespace cutface::window

// What nobody expected ends the program on the spot; work that was not saved is kept all along.
// NOLINTNEXTLINE(bugprone-exception-escape)
int main(int count, char** words) { return cutface::window::Main(count, words); }
