#include <fmt/format.h>

#include "report/internal.h"

namespace cutface {
std::string CsvText(const std::string& text) {
  const std::size_t first = text.find_first_not_of(" \t\r\n");
  const bool formula = (!text.empty() && (text[0] == '\t' || text[0] == '\r' || text[0] == '\n')) ||
                       (first != std::string::npos &&
                        std::string_view("=+-@|%").find(text[first]) != std::string::npos);
  std::string field = formula ? "'" + text : text;
  if (field.find_first_of(",\"\r\n;") == std::string::npos && !field.starts_with(' ')) return field;
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
