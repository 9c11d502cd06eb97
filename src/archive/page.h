// The page of an exported record.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "cutface/archive.h"

namespace cutface {

struct ExportPage {
  struct File {
    std::string path, name, role;  // inside the zip; as it was called
  };
  std::vector<RecordState> results;
  std::vector<ArchiveEntry> entries;  // all that are exported, in order
  std::map<std::string, File> files;  // by SHA-256
  ArchiveHead head;
  std::string made;
};

// One file, without scripts and without anything from elsewhere.
std::string PageHtml(const ExportPage& page);
// Text that is text in HTML: marks of HTML are escaped; control and direction marks are shown.
std::string HtmlText(std::string_view text);

}  // namespace cutface
