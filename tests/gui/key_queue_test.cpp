// What a frame is told of the keyboard: key numbers and actions are GLFW's (its documentation, from
// memory: letters by ASCII, left Ctrl 341, Escape 256).
#include "gui/state/key_queue.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace cutface::window {
namespace {

constexpr int kCtrl = 341, kEscape = 256;

KeyEvent Press(int key, int mods = 0) { return {key, 0, KeyQueue::kPress, mods}; }
KeyEvent Release(int key, int mods = 0) { return {key, 0, KeyQueue::kRelease, mods}; }
KeyEvent Character(char c) { return {0, 0, 0, 0, static_cast<unsigned>(c)}; }

// "+65" a press, "-65" a release, "'a" a character.
std::string Frame(KeyQueue& queue, bool writing) {
  std::string text;
  for (const KeyEvent& e : queue.TakeFrame(writing)) {
    if (!text.empty()) text += " ";
    if (e.character != 0)
      text += std::string("'") + static_cast<char>(e.character);
    else
      text += (e.action == KeyQueue::kPress ? "+" : "-") + std::to_string(e.key);
  }
  return text;
}

// Ctrl A, then "hi" at once, all between two frames: the letters must come when Ctrl is up.
TEST(KeyQueue, TheLetterTypedRightAfterAShortcutIsNotLost) {
  KeyQueue queue;
  for (const KeyEvent& e : {Press(kCtrl), Press('A', KeyQueue::kControl),
                            Release('A', KeyQueue::kControl), Release(kCtrl), Press('H'),
                            Character('h'), Release('H'), Press('I'), Character('i'), Release('I')})
    queue.Add(e);
  EXPECT_EQ(Frame(queue, true), "+341 +65");
  EXPECT_EQ(Frame(queue, true), "-65 -341 'h -72 'i -73");
  EXPECT_TRUE(queue.empty());
}

// Outside of text a key acts: each press gets a frame of its own, and no press is swallowed.
TEST(KeyQueue, KeysThatActGetAFrameEach) {
  KeyQueue queue;
  for (const KeyEvent& e : {Press('J'), Character('j'), Release('J'), Press('J'), Character('j'),
                            Release('J'), Press(kEscape), Release(kEscape)})
    queue.Add(e);
  EXPECT_EQ(Frame(queue, false), "+74 'j");
  EXPECT_EQ(Frame(queue, false), "-74");
  EXPECT_EQ(Frame(queue, false), "+74 'j");
  EXPECT_EQ(Frame(queue, false), "-74 +256");
  EXPECT_EQ(Frame(queue, false), "-256");
}

TEST(KeyQueue, WhileWritingALetterIsNoShortcutButEscapeIs) {
  KeyQueue queue;
  for (const KeyEvent& e : {Press('M'), Character('m'), Press(kEscape), Release('M')}) queue.Add(e);
  queue.Add(Press('1'));
  EXPECT_EQ(Frame(queue, true), "'m +256");
  EXPECT_EQ(Frame(queue, true), "");  // the field is being left
  EXPECT_EQ(Frame(queue, true), "");
  EXPECT_EQ(Frame(queue, false), "-77 +49");  // and then 1 is a key again
}

}  // namespace
}  // namespace cutface::window
