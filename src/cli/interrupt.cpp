#include "cli/interrupt.h"

#include <poll.h>
#include <sys/signalfd.h>
#include <unistd.h>

namespace cutface {

Interrupt::Interrupt() {
  sigset_t ours;
  sigemptyset(&ours);
  sigaddset(&ours, SIGINT);
  sigaddset(&ours, SIGTERM);
  pthread_sigmask(SIG_BLOCK, &ours, &before_);
  fd_ = ::signalfd(-1, &ours, SFD_CLOEXEC | SFD_NONBLOCK);
}

Interrupt::~Interrupt() {
  if (fd_ >= 0) ::close(fd_);
  pthread_sigmask(SIG_SETMASK, &before_, nullptr);
}

bool Interrupt::Asked() { return WaitFor(0); }

bool Interrupt::WaitFor(int milliseconds) {
  if (asked_) return true;
  pollfd one{fd_, POLLIN, 0};
  if (::poll(&one, 1, milliseconds) <= 0) return false;
  signalfd_siginfo info;
  if (::read(fd_, &info, sizeof info) != sizeof info) return false;
  asked_ = true;
  pthread_sigmask(SIG_SETMASK, &before_, nullptr);
  return true;
}

}  // namespace cutface
