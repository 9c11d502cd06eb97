// A folder of pictures measured in one call, once or as long as a microscope writes to it.
#pragma once

#include "cli/options.h"
#include "cutface/cli.h"

namespace CLI {
class App;
}

namespace cutface {

// `call` and `channel` must outlive the parsing.
void AddBatchOptions(CLI::App& app, Call& call, std::string& channel);

// Returns the exit status: the worst of all faces.
int RunBatchCommand(const Call& call, const Terminal& terminal, const Stages& stages);

}  // namespace cutface
