#include "gui/state/plain_words.h"

#include <array>
#include <string_view>
#include <utility>

namespace cutface::window {
namespace {

// Longer ones first where one begins like another.
constexpr std::array<std::pair<std::string_view, std::string_view>, 13> kWords = {{
    {"with --section", "under \"Section of the drawing\""},
    {"--section", "\"Section of the drawing\""},
    {"with --out", "under \"Results go to\""},
    {"another --out", "another one under \"Results go to\""},
    {"--out", "\"Results go to\""},
    {"with --bench ID", "by naming its own file"},
    {"--calibration", "\"Calibration record\""},
    {"--division", "\"Division of the scale\""},
    {"--diameter", "\"Certified diameter\""},
    {"--supersedes", "\"Takes the place of\""},
    {"give an --exposure-pair", "name an exposure pair"},
    {"--taken", "\"Taken\""},
    {"--limit", "\"Limit\""},
}};

}  // namespace

std::string InWindowWords(std::string message) {
  for (const auto& [option, words] : kWords) {
    for (std::size_t at = message.find(option); at != std::string::npos;
         at = message.find(option, at + words.size()))
      message.replace(at, option.size(), words);
  }
  return message;
}

}  // namespace cutface::window
