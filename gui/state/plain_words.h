// Messages of the rooms are written for the command line too and name its options; in the window
// people look for the words that stand there. Keywords: message, option, words.
#pragma once

#include <string>

namespace cutface::window {

// "choose one with --section: a, b" reads "choose one under "Section of the drawing": a, b".
std::string InWindowWords(std::string message);

}  // namespace cutface::window
