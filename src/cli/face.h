// One face from its picture to its files, as measure, survey and batch do it.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>

#include "cli/options.h"
#include "cutface/cli.h"
#include "cutface/job.h"

namespace cutface {

struct FaceJob {
  const Call& call;
  const Stages& stages;
  const Benches& benches;
  const Design& design;                  // of survey: an empty one with the kind of the picture
  const SectionDesign* plane = nullptr;  // nullptr: survey
  const HintBook* hints = nullptr;       // a site's own
  SampleIdentity sample = {};
  std::string objective = {}, bench = {};  // of this picture; "": what the call says
  Progress progress = {};                  // may be empty
  std::int64_t max_pixels = ReadOptions{}.max_pixels;
  std::map<std::string, double> pressures_mpa = {};  // by lumen; of lumens that the plane has
  bool draws = true;                                 // writes pictures beside the result
};

struct FaceOutcome {
  SectionResult result;
  std::optional<Design> draft;  // survey
};

// Errors: those of reading, of the calibration and of the stages; kFileUnwritable.
Result<FaceOutcome> MeasureFace(const FaceJob& job, const std::string& image,
                                const OutputPaths& paths);

// Takes the kind of pictures that the call says into the drawing. Errors: kUsage: the drawing locks
// another one.
Status TakeImageKind(const Call& call, Design& design);

// A pressure must load a lumen of one of the planes. Errors: kUsage, with the nearest name.
Status CheckPressures(const Call& call, std::span<const SectionDesign> planes);
// Those of the call's pressures that load a lumen of this plane.
std::map<std::string, double> PressuresOf(const Call& call, const SectionDesign& plane);

// 0 or 1, by the result's verdict.
int ExitOf(Verdict verdict);

}  // namespace cutface
