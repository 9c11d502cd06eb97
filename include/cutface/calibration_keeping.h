// Keeping a bench calibrated: the folder of its records, the log of its checks, its flat field.
//
// A folder of *.calibration.json is the set of a laboratory's benches. A record is never
// overwritten: a new one names the old in `supersedes`, and only the last of such a chain is
// chosen. Checks against a known standard stand in one log beside the records, one JSON line each,
// each with the hash of the line before, so that a line changed or taken out later shows.
// Keywords: records, supersede, bench, check standard, En, drift, log, flat field, blank, shading.
#pragma once

#include <opencv2/core/mat.hpp>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/calibration.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"

namespace cutface {

// --- records -------------------------------------------------------------------------------------

struct RecordFolder {
  std::string path;
  std::vector<CalibrationRecord> records;  // in the order of their file names
  // The id that supersedes this one, over the whole chain; "" when it is the last.
  std::string SupersededBy(std::string_view id) const;
};
// All *.calibration.json of a folder (not of folders within). Errors: kFileMissing; those of
// ReadCalibration; kCalibrationInvalid: no record, an id twice, one record superseded by two, or a
// ring of records that supersede one another. An older record that is not there is no error.
Result<RecordFolder> ReadRecordFolder(const std::string& path);

struct RecordWish {
  std::string id;                     // "": chosen by what follows
  std::string objective, microscope;  // "": any
  int width_px = 0, height_px = 0;    // of the picture; 0: any
};
// The one record that is not superseded and matches. Errors: kNotFound (none; names the nearest
// id), kUsage (two or more match: names them; or the id asked for is superseded: names its heir).
Result<CalibrationRecord> ChooseRecord(const RecordFolder& folder, const RecordWish& wish);

// Writes a new record. Errors: kUsage when the file is there already, when a record of the folder
// has the same id, or when another one has superseded `supersedes`; kFileUnwritable.
Status KeepRecord(const std::string& path, const CalibrationRecord& record);

// --- times ---------------------------------------------------------------------------------------

// "2026-03-02T09:15[:30][Z]". Without Z the time of an unnamed place, as cameras write it.
struct ClockTime {
  double seconds = 0;  // since 1970 by that clock
  bool utc = false;
};
// nullopt when it is no such time, also for a date alone.
std::optional<ClockTime> ParseClockTime(std::string_view text);

// --- checks --------------------------------------------------------------------------------------

// One check of a bench: a known standard measured with its record. Lengths in micrometres.
struct BenchCheck {
  std::string time;   // when it was computed, UTC
  std::string taken;  // when the picture of the standard was taken, as ClockTime
  std::string by;
  std::string calibration_id, calibration_sha256;
  std::string standard_kind;  // "line distance", "circle", "pin"
  std::string serial, certificate;
  double certified_um = 0, certified_u_um = 0;
  double measured_um = 0, measured_u_um = 0;
  std::optional<double> limit_um;  // of |error|; without one En decides
  std::string image_file, image_sha256;
  bool passed = false;
  std::string reason;  // why it was not passed

  double ErrorUm() const { return measured_um - certified_um; }
  // En = error / sqrt(U_measured^2 + U_certified^2), U = 2 u (ISO/IEC 17043; ISO 13528).
  double En() const;
};
// An expanded uncertainty of a check above this share of the standard says nothing about a bench:
// the tool's limit for scales that contradict each other.
inline constexpr double kCoarsestCheck = kScaleMismatch;

// Fills `passed` and `reason`: with a limit |error| <= limit and U <= limit, else |En| <= 1 and
// U <= kCoarsestCheck of the size. Not finite numbers do not pass.
void DecideCheck(BenchCheck& check);

// Measures the standard of a picture with a record. The fit is what FindLineScale found, or
// holds the diameter of a circle or pin; `spec` gives the certified value. Fills everything but
// time, taken, by and names. Errors: kUsage (a kind that cannot be checked, no certified value),
// kCalibrationInvalid (a pitch unknown), kNoPattern (too few marks).
Result<BenchCheck> MeasureStandard(const TargetFit& fit, const TargetSpec& spec,
                                   const CalibrationRecord& record);

// DIR/checks.jsonl of the folder where the record lies.
std::string CheckLogPath(const std::string& record_path);
// LOG.end beside it: how many lines were written and the hash of the last, so that lines cut off at
// the log's end are noticed (unless that file is changed too: copies elsewhere are the site's
// part).
std::string CheckLogEndPath(const std::string& log_path);
// Errors: kFileMissing, kFileUnreadable; kJsonSyntax, kJsonValue with the line's number: no JSON, a
// key wrong or missing, a line cut off, a chain that is broken, or an end that was cut off. An
// empty log has no checks.
Result<std::vector<BenchCheck>> ReadCheckLog(const std::string& path);
Result<std::vector<BenchCheck>> ParseCheckLog(std::string_view text, const std::string& name);
// Adds a line to a log that is sound, under a lock; makes the file when missing. Errors: those of
// ReadCheckLog, kFileUnwritable.
Status AppendCheck(const std::string& path, const BenchCheck& check);

// Was the bench checked when a picture was taken? A check of this record within `hours` before or
// after must have passed, and neither the last one before nor the first one after, however far,
// may have failed. Returns that check. Errors: kBenchUnchecked with the reason; also when the
// picture's time is not known to the minute or its clock cannot be compared with the log's.
Result<BenchCheck> RequireCheck(std::span<const BenchCheck> log, const CalibrationRecord& record,
                                const std::string& taken, double hours);

// When the last good check before a failed one was taken; "" when there was none.
std::string LastGoodBefore(std::span<const BenchCheck> log, const BenchCheck& failed);

// --- plots ---------------------------------------------------------------------------------------

struct Plot {
  std::vector<std::byte> png;
  std::string svg;
};
// Where the marks lie beside their places, against the place in the picture: says in a sentence
// whether anything but scatter is left. Errors: kUsage (no marks), kInternal (cairo).
Result<Plot> PlotResiduals(std::span<const TargetFit> fits, double pitch_um);
// Error of each check in order of time, with its expanded uncertainty and limit.
Result<Plot> PlotDrift(std::span<const BenchCheck> log, const std::string& calibration_id);

// --- light ---------------------------------------------------------------------------------------

// The light of the empty field as a smooth surface: robust, so that dust on the blank does not
// enter, and of few terms, so that its noise does not.
class FlatField {
 public:
  // Errors: kCalibrationInvalid: clipped or dark blank, or light that no smooth surface follows.
  static Result<FlatField> FromBlank(const Micrograph& blank, double gamma);
  double LightAt(double x, double y) const;  // relative, 1 at its greatest within the picture
  double unevenness() const { return unevenness_; }  // 1 - least / greatest light
  double left_over() const { return left_over_; }    // spread of the blank about the surface
  // The picture as even light would show it: (tone^gamma / light)^(1/gamma), dimmed so that nothing
  // new is clipped; 0 and full scale stay what they are. 16 bits, so that nothing is rounded away.
  // Errors: kCalibrationMismatch for another size.
  Result<Micrograph> Apply(const Micrograph& picture) const;

 private:
  std::vector<double> terms_;  // polynomial of x, y in -1..1
  int width_ = 0, height_ = 0;
  double gamma_ = 1, greatest_ = 1, least_ = 1, unevenness_ = 0, left_over_ = 0;
};
// The record's blank beside `record_path`, checked by its hash. nullopt when it names none. Errors:
// those of ReadMicrograph; kCalibrationInvalid: another file than the record's, gamma unknown.
Result<std::optional<FlatField>> ReadFlatField(const CalibrationRecord& record,
                                               const std::string& record_path, Channel channel);

// Gamma of the camera from two pictures of one field, the second with `ratio` times the exposure of
// the first: tone = light^(1/gamma) moves every tone by ratio^(1/gamma). Errors: kUsage (ratio not
// above 1.1 or below 1/1.1, sizes differ), kCalibrationInvalid (tones do not follow one power).
struct GammaEstimate {
  double gamma = 1, u = 0;
};
Result<GammaEstimate> GammaFromExposures(const Micrograph& first, const Micrograph& second,
                                         double ratio);

}  // namespace cutface
