// A result without its contours: the values of many files, quickly.
#include <algorithm>

#include "cutface/record.h"

namespace cutface {
namespace {

// Position after a string that starts at `at` (its opening quote), or npos.
std::size_t AfterString(std::string_view text, std::size_t at) {
  for (++at; at < text.size();) {
    const std::size_t quote = text.find('"', at);
    if (quote == std::string_view::npos) return quote;
    std::size_t slashes = 0;
    while (quote > at + slashes && text[quote - 1 - slashes] == '\\') ++slashes;
    if (slashes % 2 == 0) return quote + 1;
    at = quote + 1;
  }
  return std::string_view::npos;
}

// Position after the object or array that starts at `at`, or npos. Only brackets of its own kind
// are counted, by searches that run at the speed of memory: between quotes of a contour there is
// next to none.
std::size_t AfterValue(std::string_view text, std::size_t at) {
  const char open = text[at], close = open == '{' ? '}' : ']';
  int depth = 0;
  while (at < text.size()) {
    const std::size_t quote = std::min(text.find('"', at), text.size());
    std::string_view between = text.substr(at, quote - at);
    std::size_t next_open = between.find(open), next_close = between.find(close);
    while (next_open != std::string_view::npos || next_close != std::string_view::npos) {
      if (next_open < next_close) {
        ++depth;
        next_open = between.find(open, next_open + 1);
        continue;
      }
      if (--depth == 0) return at + next_close + 1;
      next_close = between.find(close, next_close + 1);
    }
    if (quote == text.size()) break;
    at = AfterString(text, quote);
    if (at == std::string_view::npos) break;
  }
  return std::string_view::npos;
}

}  // namespace

Result<SectionResult> SkimResult(std::string_view text, const std::string& name) {
  struct Skipped {
    std::string_view key, instead;
  };
  constexpr Skipped kSkipped[] = {
      {"features", R"({"outline":null,"rings":{},"lumens":{},"voids":[]})"},
      {"measurements", "[]"},
      {"findings", "[]"}};
  std::string rest;
  std::size_t kept = 0, at = text.find('{');
  if (at == std::string_view::npos) return ParseResult(text, name);
  ++at;
  // Keys of the outermost object; whatever looks unusual is left to the full reader's messages.
  while (at < text.size()) {
    at = text.find_first_not_of(" \t\r\n,", at);
    if (at == std::string_view::npos || text[at] != '"') break;
    const std::size_t after_key = AfterString(text, at);
    if (after_key == std::string_view::npos) return ParseResult(text, name);
    const std::string_view key = text.substr(at + 1, after_key - at - 2);
    std::size_t value = text.find_first_not_of(" \t\r\n:", after_key);
    if (value == std::string_view::npos) return ParseResult(text, name);
    const char first = text[value];
    std::size_t end = first == '{' || first == '[' ? AfterValue(text, value)
                      : first == '"'               ? AfterString(text, value)
                                                   : text.find_first_of(",}", value);
    if (end == std::string_view::npos) return ParseResult(text, name);
    for (const Skipped& skipped : kSkipped) {
      if (key != skipped.key || (first != '{' && first != '[')) continue;
      rest += text.substr(kept, value - kept);
      rest += skipped.instead;
      kept = end;
    }
    at = end;
  }
  rest += text.substr(kept);
  return ParseResult(rest, name);
}

}  // namespace cutface
