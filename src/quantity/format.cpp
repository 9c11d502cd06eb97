#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>

#include "cutface/base.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

// Rounds the shortest decimal form of a number, so that 0.125 and 1.005 both go the way a reader
// with pencil and paper expects; rounding the binary value would send 1.005 down.
std::string RoundHalfAway(double value, int decimals) {
  CF_CHECK(std::isfinite(value));
  std::array<char, 400> buffer{};  // 1.8e308 in fixed notation has 309 digits
  const auto written = std::to_chars(buffer.data(), buffer.data() + buffer.size(), std::abs(value),
                                     std::chars_format::fixed);
  CF_CHECK(written.ec == std::errc());
  std::string digits(buffer.data(), written.ptr);
  if (digits.find('.') == std::string::npos) digits += '.';
  const std::size_t point = digits.find('.');
  const std::size_t wanted = point + 1 + static_cast<std::size_t>(decimals);
  bool up = false;
  if (digits.size() > wanted) {
    up = digits[wanted] >= '5';
    digits.resize(wanted);
  } else {
    digits.append(wanted - digits.size(), '0');
  }
  for (std::size_t i = digits.size(); up && i-- > 0;) {
    if (digits[i] == '.') continue;
    up = digits[i] == '9';
    digits[i] = up ? '0' : static_cast<char>(digits[i] + 1);
  }
  if (up) digits.insert(digits.begin(), '1');
  if (decimals == 0) digits.pop_back();
  const bool zero = digits.find_first_not_of("0.") == std::string::npos;
  return value < 0 && !zero ? "-" + digits : digits;
}

int Decimals(std::string_view unit, LengthUnit display) {
  const bool mm = display == LengthUnit::kMillimetre, inch = display == LengthUnit::kInch;
  if (unit == "um") return mm ? 4 : inch ? 5 : 1;
  if (unit == "um2") return mm ? 5 : inch ? 8 : 0;
  if (unit == "deg" || unit == "%") return 1;
  return 3;
}

std::string WithUnit(const std::string& number, std::string_view unit, LengthUnit display,
                     bool with_unit) {
  const std::string shown = DisplayUnit(unit, display);
  return with_unit && !shown.empty() ? number + " " + shown : number;
}

}  // namespace

double ToDisplay(double value, std::string_view unit, LengthUnit display) {
  if (unit == "um") return value / UmPer(display);
  if (unit == "um2") return value / (UmPer(display) * UmPer(display));
  return value;
}

std::string DisplayUnit(std::string_view unit, LengthUnit display) {
  if (unit == "um") return std::string(UnitName(display));
  if (unit == "um2") return std::string(UnitName(display)) + "2";
  return unit == "1" ? "" : std::string(unit);
}

std::string Format(double value, std::string_view unit, LengthUnit display, bool with_unit) {
  return WithUnit(RoundHalfAway(ToDisplay(value, unit, display), Decimals(unit, display)), unit,
                  display, with_unit);
}

std::string Format(double value, const QuantityRow& row, LengthUnit display, bool with_unit) {
  if (row.kind == QuantityKind::kCount) return RoundHalfAway(value, 0);
  return Format(value, row.unit, display, with_unit);
}

std::string FormatProbability(double p) {
  CF_CHECK(p >= 0 && p <= 1);
  if (p > 0.999) return "> 0.999";
  if (p < 0.001) return "< 0.001";
  std::string text = RoundHalfAway(p, 3);
  if (text.back() == '0') text.pop_back();
  return text;
}

std::string FormatFrench(double diameter_um) {
  return RoundHalfAway(3 * diameter_um / UmPer(LengthUnit::kMillimetre), 1) + " Fr";
}

}  // namespace cutface
