// A result file taken into the store of records together with what belongs to it; for every way in
// that writes results. Keywords: records, keep, originals.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "cutface/archive.h"

namespace cutface {

struct KeepWish {
  std::string images;               // folder of the pictures; "": where the result lies
  std::vector<std::string> beside;  // files that may be the drawing, the calibration, the picture
  bool reference = false;           // pictures by hash and path only
  std::string who;
  std::map<std::string, std::string> how;
};

// The picture, looked for by its hash; drawing and calibration out of `beside` by theirs; the
// marked picture next to the result. Errors: those of ReadResult and Archive::AddResult.
Result<KeptResult> KeepResultFile(Archive& store, const std::string& result_path,
                                  const KeepWish& wish);

}  // namespace cutface
