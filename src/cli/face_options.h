// Options of every command that measures faces: measure, survey and batch.
#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

#include "cli/options.h"

namespace cutface {

// What is written, how the picture is read, and who answers for it. Gives back --inspector, which
// other options may need. `call` and `channel` must outlive the parsing.
CLI::Option* AddFaceOptions(CLI::App& app, Call& call, std::string& channel);

// What only faces with a drawing can be told, as it was typed.
struct PressureWords {
  std::vector<std::string> pressures;
  std::string wires = "bonded";
};
void AddDrawnFaceOptions(CLI::App& app, Call& call, PressureWords& words);
// Errors: kUsage.
Status TakePressureWords(const PressureWords& words, Call& call);

}  // namespace cutface
