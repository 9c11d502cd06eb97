// A folder as the file dialog shows it. Keywords: open, folder, filter.
#pragma once

#include <string>
#include <vector>

namespace cutface::window {

enum class FileKind { kFolder, kPicture, kDesign, kCalibration, kResult, kRun };
struct FileEntry {
  std::string name, path, note;  // note: "1.2 MB"
  FileKind kind = FileKind::kPicture;
};
struct FileList {
  std::string folder;
  std::vector<FileEntry> entries;  // folders first, then by name; what cannot be opened is left out
  std::string trouble;             // "" or why the folder cannot be read
};
FileList ListFolder(const std::string& folder);
// By its name alone; kFolder stands for "cannot be opened".
FileKind KindOf(const std::string& path);
std::string ParentOf(const std::string& folder);

}  // namespace cutface::window
