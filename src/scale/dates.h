// Calendar dates as text.
#pragma once

#include <chrono>
#include <string_view>

namespace cutface {

// "2026-03-02": four, two, two digits, and a day that the Gregorian calendar has (ISO 8601).
inline bool IsIsoDate(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  const auto number = [&](std::size_t from, std::size_t count) {
    int value = 0;
    for (char c : text.substr(from, count)) {
      if (c < '0' || c > '9') return -1;
      value = 10 * value + (c - '0');
    }
    return value;
  };
  const int year = number(0, 4), month = number(5, 2), day = number(8, 2);
  if (year < 0 || month < 0 || day < 0) return false;
  return std::chrono::year_month_day(std::chrono::year(year),
                                     std::chrono::month(static_cast<unsigned>(month)),
                                     std::chrono::day(static_cast<unsigned>(day)))
      .ok();
}

}  // namespace cutface
