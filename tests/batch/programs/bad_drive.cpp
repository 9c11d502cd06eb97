// Loaded before a program (LD_PRELOAD): its reads from files whose path ends in $BAD_DRIVE_PATH
// behave as on a network drive that stalls, until the file $BAD_DRIVE_BACK exists, or as on one
// that went away when $BAD_DRIVE_GONE is set.
#include <dlfcn.h>
#include <sys/types.h>
#include <unistd.h>

#include <cerrno>
#include <climits>
#include <cstdlib>
#include <string>

namespace {

std::string Set(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? "" : value;
}

bool IsOnDrive(int fd) {
  static const std::string ending = Set("BAD_DRIVE_PATH");
  char path[PATH_MAX];
  const ssize_t size =
      ::readlink(("/proc/self/fd/" + std::to_string(fd)).c_str(), path, sizeof path);
  return !ending.empty() && size > 0 &&
         std::string(path, static_cast<std::size_t>(size)).ends_with(ending);
}

}  // namespace

extern "C" ssize_t read(int fd, void* to, std::size_t size) {
  using Read = ssize_t (*)(int, void*, std::size_t);
  static const Read real = reinterpret_cast<Read>(::dlsym(RTLD_NEXT, "read"));
  if (IsOnDrive(fd)) {
    if (!Set("BAD_DRIVE_GONE").empty()) {
      errno = EIO;
      return -1;
    }
    while (::access(Set("BAD_DRIVE_BACK").c_str(), F_OK) != 0) ::usleep(20'000);
  }
  return real(fd, to, size);
}
