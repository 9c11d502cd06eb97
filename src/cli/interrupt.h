// Ctrl-C and a polite end asked for by the system, noticed between two steps of work.
#pragma once

#include <csignal>

namespace cutface {

// While it lives, the first SIGINT or SIGTERM is kept for Asked(); after that one, the next ends
// the program as usual. Threads begun while it lives are left alone by both.
class Interrupt {
 public:
  Interrupt();
  ~Interrupt();
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;

  bool Asked();
  // Waits so long, or until it is asked; returns Asked().
  bool WaitFor(int milliseconds);

 private:
  sigset_t before_;
  int fd_ = -1;
  bool asked_ = false;
};

}  // namespace cutface
