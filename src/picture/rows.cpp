// Rows of the drawing in words; shared by the picture and the command line.
#include <fmt/format.h>

#include <array>
#include <utility>

#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

// Units of rows that Format knows under the result's name, with the factor to get there.
struct RowUnit {
  std::string_view name;
  std::string_view result_unit;
  LengthUnit display;
};
constexpr std::array kRowUnits = {
    RowUnit{"um", "um", LengthUnit::kMicrometre},   RowUnit{"mm", "um", LengthUnit::kMillimetre},
    RowUnit{"in", "um", LengthUnit::kInch},         RowUnit{"um2", "um2", LengthUnit::kMicrometre},
    RowUnit{"mm2", "um2", LengthUnit::kMillimetre}, RowUnit{"in2", "um2", LengthUnit::kInch},
};

std::string Join(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : " and ") + word;
  return text;
}

// Limits are shown as the drawing writes them: all their digits and no invented ones.
std::string Limit(double value) {
  std::string text = fmt::format("{:.6f}", value);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text;
}

}  // namespace

std::string FormatRowValue(double value, const std::string& row_unit, bool with_unit) {
  for (const RowUnit& unit : kRowUnits) {
    if (unit.name != row_unit) continue;
    const double per = UmPer(unit.display);
    return Format(value * (unit.result_unit == "um" ? per : per * per), unit.result_unit,
                  unit.display, with_unit);
  }
  return Format(value, row_unit, LengthUnit::kMillimetre, with_unit);
}

namespace {

bool IsCount(std::string_view quantity) {
  for (const QuantityRow& row : QuantityTable()) {
    if (row.word == quantity) return row.kind == QuantityKind::kCount;
  }
  return false;
}

std::string FormatOf(const Measurement& m, double value, LengthUnit display, bool with_unit) {
  if (IsCount(m.quantity)) return fmt::format("{:.0f}", value);
  return Format(value, m.unit, display, with_unit);
}

}  // namespace

std::string ActualText(const CharacteristicResult& row) {
  if (!row.actual) return "";
  const bool count = !row.finding.empty() || IsCount(row.quantity);
  return count ? fmt::format("{:.0f}", *row.actual) : FormatRowValue(*row.actual, row.unit);
}

std::string IntervalText(const CharacteristicResult& row) {
  if (!row.lo || !row.hi || !row.finding.empty() || IsCount(row.quantity)) return "";
  return FormatRowValue(*row.lo, row.unit, false) + " to " +
         FormatRowValue(*row.hi, row.unit, false);
}

std::string FormatValue(const Measurement& m, LengthUnit display, bool with_unit) {
  return FormatOf(m, m.value, display, with_unit);
}

std::string IntervalText(const Measurement& m, LengthUnit display) {
  return FormatOf(m, m.lo, display, false) + " to " + FormatOf(m, m.hi, display, false);
}

std::string RequirementText(const CharacteristicResult& row) {
  if (!row.finding.empty()) return fmt::format("{} allowed", row.max ? Limit(*row.max) : "0");
  const std::string unit = row.unit == "1" || row.unit.empty() ? "" : " " + row.unit;
  if (row.min && row.max) return fmt::format("{} to {}{}", Limit(*row.min), Limit(*row.max), unit);
  if (row.min) return fmt::format("at least {}{}", Limit(*row.min), unit);
  if (row.max) return fmt::format("at most {}{}", Limit(*row.max), unit);
  return "";
}

std::string SubjectText(const CharacteristicResult& row) {
  if (!row.text.empty()) return row.text;
  if (!row.finding.empty()) return row.finding;
  std::string word = row.quantity;
  for (char& c : word) c = c == '_' ? ' ' : c;
  return row.of.empty() ? word : word + ", " + Join(row.of);
}

}  // namespace cutface
