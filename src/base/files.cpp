// Whole-or-nothing files.
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "cutface/base.h"

namespace cutface {
namespace {

// Closes on every way out; a descriptor that leaked would keep a batch from finishing.
struct Descriptor {
  int fd = -1;
  ~Descriptor() {
    if (fd >= 0) ::close(fd);
  }
};

Status ReadInto(const std::string& path, std::uint64_t limit_bytes, std::vector<std::byte>& out) {
  // Not to wait: opening a pipe that nobody writes to would never come back.
  Descriptor file{::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)};
  if (file.fd < 0) {
    const Code code =
        errno == ENOENT || errno == ENOTDIR ? Code::kFileMissing : Code::kFileUnreadable;
    return Fail(code,
                fmt::format("{}: {}; check the path and the rights", path, std::strerror(errno)));
  }
  struct stat info {};
  if (::fstat(file.fd, &info) != 0) {
    return Fail(Code::kFileUnreadable, fmt::format("{}: {}", path, std::strerror(errno)));
  }
  if (S_ISDIR(info.st_mode)) {
    return Fail(Code::kFileMissing, fmt::format("{}: is a folder; name a file", path));
  }
  if (!S_ISREG(info.st_mode)) {
    return Fail(Code::kFileUnreadable,
                fmt::format("{}: is a pipe or a device; save it as a file first", path));
  }
  const auto size = static_cast<std::uint64_t>(std::max<off_t>(info.st_size, 0));
  if (size > limit_bytes) {
    return Fail(Code::kImageTooLarge,
                fmt::format("{}: {} bytes, more than the {} allowed", path, size, limit_bytes));
  }
  out.resize(size);
  std::size_t done = 0;
  while (done < out.size()) {
    const ssize_t got = ::read(file.fd, out.data() + done, out.size() - done);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) {
      return Fail(Code::kFileUnreadable, fmt::format("{}: {}", path, std::strerror(errno)));
    }
    if (got == 0) break;
    done += static_cast<std::size_t>(got);
  }
  out.resize(done);
  return {};
}

}  // namespace

Result<std::vector<std::byte>> ReadFile(const std::string& path, std::uint64_t limit_bytes) {
  std::vector<std::byte> bytes;
  if (auto status = ReadInto(path, limit_bytes, bytes); !status)
    return tl::unexpected(status.error());
  return bytes;
}

Result<std::string> ReadTextFile(const std::string& path, std::uint64_t limit_bytes) {
  auto bytes = ReadFile(path, limit_bytes);
  if (!bytes) return tl::unexpected(bytes.error());
  return std::string(reinterpret_cast<const char*>(bytes->data()), bytes->size());
}

Status WriteWhole(const std::string& path, std::span<const std::byte> bytes) {
  const auto fail = [&](int error) {
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: {}; nothing was written", path, std::strerror(error)));
  };
  std::string beside = path + ".draft-XXXXXX";
  Descriptor file{::mkostemp(beside.data(), O_CLOEXEC)};
  if (file.fd < 0) return fail(errno);
  std::size_t done = 0;
  int error = 0;
  while (done < bytes.size() && error == 0) {
    const ssize_t put = ::write(file.fd, bytes.data() + done, bytes.size() - done);
    if (put < 0 && errno == EINTR) continue;
    if (put < 0)
      error = errno;
    else
      done += static_cast<std::size_t>(put);
  }
  if (error == 0 && ::fchmod(file.fd, 0644) != 0) error = errno;
  if (error == 0 && ::fsync(file.fd) != 0) error = errno;
  if (error == 0 && ::rename(beside.c_str(), path.c_str()) != 0) error = errno;
  if (error != 0) {
    ::unlink(beside.c_str());
    return fail(error);
  }
  return {};
}

Status WriteWhole(const std::string& path, std::string_view text) {
  return WriteWhole(path, std::as_bytes(std::span(text.data(), text.size())));
}

}  // namespace cutface
