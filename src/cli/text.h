// Texts for the terminal: safe messages, progress line, tables.
#pragma once

#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/cli.h"
#include "cutface/section.h"

namespace cutface {

// Control characters (also the C1 ones) and bytes that are no UTF-8 as \x1b: a file name must not
// steer the terminal or break the one line of a message.
std::string Escaped(std::string_view text);

// "cutface: what, where, what to do" and a line end.
void PrintError(const Terminal& terminal, const Error& error, const std::string& image = "");
void PrintWarning(const Terminal& terminal, const std::string& text, const std::string& image = "");

// One line that is overwritten on a terminal; nothing in a pipe.
class ProgressLine {
 public:
  ProgressLine(const Terminal& terminal, const std::string& image, std::size_t no, std::size_t of);
  ~ProgressLine();  // takes the line away
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  void Show(double share, std::string_view what);

 private:
  const Terminal& terminal_;
  std::string head_;
  std::string shown_;
};

// Rows of the drawing, findings, values, verdict: in this order.
std::string ResultTable(const SectionResult& result);

// Columns padded to the widest cell, two blanks between them, none at line ends.
std::string Columns(const std::vector<std::vector<std::string>>& rows);

}  // namespace cutface
