#include "gui/state/key_queue.h"

#include <set>

namespace cutface::window {
namespace {

// The numbers of GLFW 3: printable keys, then the others, modifiers last.
constexpr int kFramesToEndWriting = 2;  // Dear ImGui says a frame later that it wants no text
constexpr int kFirstPrintable = 32, kFirstOther = 256, kFirstModifier = 340;

}  // namespace

std::vector<KeyEvent> KeyQueue::TakeFrame(bool writing) {
  std::vector<KeyEvent> out;
  if (hold_ > 0) {
    --hold_;
    return out;
  }
  std::set<int> changed;
  bool pressed = false;
  while (!waiting_.empty()) {
    const KeyEvent event = waiting_.front();
    if (event.character != 0) {
      waiting_.pop_front();
      out.push_back(event);
      continue;
    }
    if (pressed) break;
    const bool printable = event.key >= kFirstPrintable && event.key < kFirstOther;
    const bool acts = !(writing && printable && (event.mods & kControl) == 0);
    if (acts && !changed.insert(event.key).second) break;
    waiting_.pop_front();
    if (!acts && event.action != kRelease) continue;
    out.push_back(event);
    pressed = acts && event.action == kPress && event.key < kFirstModifier;
    if (pressed && writing && !printable) hold_ = kFramesToEndWriting;
  }
  return out;
}

}  // namespace cutface::window
