#include <fmt/format.h>

#include "report/internal.h"

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

std::string CsvText(const std::string& text) {
  const std::size_t first = text.find_first_not_of(" \t\r\n");
  const bool formula = (!text.empty() && (text[0] == '\t' || text[0] == '\r' || text[0] == '\n')) ||
                       (first != std::string::npos &&
                        std::string_view("=+-@|%").find(text[first]) != std::string::npos);
  std::string field = formula ? "'" + text : text;
  if (field.find_first_of(",\"\r\n;") == std::string::npos && field.find_first_of(" ") != 0)
    return field;
  std::string quoted = "\"";
  for (const char c : field) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

std::string JoinTexts(const std::vector<std::string>& parts, std::string_view separator) {
  std::string text;
  for (const std::string& part : parts) {
    if (!part.empty()) text += (text.empty() ? std::string() : std::string(separator)) + part;
  }
  return text;
}

std::string RecordText(const SheetFace& face) {
  return face.record == 0 ? "" : fmt::format("entry {}", face.record);
}

std::string Figure(const std::optional<double>& value, const SheetRow& row) {
  if (!value) return "";
  return row.count ? fmt::format("{:.6g}", *value) : FormatRowValue(*value, row.unit, false);
}

std::string UnitText(const SheetRow& row) { return row.unit == "1" ? "" : row.unit; }

std::string_view VerdictSign(Verdict verdict) {
  switch (verdict) {
    case Verdict::kConforms:
      return "\u2713";  // check mark
    case Verdict::kDoesNotConform:
      return "\u2717";  // ballot x
    case Verdict::kNotProven:
      return "?";
    case Verdict::kNotMeasured:
      return "\u2013";  // a dash
    case Verdict::kElsewhere:
      return "\u2192";  // an arrow
    case Verdict::kNotJudged:
      return "\u00b7";
  }
  return "";
}

}  // namespace cutface
