// Options of the commands that keep a bench calibrated, and what all commands' options share.
#pragma once

#include <map>
#include <string>

#include "cli/options.h"

namespace CLI {
class App;
}

namespace cutface {

const std::map<std::string, Channel>& Channels();

// "" when the text is 2026-03-02 or 2026-03-02T09:15[:30][Z], else what is wrong.
std::string CheckTaken(const std::string& text);

// `call` and `channel` must outlive the parsing.
void AddCalibrateOptions(CLI::App& app, Call& call, std::string& channel);
void AddCheckOptions(CLI::App& app, Call& call, std::string& channel);

}  // namespace cutface
