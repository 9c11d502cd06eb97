#include "cli/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <ostream>

namespace cutface {
namespace {

// Characters as a terminal counts them, near enough for names: code points.
std::size_t Width(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xc0) != 0x80; }));
}

}  // namespace

std::string Escaped(std::string_view text) {
  std::string safe;
  for (std::size_t i = 0; i < text.size();) {
    char32_t point = 0;
    const std::size_t n = Utf8Sequence(text.substr(i), point);
    // Line and direction marks (U+2028, U+202E ...) rearrange a line as control characters do.
    const bool control = point < 0x20 || (point >= 0x7f && point < 0xa0) ||
                         (point >= 0x2028 && point <= 0x202e) ||
                         (point >= 0x2066 && point <= 0x2069);
    if (n == 0 || control) {
      for (std::size_t k = 0; k < std::max<std::size_t>(n, 1); ++k) {
        safe += fmt::format("\\x{:02x}", static_cast<unsigned char>(text[i + k]));
      }
    } else {
      safe += text.substr(i, n);
    }
    i += std::max<std::size_t>(n, 1);
  }
  return safe;
}

namespace {

// Lower rooms name the file in their messages where they know it; the image is put in front only
// where it is not named yet.
std::string WithImage(const std::string& text, const std::string& image) {
  return image.empty() || text.find(image) != std::string::npos ? text : image + ": " + text;
}

}  // namespace

void PrintError(const Terminal& terminal, const Error& error, const std::string& image) {
  terminal.err << "cutface: " << Escaped(WithImage(error.message, image)) << "\n" << std::flush;
}

void PrintWarning(const Terminal& terminal, const std::string& text, const std::string& image) {
  terminal.err << "cutface: note: " << Escaped(WithImage(text, image)) << "\n" << std::flush;
}

ProgressLine::ProgressLine(const Terminal& terminal, const std::string& image, std::size_t no,
                           std::size_t of)
    : terminal_(terminal),
      head_(of > 1 ? fmt::format("[{}/{}] {}", no, of, Escaped(image)) : Escaped(image)) {}

ProgressLine::~ProgressLine() {
  if (!shown_.empty())
    terminal_.err << "\r" << std::string(Width(shown_), ' ') << "\r" << std::flush;
}

void ProgressLine::Show(double share, std::string_view what) {
  if (!terminal_.err_is_terminal) return;
  std::string line = fmt::format("{}: {} {:.0f} %", head_, what, 100 * std::clamp(share, 0.0, 1.0));
  if (line == shown_) return;
  const std::size_t before = Width(shown_), now = Width(line);
  terminal_.err << "\r" << line << std::string(before > now ? before - now : 0, ' ') << std::flush;
  shown_ = std::move(line);
}

std::string Columns(const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()));
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], Width(row[i]));
  }
  std::string text;
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t i = 0; i < row.size(); ++i) {
      line += row[i] + std::string(widths[i] - Width(row[i]) + 2, ' ');
    }
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  }
  return text;
}

}  // namespace cutface
