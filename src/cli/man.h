// The manual page, made from the same declarations as --help so that the two cannot differ.
#pragma once

#include <string>

namespace CLI {
class App;
}

namespace cutface {

// --man, which throws CLI::CallForAllHelp as other calls for text do.
void AddManual(CLI::App& app);
// A page of section 1 in the man macros (groff_man(7)): commands, options, exit status, cautions.
std::string ManPage(const CLI::App& app, const std::string& version);

}  // namespace cutface
