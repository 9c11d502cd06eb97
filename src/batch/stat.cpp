#include "batch/stat.h"

#include <fmt/format.h>
#include <sys/stat.h>

#include <ctime>

#include "cutface/batch.h"

namespace cutface {
namespace {

constexpr long kUnsettledSeconds = 2;  // FAT keeps times to two seconds; others are finer

std::string Text(const struct stat& info) {
  return fmt::format("{}:{}.{:09}:{}.{:09}:{}", info.st_size, info.st_mtim.tv_sec,
                     info.st_mtim.tv_nsec, info.st_ctim.tv_sec, info.st_ctim.tv_nsec, info.st_ino);
}

}  // namespace

std::string FileStat(const std::string& path) {
  struct stat info {};
  return ::stat(path.c_str(), &info) == 0 ? Text(info) : "";
}

std::string SettledStatOf(const std::string& path) {
  struct stat info {};
  if (::stat(path.c_str(), &info) != 0) return "";
  // The time of change is set by this machine's own clock, whatever a camera writes.
  const long age = std::time(nullptr) - info.st_ctim.tv_sec;
  return age < kUnsettledSeconds ? "" : Text(info);
}

}  // namespace cutface
