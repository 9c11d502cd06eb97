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
// What is varied together: the face's own values.
struct FacePlan {
  double blur_px = 0, noise = 0, gamma = 0, tilt_deg = 0;
};
// What one rendered face told.
struct FaceScore {
  bool measured = false;
  std::string failure;
  std::vector<TruthPair> pairs;
  std::vector<TruthItem> voids, septa;
  std::size_t invented_voids = 0, invented_breaks = 0;
  std::size_t broken = 0, broken_told = 0;
  WireFigure wires;  // rms_off_um: sum of squares, um2
  FacePlan plan;
  std::string not_tried;  // "" or the fault that does not fit, and why
};

// `truth_json` is the phantom's; `pitch_um` its true pitch. `straight_json` is the truth of the
// same part cut straight: lengths are held against that one. Errors: kInternal (not as written).
Result<FaceScore> ScoreFace(const SectionResult& result, const std::string& truth_json,
                            const std::string& straight_json, double pitch_um);
// Rings, liners and wires. score_built.cpp
void ScoreWires(const SectionResult& result, const std::string& truth_json, double pitch_um,
                FaceScore& score);

SiteLook LookOf(const Micrograph& image, const Scale& scale, const Section& section, double gamma);

// Point `index` (from 1) of the Halton sequence in `base`, moved by `shift` around [0, 1).
double HaltonPoint(int index, int base, double shift);
// Factors, from planned and scored faces.
std::vector<FactorFigure> FactorsOf(const std::vector<FaceScore>& scores);

void SumUp(const std::vector<FaceScore>& scores, const QualifyOrder& order, Qualification& out);

std::string Micrometres(double um);

}  // namespace cutface
