// How a workbook writes columns, numbers, dates and texts (ISO/IEC 29500-1). Internal to the room.
#pragma once

#include <cstddef>
#include <optional>
#include <pugixml.hpp>
#include <set>
#include <string>
#include <string_view>

namespace cutface {

// "AB12" -> 27; nullopt when it is no reference.
std::optional<std::size_t> ColumnOf(std::string_view reference);

// Numbers of cell formats (the "s" of a cell) that show a date or a time.
std::set<std::size_t> DateStyles(const pugi::xml_document& styles);

// Is a format code one of dates ("yyyy-mm-dd hh:mm")? Text in quotes, colours and conditions aside.
bool IsDateFormat(std::string_view code);

// Days since the end of 1899 (or since 1904) as 2026-03-02, with T09:15:00 where there is a time
// of day; to the second. "" for what is no such date. The day 60 of the first system, a 29 February
// 1900 that never was (18.17.4.1), is none.
std::string TimeOfSerial(double serial, bool from_1904);

// Digits as typed: whole numbers without point, else as few as read back the same.
std::string PlainNumber(double number);

// _x000D_ and its like (22.9.2.19, ST_Xstring) as the characters that they stand for.
std::string UnescapedText(std::string_view text);

}  // namespace cutface
