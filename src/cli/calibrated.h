// The bench of a picture: its record out of a file or a folder, its checks, its light.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cli/options.h"
#include "cutface/calibration_keeping.h"
#include "cutface/cli.h"
#include "cutface/scale.h"

namespace cutface {

struct Bench {
  CalibrationRecord record;
  Scale scale;
  std::string record_path;
  std::vector<std::string> warnings;
};

// What --calibration names. A file is read at once and holds for all pictures; in a folder each
// picture finds its own.
class Benches {
 public:
  // Errors: those of ReadCalibration and ReadRecordFolder; kUsage (--bench with a file).
  static Result<Benches> Open(const Call& call);
  // Errors: those of ChooseRecord; kCalibrationInvalid when a pitch is unknown.
  Result<Bench> For(int width_px, int height_px) const;

 private:
  std::optional<Bench> only_;
  RecordFolder folder_;
  RecordWish wish_;
};

// A passed check near the picture, where the call requires one. Errors: kBenchUnchecked; those of
// ReadCheckLog.
Status CheckRequired(const Call& call, const Bench& bench, const std::string& taken);

// calibrate and check as whole commands; they return the exit status.
int RunCalibrate(const Call& call, const Terminal& terminal);
int RunCheck(const Call& call, const Terminal& terminal);

}  // namespace cutface
