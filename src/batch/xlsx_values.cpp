#include "batch/xlsx_values.h"

#include <fmt/format.h>

#include <charconv>
#include <chrono>
#include <cmath>
#include <map>

namespace cutface {
namespace {

std::string_view LocalName(const char* name) {
  const std::string_view whole(name);
  const std::size_t colon = whole.rfind(':');
  return colon == std::string_view::npos ? whole : whole.substr(colon + 1);
}

// Built-in formats of dates and times, 18.8.30; the ones for East Asia included.
bool IsBuiltInDate(int id) {
  return (id >= 14 && id <= 22) || (id >= 27 && id <= 36) || (id >= 45 && id <= 47) ||
         (id >= 50 && id <= 58);
}

void AppendUtf8(std::string& text, unsigned point) {
  if (point < 0x80) {
    text += static_cast<char>(point);
  } else if (point < 0x800) {
    text += static_cast<char>(0xc0 | (point >> 6));
    text += static_cast<char>(0x80 | (point & 0x3f));
  } else {
    text += static_cast<char>(0xe0 | (point >> 12));
    text += static_cast<char>(0x80 | ((point >> 6) & 0x3f));
    text += static_cast<char>(0x80 | (point & 0x3f));
  }
}

}  // namespace

std::optional<std::size_t> ColumnOf(std::string_view reference) {
  std::size_t column = 0, i = 0;
  for (; i < reference.size() && reference[i] >= 'A' && reference[i] <= 'Z'; ++i) {
    column = column * 26 + static_cast<std::size_t>(reference[i] - 'A' + 1);
    if (column > 16384) return std::nullopt;  // the last one is XFD
  }
  if (i == 0 || i == reference.size()) return std::nullopt;
  if (reference.find_first_not_of("0123456789", i) != std::string_view::npos) return std::nullopt;
  return column - 1;
}

bool IsDateFormat(std::string_view code) {
  bool quoted = false;
  for (std::size_t i = 0; i < code.size(); ++i) {
    const char c = code[i];
    if (c == '"') {
      quoted = !quoted;
    } else if (quoted) {
      continue;
    } else if (c == '\\' || c == '_' || c == '*') {
      ++i;
    } else if (c == '[') {
      // [Red], [>100], [$-409]; but [h], [mm], [ss] are spans of time.
      const std::size_t end = code.find(']', i);
      if (end == std::string_view::npos) return false;
      const std::string_view inside = code.substr(i + 1, end - i - 1);
      if (!inside.empty() && inside.find_first_not_of("hHmMsS") == std::string_view::npos)
        return true;
      i = end;
    } else if (std::string_view("yYdDhHsS").find(c) != std::string_view::npos) {
      return true;
    } else if (c == ';') {
      return false;  // the other sections are for negative numbers, zero and text
    }
  }
  return false;
}

std::set<std::size_t> DateStyles(const pugi::xml_document& styles) {
  std::map<int, bool> custom;
  std::set<std::size_t> dates;
  for (const pugi::xml_node group : styles.document_element().children()) {
    if (LocalName(group.name()) == "numFmts") {
      for (const pugi::xml_node format : group.children())
        custom[format.attribute("numFmtId").as_int()] =
            IsDateFormat(format.attribute("formatCode").value());
    }
  }
  for (const pugi::xml_node group : styles.document_element().children()) {
    if (LocalName(group.name()) != "cellXfs") continue;
    std::size_t index = 0;
    for (const pugi::xml_node format : group.children()) {
      if (LocalName(format.name()) != "xf") continue;
      const int id = format.attribute("numFmtId").as_int();
      const auto own = custom.find(id);
      if (own != custom.end() ? own->second : IsBuiltInDate(id)) dates.insert(index);
      ++index;
    }
  }
  return dates;
}

std::string TimeOfSerial(double serial, bool from_1904) {
  using namespace std::chrono;
  if (!(serial >= 0 && serial < 2958466)) return "";  // to the year 9999
  auto seconds_of = static_cast<long long>(std::llround(serial * 86400));
  long long day = seconds_of / 86400;
  const long long second = seconds_of % 86400;
  sys_days date;
  if (from_1904) {
    date = sys_days(year{1904} / 1 / 1) + days(day);
  } else {
    if (day == 60 || day == 0) return "";
    date = sys_days(year{1899} / 12 / 31) + days(day > 60 ? day - 1 : day);
  }
  const year_month_day ymd(date);
  std::string text =
      fmt::format("{:04}-{:02}-{:02}", static_cast<int>(ymd.year()),
                  static_cast<unsigned>(ymd.month()), static_cast<unsigned>(ymd.day()));
  if (second != 0)
    text += fmt::format("T{:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60);
  return text;
}

std::string PlainNumber(double number) {
  if (std::abs(number) < 1e15 && number == std::floor(number))
    return fmt::format("{:.0f}", number + 0.0);
  return fmt::format("{}", number);
}

std::string UnescapedText(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    unsigned point = 0;
    const bool escape = text[i] == '_' && i + 7 <= text.size() && text[i + 1] == 'x' &&
                        text[i + 6] == '_' &&
                        std::from_chars(text.data() + i + 2, text.data() + i + 6, point, 16).ptr ==
                            text.data() + i + 6;
    if (escape && point != 0 && (point < 0xd800 || point > 0xdfff)) {
      AppendUtf8(out, point);
      i += 6;
    } else {
      out += text[i];
    }
  }
  return out;
}

}  // namespace cutface
