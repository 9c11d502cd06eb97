// The bench of a picture: its record out of a file or a folder, its checks, its light.
#pragma once

#include <map>
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

// What --calibration names. A file is read at once and holds for all pictures; in a folder, or of
// several files, each picture finds its own.
class Benches {
 public:
  // Errors: those of ReadCalibration and ReadRecordFolder; kUsage (--bench with a file).
  static Result<Benches> Open(const Call& call);
  // Of several files and folders together. Errors: as above; kCalibrationInvalid: an id twice.
  static Result<Benches> Open(const Call& call, const std::vector<std::string>& paths);
  // An objective or id of the picture's own goes before the call's. Errors: those of ChooseRecord;
  // kCalibrationMismatch: the only record is another one; kCalibrationInvalid when a pitch is
  // unknown.
  Result<Bench> For(int width_px, int height_px, const std::string& objective = "",
                    const std::string& id = "") const;
  std::vector<CalibrationRecord> Records() const;
  std::string PathOf(const CalibrationRecord& record) const;

 private:
  std::optional<Bench> only_;
  RecordFolder folder_;
  std::map<std::string, std::string> paths_;  // by id, where they lie in several folders
  RecordWish wish_;
};

// A stitched or cropped picture keeps the pitch of its record and nothing else: where the centre of
// distortion lies in it is not known. Takes distortion, shear and flat field out of the bench,
// widens the pitch's uncertainty by what they can do to a length, and warns; the size of the
// picture is then no contradiction. Leaves other kinds alone. Errors: kCalibrationInvalid.
bool TakesPitchOnly(const std::string& image_kind);
Status KeepPitchOnly(const std::string& image_kind, int width_px, int height_px, Bench& bench);

// Standard uncertainty that the seams of a stitched picture give a length across one; else 0.
double SeamU_um(const std::string& image_kind, const Scale& scale);

// A passed check near the picture, where the call requires one. Errors: kBenchUnchecked; those of
// ReadCheckLog.
Status CheckRequired(const Call& call, const Bench& bench, const std::string& taken);

// calibrate and check as whole commands; they return the exit status.
int RunCalibrate(const Call& call, const Terminal& terminal);
int RunCheck(const Call& call, const Terminal& terminal);

}  // namespace cutface
