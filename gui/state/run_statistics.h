// What the faces of a run say together, part by part: the compare room's figures, made while the
// run is read. Where a run cannot be taken together (two revisions, another drawing) the reason is
// kept in place of figures. Keywords: run, compare, statistics, mean face, trend.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "cutface/compare.h"
#include "cutface/design.h"

namespace cutface::window {

struct PartStatistics {
  std::shared_ptr<const RunComparison> comparison;  // nullptr: `trouble` says why
  std::string trouble;
};
using RunStatistics = std::map<std::string, PartStatistics>;  // by part number

class StatisticsMaker {
 public:
  // `faces`: about how many will come; of very many only some are laid over the drawing.
  explicit StatisticsMaker(std::size_t faces) : step_(faces / kMostLaid + 1) {}

  void Add(const FaceEntry& entry, const SectionResult& result, const std::vector<Design>& designs);
  void AddUnmeasured(const FaceEntry& entry);
  // REQUIRES: called once, last. Errors become the part's `trouble`.
  RunStatistics Finish();

 private:
  static constexpr std::size_t kMostLaid = 120;  // as `cutface compare`
  struct Part {
    RunGatherer gatherer;
    std::vector<NominalFace> nominals;
    std::string design_sha256, trouble;
  };
  std::size_t step_ = 1, count_ = 0;
  std::map<std::string, Part> parts_;
  std::vector<FaceEntry> nameless_;  // whose part nobody said: of the run's part if it has one only
};

}  // namespace cutface::window
