// The pictures of a folder, and names for what is written about them.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <map>
#include <system_error>

#include "batch/table.h"
#include "cutface/batch.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

// Longest name of a file on the usual systems, and what stands behind a stem: the longest ending of
// an output file and the letters of a draft beside it (WriteWhole).
constexpr std::size_t kLongestName = 255;
constexpr std::size_t kEndings = sizeof(".result.json.draft-XXXXXX");
constexpr std::size_t kHashDigits = 12;

bool IsPictureName(const std::string& name) {
  constexpr std::array<std::string_view, 6> kEndingsOfPictures = {".png", ".jpg", ".jpeg",
                                                                  ".bmp", ".tif", ".tiff"};
  std::string small = name.substr(std::min(name.rfind('.'), name.size()));
  for (char& c : small) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return std::find(kEndingsOfPictures.begin(), kEndingsOfPictures.end(), small) !=
         kEndingsOfPictures.end();
}

// Control characters, the marks that turn the direction of a line, and bytes that are no text.
bool Steers(std::string_view name) {
  if (!IsUtf8(name)) return true;
  for (std::size_t i = 0; i < name.size(); ++i) {
    const auto c = static_cast<unsigned char>(name[i]);
    if (c < 0x20 || c == 0x7f) return true;
    const std::string_view three = name.substr(i, 3), two = name.substr(i, 2);
    if (two.size() == 2 && c == 0xc2 && static_cast<unsigned char>(two[1]) < 0xa0) return true;
    // U+200E, U+200F, U+2028 to U+202E, U+2066 to U+2069.
    if (three == "\xe2\x80\x8e" || three == "\xe2\x80\x8f" ||
        (three >= "\xe2\x80\xa8" && three <= "\xe2\x80\xae") ||
        (three >= "\xe2\x81\xa6" && three <= "\xe2\x81\xa9"))
      return true;
  }
  return false;
}

std::string Harmless(std::string_view name) {
  std::string out;
  for (std::size_t i = 0; i < name.size(); ++i) {
    const auto c = static_cast<unsigned char>(name[i]);
    // Of what steers, what is beyond ASCII may stand anywhere in a name: keep ASCII only.
    out += c < 0x20 || c >= 0x7f ? '_' : name[i];
  }
  return out;
}

// One part of a path as a name that may be written, with room for `behind` bytes.
std::string SafeName(const std::string& name, std::size_t behind) {
  const bool steers = Steers(name);
  const std::size_t most = kLongestName - behind;
  if (!steers && name.size() <= most) return name;
  const std::string hash = "~" + Sha256Hex(name).substr(0, kHashDigits);
  std::string kept = steers ? Harmless(name) : name;
  std::size_t length = std::min(kept.size(), most - hash.size());
  while (length > 0 && length < kept.size() && (kept[length] & 0xc0) == 0x80) --length;
  return kept.substr(0, length) + hash;
}

std::string SafePath(const std::string& path) {
  const std::size_t slash = path.rfind('/');
  std::string out;
  for (std::size_t at = 0; slash != std::string::npos && at <= slash;) {
    const std::size_t end = path.find('/', at);
    out += SafeName(path.substr(at, end - at), 0) + "/";
    at = end + 1;
  }
  return out + SafeName(path.substr(slash == std::string::npos ? 0 : slash + 1), kEndings);
}

std::string WithoutEnding(const std::string& image) {
  const std::size_t dot = image.rfind('.'), slash = image.rfind('/');
  const std::size_t first = slash == std::string::npos ? 0 : slash + 1;
  return dot == std::string::npos || dot <= first ? image : image.substr(0, dot);
}

// Case folded: some file systems do not tell "A.png" from "a.png".
std::string Folded(std::string text) {
  for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return text;
}

}  // namespace

Result<std::vector<std::string>> FindImages(const std::string& folder, bool recursive,
                                            const std::string& without) {
  std::error_code error;
  if (!fs::is_directory(folder, error)) {
    return Fail(
        Code::kFileMissing,
        fmt::format("{}: {}; name the folder of the pictures", folder,
                    fs::exists(folder, error) ? "is no folder" : "there is no such folder"));
  }
  const fs::path skipped = without.empty() ? fs::path() : fs::weakly_canonical(without, error);
  std::vector<std::string> images;
  // Folders still to be read, as paths from `folder` that end in '/'.
  std::vector<std::string> waiting = {""};
  while (!waiting.empty()) {
    const std::string within = waiting.back();
    waiting.pop_back();
    fs::directory_iterator it(fs::path(folder) / within, error), end;
    for (; !error && it != end; it.increment(error)) {
      const std::string name = it->path().filename().string();
      if (name.empty() || name.front() == '.') continue;
      std::error_code ignored;
      if (it->is_directory(ignored)) {
        const bool own = !skipped.empty() && fs::weakly_canonical(it->path(), ignored) == skipped;
        if (recursive && !own && !it->is_symlink(ignored)) waiting.push_back(within + name + "/");
      } else if (IsPictureName(name)) {
        images.push_back(within + name);
      }
    }
    if (error) {
      return Fail(Code::kFileUnreadable,
                  fmt::format("{}/{}: {}; check the rights", folder, within, error.message()));
    }
  }
  std::sort(images.begin(), images.end());
  return images;
}

std::vector<std::string> OutputStems(std::span<const std::string> images) {
  std::map<std::string, int> taken;
  for (const std::string& image : images) ++taken[Folded(SafePath(WithoutEnding(image)))];
  std::vector<std::string> stems;
  for (const std::string& image : images) {
    const std::string stem = SafePath(WithoutEnding(image));
    if (taken[Folded(stem)] == 1) {
      stems.push_back(stem);
      continue;
    }
    // Same name but for the ending, or but for large letters.
    std::string whole = SafePath(image);
    if (!taken.contains(Folded(whole))) {
      ++taken[Folded(whole)];
      stems.push_back(whole);
    } else {
      stems.push_back(SafePath(image.substr(0, image.rfind('/') + 1) +
                               Sha256Hex(image).substr(0, 2 * kHashDigits)));
    }
  }
  return stems;
}

}  // namespace cutface
