// A folder of pictures measured unattended: what is to be measured (manifest or names), what was
// done already (ledger), and workers that do the rest.
//
// Reads no picture itself: the caller's function measures one face and writes its files. Nothing is
// guessed: a face without a section plane waits, a picture that the manifest does not name is told.
// Keywords: batch, manifest, CSV, XLSX, pattern, ledger, resume, watch, lock, jobs.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/design.h"
#include "cutface/roster.h"

namespace cutface {

// --- what stands in the folder -------------------------------------------------------------------

// One row: everything that a person knows of a picture. Empty: not told.
struct ManifestRow {
  int line = 0;       // of the file, from 1; 0 when it comes from a name
  std::string image;  // path from the run's folder
  std::string part, revision, plane;
  SampleIdentity sample;
  std::map<std::string, std::string> factors;
  std::string operator_name, trial;
  std::string objective, calibration;  // id of the record
  std::string reimage_of, recut_of;    // image of the face that is repeated
};

struct Manifest {
  std::vector<ManifestRow> rows;
  std::vector<std::string> warnings;
};

// A table whose first row names the columns, in any order: image (needed), part, revision, serial,
// lot, block, plane, station (mm), face (proximal, distal), taken (ISO 8601), operator, trial,
// objective, calibration, reimage of, recut of, remark (not read), and factor:NAME. As CSV (RFC
// 4180; comma, semicolon or tab; UTF-8) or as XLSX (ISO/IEC 29500; the first sheet), told by its
// first bytes. Rows without any text are left out.
// Errors: kFileMissing, kFileUnreadable; kJsonSyntax (no table: bad quotes, damaged file);
// kJsonUnknownKey (a column that is unknown or stands twice), kJsonMissingKey (no image column,
// or a row without an image); kJsonValue with row and column.
Result<Manifest> ReadManifest(const std::string& path);
Result<Manifest> ParseManifest(std::span<const std::byte> bytes, const std::string& name);

// The rows of any such table as text, the first row included. Errors: kFileMissing,
// kFileUnreadable, kJsonSyntax, kJsonValue.
Result<std::vector<std::vector<std::string>>> ReadTableRows(const std::string& path);

// A manifest of a run's faces in CSV, for faces that wait for their plane: the one plane that was
// proposed stands in its column, the word of a person as soon as the file is given back; where none
// or several fit the column is empty and the remark lists them. A cell that a spreadsheet would
// take for a formula has a quote before it, which reading takes away.
std::string ManifestToCsv(const Roster& roster);

// What a file name tells: "{serial}_{plane}_{face}.png". Fields are the columns above but image,
// remark and the repeats, factor:NAME, and {any} for what is not kept. A field takes one character
// or more, never '/'. A pattern with '/' is held against the path from the folder, else against the
// name alone.
class NamePattern {
 public:
  // Errors: kUsage with the place: unknown field, a field twice, two fields side by side.
  static Result<NamePattern> Parse(std::string_view text);
  // Plane, face and station narrow a reading down: they must be a section of the drawings,
  // "proximal" or "distal", and a number. Errors: kUsage when the name does not fit, or fits in two
  // ways.
  Result<ManifestRow> Match(const std::string& image, std::span<const Design> designs) const;

 private:
  struct Piece {
    bool field = false;
    std::string text;  // name of the field, or the literal text
  };
  std::string text_;
  std::vector<Piece> pieces_;
  bool whole_path_ = false;
};

// Pictures of a folder (by their ending: png, jpg, jpeg, bmp, tif, tiff) as paths from it, sorted
// by bytes. Hidden ones and the folder `without` (results) are left out; links to folders are not
// followed. Errors: kFileMissing, kFileUnreadable.
Result<std::vector<std::string>> FindImages(const std::string& folder, bool recursive,
                                            const std::string& without = "");

// Size, times of change and place on the disk of a file as one text, "SIZE:..."; "" when there is
// none. Two equal texts: nothing was written in between.
std::string FileStat(const std::string& path);

// --- what is to be measured ----------------------------------------------------------------------

struct PlannedFace {
  FaceEntry entry;   // state waiting; code and reason are set when it is not to be measured
  std::string path;  // of the picture
  std::string stem;  // of its output files, path from the folder of results
  const Design* design = nullptr;
  std::string objective, calibration;
  bool ready = false;    // to be measured against entry.plane
  bool propose = false;  // no plane is named: look which ones it may show
};

struct Plan {
  std::vector<PlannedFace> faces;
  std::vector<std::string> warnings;
};

struct PlanRequest {
  std::string folder;
  bool recursive = false;
  std::string results;  // folder of results, which holds no pictures to measure
  const Manifest* manifest = nullptr;
  const NamePattern* pattern = nullptr;
  std::string section;  // of all faces that no manifest or pattern gives a plane
  // A file that is still being written is left for later; empty: all are whole.
  std::function<bool(const std::string& path)> whole;
};

// The plan points into `designs`. Errors: those of FindImages; kUsage: a plane that contradicts
// `section`, or no such section in any drawing.
Result<Plan> MakePlan(const PlanRequest& request, std::span<const Design> designs);

// The stem of the output files of each image: its path without the ending; with it where two
// would be the same. Characters that would steer a terminal become '_' and over-long names are cut,
// both with a hash of the name behind them.
std::vector<std::string> OutputStems(std::span<const std::string> images);

// --- what was done already -----------------------------------------------------------------------

// One finished face. Numbers of the file system tell quickly that nothing changed; the hashes tell
// it surely.
struct LedgerLine {
  std::string image;
  std::string stat;  // of the picture: size, times, place on the disk; "" when it may still change
  std::string image_sha256;
  int width_px = 0, height_px = 0;
  std::string key;  // digest of all that the result depends on besides the picture
  std::string stem, result_stat;
  std::string result_sha256, design_sha256, calibration_sha256;
  std::string verdict;              // of the result; "" when rejected or proposed
  std::string code, reason;         // when rejected
  std::vector<std::string> planes;  // proposed
  std::vector<std::string> warnings;
};

// One line of run.ledger, its end included; what is no UTF-8 is replaced.
std::string LedgerLineToJson(const LedgerLine& line);
// The text of a run.ledger. A line that is none is left out: that face is measured again. What
// stands behind the last line end was cut off by a crash. Errors: kUsage: somebody else's file.
struct LedgerText {
  std::vector<LedgerLine> lines;  // as they stand; of two for one image the later one holds
  std::size_t whole_bytes = 0;    // up to the last line end
};
Result<LedgerText> ParseLedger(std::string_view text, const std::string& name);

// run.ledger in the folder of results, one JSON line a face, appended as faces are done; and
// run.lock, which keeps a second run out. A line that was cut off by a crash is left out.
class Ledger {
 public:
  // Makes the folder. Errors: kUsage: another run works on it, or run.ledger is somebody else's
  // file; kFileUnwritable, kFileUnreadable.
  static Result<Ledger> Open(const std::string& folder);
  Ledger(Ledger&&) noexcept;
  Ledger& operator=(Ledger&&) noexcept;
  ~Ledger();

  const LedgerLine* Find(const std::string& image) const;
  // On the disk when it returns. Errors: kFileUnwritable; the ledger is as it was before.
  Status Put(LedgerLine line);
  // Rewrites the file with one line a face, those of `images` only, when it has others.
  Status Tidy(std::span<const PlannedFace> faces);

 private:
  struct State;
  explicit Ledger(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

// --- the run -------------------------------------------------------------------------------------

struct FaceDone {
  int width_px = 0, height_px = 0;
  std::string image_sha256, result_sha256, design_sha256, calibration_sha256;
  Verdict verdict = Verdict::kNotJudged;
  std::vector<std::string> warnings;
};

struct BatchProgress {
  int done = 0, of = 0;      // faces
  int measured = 0;          // of them anew, not taken from the ledger
  double seconds = 0;        // since the first picture was begun
  double seconds_left = -1;  // as far as can be told from the rate; below 0: not yet
};

// The caller's part. `key`, `measure` and `propose` are called from several threads at once.
struct BatchWork {
  // Digest of all that the result depends on besides the picture's bytes: drawing, plane,
  // calibration for a picture of this size, options, version. Errors: no calibration fits ...
  std::function<Result<std::string>(const PlannedFace&, int width_px, int height_px)> key;
  // Measures and writes STEM.result.json and what goes with it. Stops when `go_on` is false.
  std::function<Result<FaceDone>(const PlannedFace&, const std::function<bool()>& go_on)> measure;
  // Planes that the picture may show. Also fills sizes of the outcome for the key.
  std::function<Result<std::vector<std::string>>(const PlannedFace&, FaceDone&)> propose;
  // A face is done, in the plan's order, from the calling thread. `fresh`: not from the ledger.
  std::function<void(const FaceEntry&, const std::vector<std::string>& warnings, bool fresh)>
      finished;
  // Some five times a second from the calling thread; false stops the run.
  std::function<bool(const BatchProgress&)> tick;
};

struct BatchEnd {
  std::vector<FaceEntry> faces;  // as planned, filled in
  int measured = 0;              // anew
  int looked_at = 0;             // anew, rejected and proposed ones too
  bool stopped = false;
  std::vector<std::string> warnings;
};

// Measures what is new or changed, `jobs` faces at a time. One bad face never stops the others;
// a folder of results that takes no more files does (kFileUnwritable: the rest waits). Same
// results, byte for byte, whatever `jobs` is. REQUIRES: jobs >= 1.
BatchEnd RunBatch(const Plan& plan, const std::string& results, int jobs, Ledger& ledger,
                  const BatchWork& work);

// Bytes that all workers together may hold; a worker waits until its share is free.
class MemoryGate {
 public:
  explicit MemoryGate(std::uint64_t limit_bytes);
  ~MemoryGate();
  class Share {
   public:
    Share() = default;
    Share(Share&& other) noexcept;
    Share& operator=(Share&& other) noexcept;
    ~Share();

   private:
    friend class MemoryGate;
    MemoryGate* gate_ = nullptr;
    std::uint64_t bytes_ = 0;
  };
  // Waits; nullopt when `bytes` is more than the whole limit.
  std::optional<Share> Take(std::uint64_t bytes);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace cutface
