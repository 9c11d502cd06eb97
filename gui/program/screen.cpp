#include "program/screen.h"

#include <backends/imgui_impl_glfw.h>
#include <backends/imgui_impl_opengl3.h>
#include <imgui.h>
// After ImGui: brings the system's OpenGL 1.1 header.
#include <GLFW/glfw3.h>

#include <opencv2/core.hpp>
#include <utility>

namespace cutface::window {
namespace {

constexpr int kClampToEdge = 0x812F;  // GL 1.2, not in every header

// OpenGL 1.1 by name: nothing is linked, so that a machine without it gets a sentence, not a
// loader's message.
struct Gl {
  void (*gen)(GLsizei, GLuint*) = nullptr;
  void (*remove)(GLsizei, const GLuint*) = nullptr;
  void (*bind)(GLenum, GLuint) = nullptr;
  void (*parameter)(GLenum, GLenum, GLint) = nullptr;
  void (*image)(GLenum, GLint, GLint, GLsizei, GLsizei, GLint, GLenum, GLenum,
                const void*) = nullptr;
  void (*store)(GLenum, GLint) = nullptr;
  void (*read)(GLint, GLint, GLsizei, GLsizei, GLenum, GLenum, void*) = nullptr;
  void (*viewport)(GLint, GLint, GLsizei, GLsizei) = nullptr;
  void (*colour)(GLfloat, GLfloat, GLfloat, GLfloat) = nullptr;
  void (*clear)(GLbitfield) = nullptr;
};

template <class Function>
void Load(Function& function, const char* name) {
  function = reinterpret_cast<Function>(glfwGetProcAddress(name));
}

const Gl& Calls() {
  static const Gl calls = [] {  // one context a program: loaded once it is current
    Gl gl;
    Load(gl.gen, "glGenTextures");
    Load(gl.remove, "glDeleteTextures");
    Load(gl.bind, "glBindTexture");
    Load(gl.parameter, "glTexParameteri");
    Load(gl.image, "glTexImage2D");
    Load(gl.store, "glPixelStorei");
    Load(gl.read, "glReadPixels");
    Load(gl.viewport, "glViewport");
    Load(gl.colour, "glClearColor");
    Load(gl.clear, "glClear");
    return gl;
  }();
  return calls;
}

std::string WindowTrouble() {
  const char* why = nullptr;
  glfwGetError(&why);
  return std::string("no window can be opened") + (why != nullptr ? std::string(": ") + why : "") +
         "; cutface-gui needs a display with OpenGL 3.0 (software rendering by Mesa will do). "
         "Without one, `cutface measure` gives the same results";
}

void OnDrop(GLFWwindow* window, int count, const char** paths) {
  auto* screen = static_cast<Screen*>(glfwGetWindowUserPointer(window));
  for (int i = 0; i < count; ++i) screen->dropped.emplace_back(paths[i]);
}

void OnKey(GLFWwindow* window, int key, int code, int action, int mods) {
  static_cast<Screen*>(glfwGetWindowUserPointer(window))->keys.Add({key, code, action, mods});
}

void OnButton(GLFWwindow* window, int button, int action, int mods) {
  static_cast<Screen*>(glfwGetWindowUserPointer(window))->heard = true;
  ImGui_ImplGlfw_MouseButtonCallback(window, button, action, mods);
}
void OnWheel(GLFWwindow* window, double x, double y) {
  static_cast<Screen*>(glfwGetWindowUserPointer(window))->heard = true;
  ImGui_ImplGlfw_ScrollCallback(window, x, y);
}
void OnCharacter(GLFWwindow* window, unsigned character) {
  auto* screen = static_cast<Screen*>(glfwGetWindowUserPointer(window));
  screen->heard = true;
  screen->keys.Add({0, 0, 0, 0, character});
}
void OnRefresh(GLFWwindow* window) {
  static_cast<Screen*>(glfwGetWindowUserPointer(window))->heard = true;
}

}  // namespace

Result<std::unique_ptr<Screen>> Screen::Open(int width, int height) {
  if (glfwInit() != GLFW_TRUE) return Fail(Code::kUsage, WindowTrouble());
  std::unique_ptr<Screen> screen(new Screen());
  glfwWindowHint(GLFW_CONTEXT_VERSION_MAJOR, 3);
  glfwWindowHint(GLFW_CONTEXT_VERSION_MINOR, 0);
  glfwWindowHint(GLFW_SCALE_TO_MONITOR, GLFW_TRUE);
  screen->window_ = glfwCreateWindow(width, height, "cutface", nullptr, nullptr);
  if (screen->window_ == nullptr) return Fail(Code::kUsage, WindowTrouble());
  glfwMakeContextCurrent(screen->window_);
  glfwSwapInterval(1);
  glfwSetWindowUserPointer(screen->window_, screen.get());
  glfwSetDropCallback(screen->window_, OnDrop);
  ImGui_ImplGlfw_InitForOpenGL(screen->window_, true);
  ImGui_ImplOpenGL3_Init("#version 130");
  glfwSetKeyCallback(screen->window_, OnKey);
  glfwSetMouseButtonCallback(screen->window_, OnButton);
  glfwSetScrollCallback(screen->window_, OnWheel);
  glfwSetCharCallback(screen->window_, OnCharacter);
  glfwSetWindowRefreshCallback(screen->window_, OnRefresh);
  screen->backends_ = true;
  return screen;
}

Screen::~Screen() {
  if (backends_) {
    ImGui_ImplOpenGL3_Shutdown();
    ImGui_ImplGlfw_Shutdown();
  }
  if (window_ != nullptr) glfwDestroyWindow(window_);
  glfwTerminate();
}

TextureStore::Id Screen::Create(int width, int height, const std::uint32_t* rgba) {
  const Gl& gl = Calls();
  GLuint id = 0;
  gl.gen(1, &id);
  gl.bind(GL_TEXTURE_2D, id);
  gl.parameter(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_LINEAR);
  // Enlarged pixels stay pixels: what the edge was told from can be seen.
  gl.parameter(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_NEAREST);
  gl.parameter(GL_TEXTURE_2D, GL_TEXTURE_WRAP_S, kClampToEdge);
  gl.parameter(GL_TEXTURE_2D, GL_TEXTURE_WRAP_T, kClampToEdge);
  gl.store(GL_UNPACK_ALIGNMENT, 4);
  gl.image(GL_TEXTURE_2D, 0, GL_RGBA, width, height, 0, GL_RGBA, GL_UNSIGNED_BYTE, rgba);
  return id;
}

void Screen::Destroy(Id id) {
  const auto name = static_cast<GLuint>(id);
  Calls().remove(1, &name);
}

float Screen::content_scale() const {
  float x = 1, y = 1;
  glfwGetWindowContentScale(window_, &x, &y);
  return x;
}

bool Screen::closing() const { return glfwWindowShouldClose(window_) == GLFW_TRUE; }

void Screen::Poll(double seconds) {
  if (seconds > 0)
    glfwWaitEventsTimeout(seconds);
  else
    glfwPollEvents();
}

void Screen::BeginFrame() {
  for (const KeyEvent& e : keys.TakeFrame(ImGui::GetIO().WantTextInput)) {
    if (e.character != 0)
      ImGui_ImplGlfw_CharCallback(window_, e.character);
    else
      ImGui_ImplGlfw_KeyCallback(window_, e.key, e.code, e.action, e.mods);
  }
  ImGui_ImplOpenGL3_NewFrame();
  ImGui_ImplGlfw_NewFrame();
  ImGui::NewFrame();
}

void Screen::EndFrame(unsigned ground) {
  int width = 0, height = 0;
  glfwGetFramebufferSize(window_, &width, &height);
  const Gl& gl = Calls();
  gl.viewport(0, 0, width, height);
  const auto share = [&](int shift) { return static_cast<float>((ground >> shift) & 0xff) / 255; };
  gl.colour(share(0), share(8), share(16), 1);
  gl.clear(GL_COLOR_BUFFER_BIT);
  ImGui::Render();
  ImGui_ImplOpenGL3_RenderDrawData(ImGui::GetDrawData());
}

void Screen::FontsChanged() {
  ImGui_ImplOpenGL3_DestroyFontsTexture();
  ImGui_ImplOpenGL3_CreateFontsTexture();
}

std::vector<std::string> Screen::TakeDropped() { return std::exchange(dropped, {}); }

cv::Mat Screen::Picture() const {
  int width = 0, height = 0;
  glfwGetFramebufferSize(window_, &width, &height);
  cv::Mat upside(height, width, CV_8UC3), picture;
  Calls().store(GL_PACK_ALIGNMENT, 1);
  Calls().read(0, 0, width, height, GL_RGB, GL_UNSIGNED_BYTE, upside.data);
  cv::flip(upside, picture, 0);
  return picture;
}

void Screen::Wake() { glfwPostEmptyEvent(); }

}  // namespace cutface::window
