// Keys and characters between the window system and Dear ImGui, whose old version has no queue of
// its own: what goes down and up between two frames would be lost, and a letter typed while Ctrl is
// still being let go would be taken for a shortcut. Everything waits in one line, in the order in
// which it came. Keywords: keyboard, Ctrl, letter, shortcut, frame.
#pragma once

#include <deque>
#include <vector>

namespace cutface::window {

struct KeyEvent {
  int key = 0, code = 0, action = 0, mods = 0;  // as the window system numbers them
  unsigned character = 0;                       // not 0: a character, the rest says nothing
};

class KeyQueue {
 public:
  static constexpr int kRelease = 0, kPress = 1;  // actions
  static constexpr int kControl = 2;              // of `mods`

  void Add(const KeyEvent& event) { waiting_.push_back(event); }
  bool empty() const { return waiting_.empty(); }

  // What the next frame is told. Every key changes at most once a frame. A key that goes down (no
  // modifier) ends the frame's share, after the characters that came with it: a modifier let go
  // right behind it must still count. `writing`: a field takes text; then letters come as
  // characters, and their keys, but for shortcuts with Ctrl, say nothing. A key that may end the
  // writing (Escape, Enter, Tab) is given time to do so: what was typed right behind it waits.
  std::vector<KeyEvent> TakeFrame(bool writing);

 private:
  std::deque<KeyEvent> waiting_;
  int hold_ = 0;  // frames that are told nothing
};

}  // namespace cutface::window
