// One sample in the tray: what was ordered, its picture, and what was measured.
// Keywords: order, sample, tray, stage.
#pragma once

#include <memory>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

#include "cutface/job.h"
#include "cutface/profile.h"
#include "gui/state/scene.h"
#include "gui/state/signing.h"
#include "gui/state/tiles.h"

namespace cutface::window {

// What a person chose for one sample; the words are those of the command line.
struct Order {
  std::string image, design, section, calibration, out;
  SampleIdentity sample;
  std::string inspector;
  bool accept_overdue = false, accept_scale_mismatch = false;

  // "" when it can be measured, else what is missing, in words.
  std::string Missing() const;
  FaceOrder ForJob(const Progress& progress) const;
};

// Everything that follows from one measuring; made in the background, then only read.
struct Measured {
  SectionResult result;
  Design design;
  std::string plane;  // name within design; "" without a drawing
  Scale scale;
  std::shared_ptr<const ReadyFace> ready;  // nullptr: read from a file
  SectionResult found;                     // without anybody's corrections
  std::vector<Mark> marks;
  DatumFrame frame;
  std::vector<WallProfile> walls;
  Box<FramePx> face;  // in the picture

  const SectionDesign* Plane() const { return design.FindSection(plane); }
};
// Fills marks, frame, walls and face from the result.
void Finish(Measured& measured);

// What people did and did not save yet. Only what was done counts, never a number: it is done again
// on the picture.
struct UnsavedWork {
  Order order;
  std::string image_sha256;
  std::vector<Correction> corrections;
  std::vector<AskedFigure> asked;  // their edges, words and names count
};

enum class Stage { kReading, kShown, kMeasuring, kMeasured, kFailed };

struct Sample {
  int id = 0;
  Order order;
  Stage stage = Stage::kReading;
  std::shared_ptr<const Micrograph> picture;
  std::shared_ptr<const TilePyramid> tiles;
  DisplayRange range;
  std::shared_ptr<const Measured> measured;
  std::optional<Error> error;
  std::vector<Correction> corrections, undone;
  bool unsaved = false, out_of_date = false;
  std::string saved_as;
  SignedState signed_state;                       // of the file `saved_as`
  std::shared_ptr<const UnsavedWork> to_restore;  // done again as soon as it is measured
  std::string left_behind;                        // the file that it came from
  cv::Mat thumbnail;                              // CV_8UC1, square
  std::uint64_t revision = 0;

  std::string Name() const;  // for the tray: the serial, else the file's stem
};

// --- the jobs, as functions without a window ----------------------------------------------------

struct Picture {
  std::shared_ptr<const Micrograph> micrograph;
  std::shared_ptr<const TilePyramid> tiles;
  DisplayRange range;
};
// Errors: those of ReadMicrograph; kCancelled.
Result<Picture> LoadPicture(const std::string& path, const Progress& progress = {});
// As `cutface measure` with the same words. Errors: as there.
Result<Measured> MeasureSample(const Micrograph& picture, const Order& order,
                               const Progress& progress = {});
// The same result after these corrections. Errors: those of Remeasure.
Result<Measured> CorrectSample(const Micrograph& picture, const Measured& before,
                               const std::vector<Correction>& corrections,
                               const Progress& progress = {});
// Work that was not saved, done again on a fresh measuring. Errors: those of Remeasure; kUsage: the
// picture is another one now.
Result<Measured> RestoreWork(const Micrograph& picture, const Measured& fresh,
                             const UnsavedWork& work, const Progress& progress = {});
// The marked picture as a .png or .svg file. Errors: kUsage (another ending, or a file that this
// program did not write stands there), kFileUnwritable, those of the room picture.
Status ExportPicture(const Micrograph& picture, const Measured& measured, const Order& order,
                     const std::string& path);
// A result file with its picture, where that lies beside it. Errors: those of ReadResult.
struct Reopened {
  Order order;
  Measured measured;
  std::vector<Correction> corrections;
  std::string picture;  // "" when it was not found
};
// The picture is looked for beside the result, one folder up, and in `folders`.
Result<Reopened> ReopenResult(const std::string& path,
                              const std::vector<std::string>& folders = {});
// Result and picture as the command line writes them, into order.out. Returns the result's path.
// Errors: those of CheckOverwriting, MakeFolder and WriteOutputs.
Result<std::string> SaveSample(const Micrograph& picture, const Measured& measured,
                               const Order& order);

}  // namespace cutface::window
