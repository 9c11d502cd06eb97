// The bench: a target pictured, looked at, and kept as a calibration record; and a standard checked
// with a record. Steps in the order of the work, each with what still hinders it. All numbers come
// from the room calibration. Keywords: calibrate, check, record, target, En.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cutface/calibration.h"
#include "cutface/calibration_keeping.h"

namespace cutface::window {

// As typed; texts become numbers when they are looked at.
struct BenchForm {
  bool checks = false;  // a check of a record, not a new record
  int kind = 0;         // line scale, dot grid, cross grid; a check takes the line scale
  std::string division_um, certificate_u_um, serial, certificate, certificate_due;
  std::vector<std::string> pictures;
  std::string next_picture;  // being typed
  // A new record.
  std::string id, objective, microscope, made, due, supersedes, folder;
  bool square_pixels = false;  // known to 0.1 %: one direction tells both pitches
  // A check.
  std::string record, taken, limit_um;
  std::string by;
};

struct BenchOutcome {
  std::optional<Calibration> calibration;
  std::vector<TargetFit> fits;
  std::optional<BenchCheck> check;
};

struct BenchPanel {
  std::string hindrance;       // "" or what is missing before it can be looked at
  std::string keep_hindrance;  // "" or what is missing before it can be kept
  struct Line {
    std::string label, value, note;
  };
  std::vector<Line> found;   // pitch, shear, distortion; or certified, measured, error, En
  std::vector<Line> budget;  // relative standard uncertainties
  std::vector<Line> pictures;
  std::vector<std::string> cautions;
  std::string verdict;  // of a check: "passed", or why not
  bool failed = false;
  std::string keep_as;  // the file, or the log
};
BenchPanel BuildBench(const BenchForm& form, const BenchOutcome* outcome);

// Errors: kUsage (a number that is none, a certificate without date), kCalibrationOverdue (the
// certificate), those of ReadMicrograph, FindLineScale, FindGrid, CombineTargets, MeasureStandard.
Result<BenchOutcome> LookAtTargets(const BenchForm& form, const Progress& progress = {});
// Writes the record, or adds the check to the log beside its record. Errors: those of KeepRecord
// and AppendCheck. Returns the path.
Result<std::string> KeepBench(const BenchForm& form, const BenchOutcome& outcome);

}  // namespace cutface::window
