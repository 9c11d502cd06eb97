#include "cutface/texts.h"

#include <fmt/format.h>

#include <algorithm>

#include "cutface/base.h"

namespace cutface {
namespace {

// Characters that change what stands around them, or are none (Unicode 15, 2.13 and 23.2, 23.7).
bool Hidden(char32_t c) {
  return c < 0x20 || (c >= 0x7f && c < 0xa0) || c == 0xad || c == 0x61c || c == 0x180e ||
         (c >= 0x200b && c <= 0x200f) || (c >= 0x2028 && c <= 0x202e) ||
         (c >= 0x2060 && c <= 0x206f) || (c >= 0xfdd0 && c <= 0xfdef) || c == 0xfeff ||
         (c & 0xfffe) == 0xfffe || (c >= 0xfff0 && c <= 0xfffb) || (c >= 0xe0000 && c <= 0xe007f);
}

}  // namespace

std::string PlainText(const std::string& text, std::size_t most) {
  std::string safe;
  std::size_t shown = 0;
  for (std::size_t i = 0; i < text.size();) {
    if (shown == most) return safe + "...";
    char32_t point = 0;
    const std::size_t n = Utf8Sequence(std::string_view(text).substr(i), point);
    if (n == 0) {
      safe += fmt::format("\\x{:02x}", static_cast<unsigned char>(text[i]));
    } else if (Hidden(point)) {
      safe += point < 0x100 ? fmt::format("\\x{:02x}", static_cast<unsigned>(point))
                            : fmt::format("\\u{:04x}", static_cast<unsigned>(point));
    } else {
      safe += text.substr(i, n);
    }
    i += std::max<std::size_t>(n, 1);
    ++shown;
  }
  return safe;
}

std::string HtmlEscaped(std::string_view text) {
  std::string safe;
  for (const char c : text) {
    switch (c) {
      case '&':
        safe += "&amp;";
        break;
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '"':
        safe += "&quot;";
        break;
      case '\'':
        safe += "&#39;";
        break;
      default:
        safe += c;
    }
  }
  return safe;
}

std::size_t TextWidth(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xc0) != 0x80; }));
}

std::string NumberRows(const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::size_t> width;
  for (const auto& row : rows) {
    width.resize(std::max(width.size(), row.size()), 0);
    for (std::size_t c = 0; c < row.size(); ++c) width[c] = std::max(width[c], TextWidth(row[c]));
  }
  std::string text;
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t c = 0; c < row.size(); ++c) {
      const std::string pad(width[c] - TextWidth(row[c]), ' ');
      line += "  " + (c == 0 ? row[c] + pad : pad + row[c]);
    }
    text += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
  }
  return text;
}

}  // namespace cutface
