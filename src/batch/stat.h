// What the file system tells of a file, as one text to compare. Internal to the room.
#pragma once

#include <string>

namespace cutface {

// FileStat of the file, or "" when the file was changed so lately (or, by a clock that jumped, in
// the future) that one more change could leave no trace in its times.
std::string SettledStatOf(const std::string& path);

}  // namespace cutface
