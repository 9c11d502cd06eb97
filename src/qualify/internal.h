// Shared by the files of the room.
#pragma once

#include <string>
#include <vector>

#include "cutface/qualify.h"
#include "cutface/section.h"

namespace cutface {

// One measured value beside its truth, lengths in micrometres.
struct TruthPair {
  std::string word;
  bool measured = false;
  double truth = 0, value = 0, lo = 0, hi = 0;
};
// One void or septum that was there.
struct TruthItem {
  double size_um = 0;  // equal-area diameter, or thickness
  bool found = false;
};
// What one rendered face told.
struct FaceScore {
  bool measured = false;
  std::string failure;
  std::vector<TruthPair> pairs;
  std::vector<TruthItem> voids, septa;
  std::size_t invented_voids = 0, invented_breaks = 0;
  std::size_t broken = 0, broken_told = 0;
};

// `truth_json` is the phantom's; `pitch_um` its true pitch. Errors: kInternal (not as written).
Result<FaceScore> ScoreFace(const SectionResult& result, const std::string& truth_json,
                            double pitch_um);

void SumUp(const std::vector<FaceScore>& scores, const QualifyOrder& order, Qualification& out);

std::string Micrometres(double um);

}  // namespace cutface
