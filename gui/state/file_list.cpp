#include "gui/state/file_list.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>
#include <system_error>

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

std::string Lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

std::string SizeText(std::uintmax_t bytes) {
  if (bytes < 1024) return fmt::format("{} B", bytes);
  if (bytes < 1024 * 1024) return fmt::format("{} KB", bytes / 1024);
  return fmt::format("{:.1f} MB", static_cast<double>(bytes) / (1024.0 * 1024.0));
}

}  // namespace

FileKind KindOf(const std::string& path) {
  const std::string name = Lower(fs::path(path).filename().string());
  if (name.ends_with(".result.json")) return FileKind::kResult;
  if (name == "run.json") return FileKind::kRun;
  if (name.ends_with(".design.json")) return FileKind::kDesign;
  if (name.ends_with(".calibration.json")) return FileKind::kCalibration;
  static constexpr std::array<std::string_view, 6> kPictures = {".png", ".jpg",  ".jpeg",
                                                                ".tif", ".tiff", ".bmp"};
  for (const std::string_view end : kPictures) {
    if (name.ends_with(end)) return FileKind::kPicture;
  }
  return FileKind::kFolder;
}

FileList ListFolder(const std::string& folder) {
  FileList list;
  std::error_code error;
  const fs::path base = fs::absolute(folder.empty() ? "." : folder, error).lexically_normal();
  list.folder = base.string();
  fs::directory_iterator it(base, fs::directory_options::skip_permission_denied, error);
  if (error) {
    list.trouble = list.folder + ": " + error.message();
    return list;
  }
  for (; it != fs::directory_iterator(); it.increment(error)) {
    if (error) break;
    FileEntry entry;
    entry.name = it->path().filename().string();
    if (entry.name.empty() || entry.name.front() == '.') continue;
    entry.path = it->path().string();
    std::error_code ignored;
    const bool is_folder = it->is_directory(ignored);
    entry.kind = is_folder ? FileKind::kFolder : KindOf(entry.path);
    if (!is_folder && entry.kind == FileKind::kFolder) continue;
    if (!is_folder) entry.note = SizeText(it->file_size(ignored));
    list.entries.push_back(std::move(entry));
  }
  std::sort(list.entries.begin(), list.entries.end(), [](const FileEntry& a, const FileEntry& b) {
    const bool fa = a.kind == FileKind::kFolder, fb = b.kind == FileKind::kFolder;
    return fa != fb ? fa : Lower(a.name) < Lower(b.name);
  });
  return list;
}

std::string ParentOf(const std::string& folder) {
  return fs::path(folder).lexically_normal().parent_path().string();
}

}  // namespace cutface::window
