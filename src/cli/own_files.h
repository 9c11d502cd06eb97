// Files of a command in its folder: together or not at all, and never over
// somebody else's.
#pragma once

#include <string>
#include <vector>

#include "cutface/base.h"

namespace cutface {

struct OwnFile {
  std::string name, text;
};

// Makes the folder when it is missing. `index` (a name in the folder) keeps the
// hashes of what was written; a file that is there and not as it says is not
// overwritten. Paths go to `written`. Errors: kUsage (such a file),
// kFileUnwritable.
Status WriteOwnFiles(const std::string& folder, const std::string& index,
                     const std::vector<OwnFile>& files, std::vector<std::string>& written);

}  // namespace cutface
