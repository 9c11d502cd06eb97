// A folder of pictures measured in one call, once or as long as a microscope writes to it.
#pragma once

#include "cli/face_options.h"
#include "cli/options.h"
#include "cutface/cli.h"

namespace cutface {

// `call`, `channel` and `words` must outlive the parsing.
void AddBatchOptions(CLI::App& app, Call& call, std::string& channel, PressureWords& words);

// Returns the exit status: the worst of all faces.
int RunBatchCommand(const Call& call, const Terminal& terminal, const Stages& stages);

}  // namespace cutface
