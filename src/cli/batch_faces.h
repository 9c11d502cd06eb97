// The faces of a batch: how one is measured, what its result depends on, which planes it may show.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cli/calibrated.h"
#include "cli/options.h"
#include "cutface/batch.h"
#include "cutface/cli.h"

namespace cutface {

class BatchFaces {
 public:
  BatchFaces(const Call& call, const Stages& stages) : call_(call), stages_(stages) {}

  // Reads drawings, records and hints. Errors: theirs; kUsage.
  Status Prepare();
  // Before each round: reads what may have changed meanwhile, the log of checks.
  Status Begin();
  // key, measure and propose; valid as long as this is.
  BatchWork Work();

  const std::vector<Design>& designs() const { return designs_; }
  std::string software() const;
  std::vector<RosterFile> DesignFiles() const;
  // Of the records that faces were measured with.
  std::vector<RosterFile> CalibrationFiles(const std::vector<FaceEntry>& faces) const;

 private:
  Result<FaceDone> Measure(const PlannedFace& face, const std::function<bool()>& go_on) const;
  Result<std::vector<std::string>> Propose(const PlannedFace& face, FaceDone& about) const;
  Status LimitMemory();
  MemoryGate::Share TakeMemory(const PlannedFace& face, std::int64_t& max_pixels) const;

  const Call& call_;
  const Stages& stages_;
  std::vector<Design> designs_;
  Benches benches_;
  std::optional<HintBook> hints_;
  std::string options_key_;             // digest of what all faces share
  std::unique_ptr<MemoryGate> memory_;  // nullptr: no limit
  std::int64_t largest_px_ = 0;         // of a record
};

}  // namespace cutface
