#include "cutface/base.h"

namespace cutface {

std::size_t Utf8Sequence(std::string_view text, char32_t& point) {
  if (text.empty()) return 0;
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char first = byte(0);
  const std::size_t n = first < 0x80                     ? 1
                        : first >= 0xc2 && first <= 0xdf ? 2
                        : (first & 0xf0) == 0xe0         ? 3
                        : first >= 0xf0 && first <= 0xf4 ? 4
                                                         : 0;
  if (n == 0 || n > text.size()) return 0;
  point = n == 1 ? first : first & (0x7f >> n);
  for (std::size_t i = 1; i < n; ++i) {
    if ((byte(i) & 0xc0) != 0x80) return 0;
    point = (point << 6) | (byte(i) & 0x3f);
  }
  const bool overlong = (n == 3 && point < 0x800) || (n == 4 && point < 0x10000);
  return overlong || point > 0x10ffff || (point >= 0xd800 && point < 0xe000) ? 0 : n;
}

bool IsUtf8(std::string_view text) {
  char32_t point = 0;
  while (!text.empty()) {
    const std::size_t n = Utf8Sequence(text, point);
    if (n == 0) return false;
    text.remove_prefix(n);
  }
  return true;
}

}  // namespace cutface
