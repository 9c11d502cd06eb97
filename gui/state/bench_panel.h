// The bench: a target pictured, looked at, and kept as a calibration record; and a standard checked
// with a record. Steps in the order of the work, each with what it still needs. All numbers come
// from the rooms calibration and job, as `cutface calibrate` and `check` take them.
// Keywords: calibrate, check, record, target, circle, pin, blank, exposure pair, En.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cutface/calibration.h"
#include "cutface/targets.h"

namespace cutface::window {

// As typed; texts become numbers when they are looked at.
struct BenchForm {
  bool checks = false;  // a check of a record, not a new record
  TargetKind kind = TargetKind::kLineScale;
  std::string division_um, diameter_um, certificate_u_um, temperature_c;
  std::string serial, certificate, certificate_due;
  std::vector<std::string> pictures;
  std::string next_picture;  // being typed
  // A new record: what the camera does to light, and names.
  std::string exposure_first, exposure_second, exposure_ratio = "2", blank;
  std::string id, objective, microscope, zoom_stop, binning, made, due, supersedes, folder;
  bool square_pixels = false;  // known to 0.1 %: one direction tells both pitches
  bool copy_evidence = false;  // the pictures are kept beside the record
  // A check.
  std::string record, taken, limit_um;
  std::string by;
  int step = 0;  // that is open, of BenchPanel::steps
};

struct BenchOutcome {
  std::optional<Calibration> calibration;
  std::vector<TargetFit> fits;
  std::optional<BenchCheck> check;
};

enum class BenchStep { kWhat, kTarget, kPictures, kLight, kRecord, kNames };

struct BenchPanel {
  struct Step {
    BenchStep step = BenchStep::kWhat;
    std::string title, summary;
    std::string missing;  // "" or what it still needs
    bool optional = false;
  };
  std::vector<Step> steps;        // in the order of the work
  std::string picture_advice;     // which pictures this target needs
  std::string hindrance;          // "" or what is missing before it can be looked at
  std::string keep_hindrance;     // "" or what is missing before it can be kept
  std::vector<TargetKind> kinds;  // that this work can be done with
  struct Line {
    std::string label, value, note;
  };
  std::vector<Line> found;   // pitch, shear, distortion; or certified, measured, error, En
  std::vector<Line> budget;  // relative standard uncertainties
  std::vector<Line> pictures;
  std::vector<std::string> cautions, untold;
  std::string verdict;  // of a check: "passed", or why not
  bool failed = false;
  std::string keep_as;  // the file, or the log
};
BenchPanel BuildBench(const BenchForm& form, const BenchOutcome* outcome);

// "" or what hinders keeping.
std::string KeepHindrance(const BenchForm& form, const BenchOutcome* outcome);

// Errors: kUsage (a number that is none, a certificate without date), kCalibrationOverdue (the
// certificate), those of ReadMicrograph, FindTarget, CombineTargets, TakeExposurePair, TakeBlank,
// MeasureRound, MeasureStandard.
Result<BenchOutcome> LookAtTargets(const BenchForm& form, const Progress& progress = {});
// Writes the record with its files, or adds the check to the log beside its record and draws the
// drift anew. Errors: those of KeepWithFiles, AppendCheck, DrawDrift. Returns the path.
Result<std::string> KeepBench(const BenchForm& form, const BenchOutcome& outcome);

}  // namespace cutface::window
