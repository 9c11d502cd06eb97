// A run of faces as plain values: which faces there are, what became of each, how many parts they
// speak of; and what people decide about them. Everything that tells of more than one face
// (reports, records, the window) starts from here.
//
// Files: run.json ("cutface/run") in a batch's folder, a list of decisions
// ("cutface/dispositions"). Both in UTF-8; schemas: src/data/run.schema.json and
// src/data/dispositions.schema.json.
// Keywords: roster, run.json, counts, n, disposition, concession, signature.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/section.h"

namespace cutface {

enum class FaceState {
  kMeasured,  // there is a result
  kRejected,  // the picture is there and cannot be measured
  kWaiting,   // not yet: no picture, no plane named, or the run was stopped
};
std::string_view FaceStateName(FaceState state);  // "measured", "rejected", "waiting"

// What a face is to another one of the run.
enum class RepeatKind {
  kNone,
  kReimage,  // the same cut face, pictured again
  kRecut,    // the same plane of the same part, cut or ground and polished again
};
std::string_view RepeatKindName(RepeatKind kind);  // "none", "re-image", "recut"

struct FaceEntry {
  std::string image;         // path from the run's folder, '/' between its parts
  std::string image_sha256;  // "" when there is no picture or it could not be read
  std::string part, revision, plane;
  SampleIdentity sample;                       // serial, lot, block, station, face, taken
  std::map<std::string, std::string> factors;  // of an experiment: name -> level
  std::string operator_name, trial;            // who took the picture; number of the repeat
  FaceState state = FaceState::kWaiting;
  std::string code;    // of the reason, as CodeName tells it; "" when measured
  std::string reason;  // why rejected or waiting, one line; "" when measured
  std::vector<std::string> proposed_planes;  // that the picture may show; never measured against
  std::string result_file, result_sha256;    // path from the folder of run.json; "" without one
  std::string design_sha256, calibration_sha256;
  Verdict verdict = Verdict::kNotJudged;  // of the result
  RepeatKind repeat = RepeatKind::kNone;
  std::string repeat_of;  // the image of the face that is repeated, or ""
};

// A file that a run went by.
struct RosterFile {
  std::string file;  // as the call named it
  std::string sha256;
  std::string id;  // of a calibration; part number of a drawing
};

struct Roster {
  std::string software;           // version
  std::string started, finished;  // UTC, ISO 8601; finished is "" when the run was stopped
  std::string folder;             // of the images, as the call named it
  std::string inspector;
  std::vector<RosterFile> designs, calibrations;
  std::vector<FaceEntry> faces;  // in the manifest's order, else by name
  std::vector<std::string> warnings;
};

std::string RosterToJson(const Roster& roster);
std::string FaceToJson(const FaceEntry& face);  // as it stands in the file, in one line
// Unknown keys are warnings. Errors: kJsonSyntax, kJsonMissingKey, kJsonValue with the key's path.
Result<Roster> ParseRoster(std::string_view text, const std::string& name);
// The same and kFileMissing, kFileUnreadable.
Result<Roster> ReadRoster(const std::string& path);
// Whole or not at all. Errors: kFileUnwritable.
Status WriteRoster(const std::string& path, const Roster& roster);

// --- honest counts -------------------------------------------------------------------------------

// One part of a run, with what was seen of it.
struct PartCount {
  std::string part, lot, serial;
  int faces = 0, imaged = 0, measured = 0, rejected = 0, waiting = 0, reimages = 0, recuts = 0;
  std::vector<std::string> planes;  // by name, each once
};

// n is the number of parts, never of pictures. Planes, re-images and recuts of one part are nested
// in it and not independent of one another: statistics over them say so or take one value a part.
struct Counts {
  int faces_cut = 0;  // different cut faces: a re-image shows one that was counted, a recut is new
  int imaged = 0;     // pictures that are there
  int measured = 0, rejected = 0, waiting = 0;  // of the entries
  std::map<std::string, int> rejected_by;       // code -> entries
  std::map<std::string, int> waiting_by;        // code -> entries
  int reimages = 0, recuts = 0;
  std::vector<PartCount> parts;           // by part, lot, serial; empty when they cannot be counted
  std::optional<int> n;                   // parts; not set: unknown
  std::optional<int> n_measured;          // parts with at least one measured face
  std::string n_unknown;                  // why the parts cannot be counted; "" when they can
  std::map<std::string, int> n_of_plane;  // parts with a measured face of the plane; empty likewise
};

// A part is a serial number within its part number and lot. Without a serial number, or with one
// that stands both with and without a lot or part number, parts are not counted: never guessed. An
// entry that names the same part, lot, serial, plane, station and side of the cut as one before it,
// and is not said to be a recut, counts as a re-image of that face.
Counts Count(const Roster& roster);

// "24 faces cut, 24 imaged, 23 measured, 1 rejected (image-truncated); n = 6 parts" and what is
// nested in them, in one line.
std::string CountsLine(const Counts& counts);

// --- decisions of people -------------------------------------------------------------------------

enum class DispositionKind { kAccept, kRecut, kRework, kScrap, kConcession };
std::string_view DispositionKindName(DispositionKind kind);  // "accept", "recut", "rework" ...
std::optional<DispositionKind> ParseDispositionKind(std::string_view word);

// What a named person decides about one row or finding of one result.
struct Disposition {
  DispositionKind what = DispositionKind::kAccept;
  std::string reference;       // of the concession; needed there
  std::string result_sha256;   // of the result file that it speaks of
  std::string row;             // number of the characteristic, or "" for a finding
  std::optional<int> finding;  // index in the result's findings, from 0
  std::string reason, by;      // both needed
  std::string when;            // ISO 8601 date, or date and time
};

enum class SignatureMeaning { kMeasured, kReviewed, kApproved };
std::string_view SignatureMeaningName(SignatureMeaning m);  // "measured", "reviewed", "approved"
std::optional<SignatureMeaning> ParseSignatureMeaning(std::string_view word);

struct Signature {
  SignatureMeaning meaning = SignatureMeaning::kMeasured;
  std::string by, when;
  std::string of_sha256;  // of the file that is signed
};

struct Decisions {
  std::vector<Disposition> dispositions;
  std::vector<Signature> signatures;
};

// People write this file: an unknown key is an error that names the nearest one. Errors:
// kJsonSyntax, kJsonUnknownKey, kJsonMissingKey, kJsonValue (also: a concession without reference,
// neither or both of row and finding, no reason, no name, a time that is none, a hash that is
// none).
std::string DecisionsToJson(const Decisions& decisions);
Result<Decisions> ParseDecisions(std::string_view text, const std::string& name);
Result<Decisions> ReadDecisions(const std::string& path);
Status WriteDecisions(const std::string& path, const Decisions& decisions);
// What is wrong with it, or "". The rules above for values that do not come from a file.
std::string Fault(const Disposition& disposition);
std::string Fault(const Signature& signature);
// Rows of these verdicts need a disposition before a report is signed or a record approved.
bool NeedsDisposition(Verdict verdict);
// Why a disposition does not settle a row of that verdict, or "": it has a fault, or what does not
// conform is simply accepted. A high finding counts as not proven.
std::string Objection(const Disposition& disposition, Verdict verdict);

}  // namespace cutface
