// Tables out of CSV and XLSX files as rows of text. Internal to the room.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"

namespace cutface {

struct TextRow {
  int line = 0;  // of the file, from 1
  std::vector<std::string> cells;
};

struct Table {
  std::vector<TextRow> rows;  // rows without any text are left out
  std::vector<std::string> warnings;
};

// A table of people has few columns and no books in its cells; more is a mistaken or hostile file.
inline constexpr std::size_t kMostRows = 50'000, kMostColumns = 200, kLongestCell = 4096;

// RFC 4180; the separator is the one of comma, semicolon and tab that the first line has most of,
// outside of quotes. Errors: kJsonSyntax, kJsonValue, with the line.
Result<Table> ParseCsvTable(std::string_view text, const std::string& name);
// The first sheet of a workbook. Dates come as ISO 8601. Errors: as above, with the cell.
Result<Table> ParseXlsxTable(std::span<const std::byte> bytes, const std::string& name);

// Without blanks at both ends.
std::string Trimmed(std::string_view text);
// For one-line messages: control characters as '?', cut to 60 bytes.
std::string ForMessage(std::string_view text);

}  // namespace cutface
