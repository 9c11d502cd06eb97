// Passphrases never stand on the command line, where every user of the machine could read them.
#include <fcntl.h>
#include <fmt/format.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "cli/records.h"

namespace cutface {
namespace {

constexpr std::size_t kLongest = 4096;

// The first line of a descriptor, byte by byte: what follows it belongs to somebody else.
Result<std::string> FirstLine(int fd, const std::string& name) {
  std::string line;
  line.reserve(kLongest);  // a string that grows leaves copies behind
  char c = 0;
  for (;;) {
    const ssize_t got = ::read(fd, &c, 1);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0)
      return Fail(Code::kFileUnreadable,
                  fmt::format("{}: the passphrase cannot be read: {}", name, std::strerror(errno)));
    if (got == 0 || c == '\n') break;
    if (line.size() == kLongest) return Fail(Code::kUsage, name + ": is too long for a passphrase");
    line += c;
  }
  if (!line.empty() && line.back() == '\r') line.pop_back();
  if (line.empty()) return Fail(Code::kUsage, name + ": holds no passphrase");
  return line;
}

struct OpenFile {
  int fd = -1;
  ~OpenFile() {
    if (fd >= 0) ::close(fd);
  }
};

// Echo is off as long as it lives.
class Silent {
 public:
  explicit Silent(int fd) : fd_(fd) {
    if (::tcgetattr(fd, &before_) != 0) return;
    termios quiet = before_;
    quiet.c_lflag &= ~static_cast<tcflag_t>(ECHO);
    quiet.c_lflag |= static_cast<tcflag_t>(ECHONL);
    off_ = ::tcsetattr(fd, TCSAFLUSH, &quiet) == 0;
  }
  ~Silent() {
    if (off_) ::tcsetattr(fd_, TCSAFLUSH, &before_);
  }
  Silent(const Silent&) = delete;
  Silent& operator=(const Silent&) = delete;
  bool off() const { return off_; }

 private:
  int fd_;
  termios before_{};
  bool off_ = false;
};

Result<std::string> Ask(int fd, const std::string& prompt) {
  const std::string text = prompt + ": ";
  if (::write(fd, text.data(), text.size()) < 0)
    return Fail(Code::kUsage, "the terminal cannot be written");
  const Silent silent(fd);
  if (!silent.off())
    return Fail(Code::kUsage, "the terminal would show the passphrase; use --passphrase-file");
  return FirstLine(fd, "terminal");
}

}  // namespace

Result<Passphrase> ReadPassphrase(const PassphraseSource& source) {
  const auto made = [](Result<std::string> line) -> Result<Passphrase> {
    if (!line) return tl::unexpected(line.error());
    return Passphrase(std::move(*line));
  };
  if (!source.file.empty()) {
    const OpenFile file{::open(source.file.c_str(), O_RDONLY | O_CLOEXEC)};
    if (file.fd < 0)
      return Fail(errno == ENOENT ? Code::kFileMissing : Code::kFileUnreadable,
                  fmt::format("{}: {}", source.file, std::strerror(errno)));
    return made(FirstLine(file.fd, source.file));
  }
  if (source.fd >= 0) return made(FirstLine(source.fd, fmt::format("descriptor {}", source.fd)));
  const OpenFile terminal{::open("/dev/tty", O_RDWR | O_CLOEXEC)};
  if (terminal.fd < 0)
    return Fail(Code::kUsage,
                "there is no terminal to ask for a passphrase; use --passphrase-file or "
                "--passphrase-fd (for a new one --new-passphrase-file)");
  auto first = Ask(terminal.fd, source.prompt);
  if (!first || !source.fresh) return made(std::move(first));
  auto second = Ask(terminal.fd, source.prompt + ", again");
  if (!second) return made(std::move(second));
  const Passphrase check(std::move(*second));
  if (check.text() != *first)
    return Fail(Code::kUsage, "the two passphrases differ; nothing was changed");
  return made(std::move(first));
}

}  // namespace cutface
