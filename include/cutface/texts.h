// Typed-in text made harmless, and rows as a terminal shows them: for pages, tables and messages of
// every room.
// Keywords: escape, HTML, control characters, columns.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace cutface {

// Names and other typed-in text as every file and terminal may show it: bytes that are no UTF-8,
// control characters and marks that turn the direction of writing appear as \x1b or \u202e, at most
// `most` characters and then "...".
std::string PlainText(const std::string& text, std::size_t most = 300);

// & < > " ' for HTML's text and attributes; nothing else is changed.
std::string HtmlEscaped(std::string_view text);

// Characters as a terminal counts them, near enough for names: code points.
std::size_t TextWidth(std::string_view text);

// Rows under each other, two blanks in front of each line and between columns: the first column to
// the left, numbers behind it to the right. Rows may differ in length.
std::string NumberRows(const std::vector<std::vector<std::string>>& rows);

}  // namespace cutface
