#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "batch/table.h"

namespace cutface {
namespace {

char SeparatorOf(std::string_view text) {
  std::array<std::pair<char, int>, 3> counts = {{{',', 0}, {';', 0}, {'\t', 0}}};
  bool quoted = false;
  for (const char c : text) {
    if (c == '"') quoted = !quoted;
    if (!quoted && (c == '\n' || c == '\r')) break;
    for (auto& [separator, count] : counts) count += !quoted && c == separator ? 1 : 0;
  }
  return std::max_element(counts.begin(), counts.end(),
                          [](const auto& a, const auto& b) { return a.second < b.second; })
      ->first;
}

// Walks through the text once; `line` counts line ends, also those inside quotes.
class CsvReader {
 public:
  CsvReader(std::string_view text, const std::string& name)
      : text_(text), name_(name), separator_(SeparatorOf(text)) {}

  Result<Table> Read() {
    Table table;
    while (at_ < text_.size()) {
      TextRow row;
      row.line = line_;
      if (auto status = ReadRow(row); !status) return tl::unexpected(status.error());
      const bool empty = std::all_of(row.cells.begin(), row.cells.end(),
                                     [](const auto& cell) { return Trimmed(cell).empty(); });
      if (empty) continue;
      if (table.rows.size() >= kMostRows)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: more than {} rows; split the manifest", name_, kMostRows));
      table.rows.push_back(std::move(row));
    }
    return table;
  }

 private:
  bool AtLineEnd() const { return at_ >= text_.size() || text_[at_] == '\n' || text_[at_] == '\r'; }

  void SkipLineEnd() {
    if (at_ < text_.size() && text_[at_] == '\r') ++at_;
    if (at_ < text_.size() && text_[at_] == '\n') ++at_;
    ++line_;
  }

  Status ReadRow(TextRow& row) {
    for (;;) {
      std::string cell;
      if (auto status = ReadCell(cell); !status) return status;
      if (cell.size() > kLongestCell || row.cells.size() >= kMostColumns) {
        return Fail(Code::kJsonValue,
                    fmt::format("{}: line {}: {}; is this a manifest?", name_, row.line,
                                cell.size() > kLongestCell ? "a cell of over 4096 bytes"
                                                           : "more than 200 columns"));
      }
      // The quote that keeps a spreadsheet from taking the cell for a formula (ManifestToCsv).
      if (cell.size() > 1 && cell[0] == '\'' &&
          std::string_view("'=+-@").find(cell[1]) != std::string_view::npos)
        cell.erase(0, 1);
      row.cells.push_back(std::move(cell));
      if (AtLineEnd()) break;
      ++at_;  // the separator
      if (at_ >= text_.size()) {
        row.cells.emplace_back();
        break;
      }
    }
    SkipLineEnd();
    return {};
  }

  Status ReadCell(std::string& cell) {
    if (at_ < text_.size() && text_[at_] == '"') return ReadQuoted(cell);
    while (!AtLineEnd() && text_[at_] != separator_) cell += text_[at_++];
    return {};
  }

  Status ReadQuoted(std::string& cell) {
    const int begun = line_;
    ++at_;
    for (;;) {
      if (at_ >= text_.size()) {
        return Fail(Code::kJsonSyntax,
                    fmt::format("{}: line {}: a quote is never closed; check the quotes of the "
                                "manifest",
                                name_, begun));
      }
      const char c = text_[at_++];
      if (c == '"') {
        if (at_ < text_.size() && text_[at_] == '"') {
          cell += '"';
          ++at_;
          continue;
        }
        break;
      }
      const bool line_end = c == '\n' || (c == '\r' && (at_ >= text_.size() || text_[at_] != '\n'));
      line_ += line_end ? 1 : 0;
      cell += c;
    }
    if (AtLineEnd() || text_[at_] == separator_) return {};
    return Fail(Code::kJsonSyntax,
                fmt::format("{}: line {}: text behind a closing quote; write a quote inside "
                            "quotes twice",
                            name_, line_));
  }

  std::string_view text_;
  const std::string& name_;
  char separator_;
  std::size_t at_ = 0;
  int line_ = 1;
};

}  // namespace

std::string Trimmed(std::string_view text) {
  const std::size_t begin = text.find_first_not_of(" \t\r\n");
  if (begin == std::string_view::npos) return "";
  return std::string(text.substr(begin, text.find_last_not_of(" \t\r\n") - begin + 1));
}

std::string ForMessage(std::string_view text) {
  std::size_t length = std::min<std::size_t>(text.size(), 60);
  while (length < text.size() && length > 0 && (text[length] & 0xc0) == 0x80) --length;
  std::string shown(text.substr(0, length));
  for (char& c : shown) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '?';
  }
  return shown + (length < text.size() ? "..." : "");
}

Result<Table> ParseCsvTable(std::string_view text, const std::string& name) {
  if (text.substr(0, 3) == "\xef\xbb\xbf") text.remove_prefix(3);  // byte order mark
  if (!IsUtf8(text) || text.find('\0') != std::string_view::npos) {
    return Fail(
        Code::kJsonSyntax,
        fmt::format("{}: is no UTF-8 text; save the manifest as CSV in UTF-8, or as XLSX", name));
  }
  return CsvReader(text, name).Read();
}

}  // namespace cutface
