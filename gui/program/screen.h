// The window system and OpenGL behind a few words; everything else of the window knows neither.
// Keywords: GLFW, OpenGL, texture, screenshot.
#pragma once

#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "gui/state/key_queue.h"
#include "gui/state/tiles.h"

struct GLFWwindow;

namespace cutface::window {

class Screen final : public TextureStore {
 public:
  // Errors: kUsage where there is no display or no OpenGL 3, in words for a person.
  static Result<std::unique_ptr<Screen>> Open(int width, int height);
  ~Screen() override;

  Id Create(int width, int height, const std::uint32_t* rgba) override;
  void Destroy(Id id) override;

  GLFWwindow* window() const { return window_; }
  float content_scale() const;
  bool closing() const;
  // Waits for an event (at most `seconds`; 0: does not wait), then begins a frame.
  void Poll(double seconds);
  void BeginFrame();
  void EndFrame(unsigned ground);
  bool HasKeys() const { return !keys.empty(); }
  void FontsChanged();
  std::vector<std::string> TakeDropped();
  // Of the frame drawn last, before it is shown: CV_8UC3, RGB.
  cv::Mat Picture() const;
  static void Wake();  // from any thread

  std::vector<std::string> dropped;  // by the window system
  bool heard = false;                // button, wheel, character: a frame is due
  KeyQueue keys;                     // not given to ImGui yet

 private:
  Screen() = default;
  GLFWwindow* window_ = nullptr;
  bool backends_ = false;
};

}  // namespace cutface::window
