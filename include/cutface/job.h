// One face from its file to its result: the bench of the picture, the checks that stand before
// measuring, the measuring itself, and where results go. The command line and the window both call
// this, so that both give the same result.
//
// Keywords: measure a file, calibration record or folder, overdue, overrule, output files.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/calibration_keeping.h"
#include "cutface/design.h"
#include "cutface/inspect.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

// --- the bench -----------------------------------------------------------------------------------

struct Bench {
  CalibrationRecord record;
  Scale scale;
  std::string record_path;
  std::vector<std::string> warnings;
};

// A record's file or a folder of records, and what chooses in the folder.
struct BenchWish {
  std::string calibration;
  std::string bench, objective;  // "": any
};

// What a wish names. A file is read at once and holds for all pictures; in a folder, or of several
// files, each picture finds its own.
class Benches {
 public:
  // Errors: those of ReadCalibration and ReadRecordFolder; kUsage (a bench named beside a file).
  static Result<Benches> Open(const BenchWish& wish);
  // Of several files and folders together. Errors: as above; kCalibrationInvalid: an id twice.
  static Result<Benches> Open(const BenchWish& wish, const std::vector<std::string>& paths);
  // An objective or id of the picture's own goes before the wish's. Errors: those of ChooseRecord;
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

// A passed check of the bench within so many hours of the picture; nullopt: none is asked for.
// Errors: kBenchUnchecked; those of ReadCheckLog.
Status CheckRequired(std::optional<double> hours, const Bench& bench, const std::string& taken);

// --- measuring -----------------------------------------------------------------------------------

// The two long stages; tests replace them, to reach every outcome without a picture that provokes
// it.
struct Stages {
  std::function<Result<SectionResult>(const Micrograph&, const CalibrationRecord&, const Scale&,
                                      const Design&, const SectionDesign&, const InspectOptions&)>
      inspect = Inspect;
  std::function<Result<Survey>(const Micrograph&, const CalibrationRecord&, const Scale&,
                               const InspectOptions&)>
      survey = SurveySection;
};

// What a person says about one picture.
struct FaceOrder {
  Channel channel = Channel::kGreen;  // that the picture was read with; the blank is read alike
  double u_floor_um = 0.5;
  SampleIdentity sample;
  std::string objective, bench;  // of this picture; "": what the wish of the benches says
  std::string inspector;
  std::optional<PressureLoads> loads;
  std::optional<HintBook> hints;
  bool correct_oblique = false;
  bool accept_overdue = false, accept_scale_mismatch = false;  // recorded with `inspector`
  std::optional<double> require_check_h;
  Progress progress;
};

// The section of a drawing; "" where it has only one. Errors: kUsage (several), kNotFound, naming
// all and the nearest.
Result<const SectionDesign*> ChooseSection(const Design& design, const std::string& name);

// Does the record fit the picture? As CheckCalibration; what is accepted though it does not, and
// only that, goes into `overrules` with the name. Errors: those of CheckCalibration.
struct ScaleOutcome {
  std::vector<std::string> warnings, overrules;
};
Result<ScaleOutcome> CheckScale(const CalibrationRecord& record, const Micrograph& micrograph,
                                const std::string& taken, const FaceOrder& order);

// The bench of a picture, checked, and what Inspect is to be told.
struct ReadyFace {
  Bench bench;
  InspectOptions options;
  std::optional<Micrograph> evened;  // where the record has a flat field: what is measured
};
// `image_kind` as the drawing says: single, crop, stitched. Errors: those of the functions above
// and of ReadFlatField.
Result<ReadyFace> PrepareFace(const Micrograph& micrograph, const Benches& benches,
                              const std::string& image_kind, const FaceOrder& order);

struct MeasuredFace {
  SectionResult result;
  std::optional<Design> draft;  // survey
  ReadyFace ready;
};
// With a plane: Inspect; without: SurveySection. Errors: those of PrepareFace and of the stages.
Result<MeasuredFace> MeasureFace(const Micrograph& micrograph, const Benches& benches,
                                 const Design& design, const SectionDesign* plane,
                                 const FaceOrder& order, const Stages& stages = {});

// --- files ---------------------------------------------------------------------------------------

struct OutputPaths {
  std::string result;   // DIR/STEM.result.json
  std::string picture;  // DIR/STEM.png
  std::string drawing;  // DIR/STEM.svg, or "" when none was asked for
  std::string edges;    // DIR/STEM.edges.png, or ""
  std::string pressed;  // DIR/STEM.pressure.png, or ""
};
OutputPaths PathsFor(const std::string& image, const std::string& folder, bool with_svg = false,
                     bool with_edges = false, bool with_pressure = false);

// The same from BASE, a path without ending.
OutputPaths PathsOfBase(const std::string& base, bool with_svg, bool with_edges,
                        bool with_pressure);

// Two images of one call that would write the same files. Errors: kUsage.
Status CheckStems(const std::vector<std::string>& images);

// Makes the folder when it is missing. Errors: kFileUnwritable.
Status MakeFolder(const std::string& folder);

// Files that are there already must be this program's own: a result file by its format, a picture
// by the mark that MarkedPicture leaves. This also keeps an input picture from being overwritten.
// Errors: kUsage.
Status CheckOverwriting(const OutputPaths& paths);

// The PNG with a text chunk that says who wrote it (ISO/IEC 15948, tEXt "Software").
std::vector<std::byte> MarkedPicture(std::span<const std::byte> png, const std::string& software);
bool IsMarkedPicture(std::span<const std::byte> png);
// An SVG file whose second line says that this program wrote it.
bool IsMarkedDrawing(std::string_view svg);

struct Drawn {
  std::vector<std::byte> png;
  std::string svg;
  std::vector<std::byte> edges;
  std::vector<std::byte> pressed;
};
// Pictures first, result last: a result file is only there when everything is. What `paths` has no
// place for is not written. Errors: kFileUnwritable; then nothing new is left behind.
Status WriteOutputs(const OutputPaths& paths, const Drawn& drawn, const SectionResult& result);

}  // namespace cutface
