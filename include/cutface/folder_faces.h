// What the faces of a folder share, whoever measures them: what their results depend on (the
// ledger's key), what is noted of one that is done, and the planes that one without a name may
// show. `cutface batch` and the window both call this, so that neither measures again what the
// other has done. Keywords: ledger, key, digest, proposal.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "cutface/batch.h"
#include "cutface/job.h"

namespace cutface {

// What a result depends on that is the same for all faces of a run. Defaults are those of the
// command line.
struct FolderOptions {
  std::string software;
  Channel channel = Channel::kGreen;
  double u_floor_um = 0.5;
  std::string image_kind;  // "": what the drawing says
  bool correct_oblique = false, svg = false, edge_map = false, no_pictures = false;
  std::string hints;  // a site's own file; "": the built-in ones
  std::string inspector;
  bool accept_overdue = false, accept_scale_mismatch = false;
  std::map<std::string, double> pressures_mpa;  // by lumen
  bool wires_free = false;
  std::optional<double> require_check_h;
  std::string objective, bench;           // choose in a folder of records
  std::vector<std::string> calibrations;  // files and folders; their logs of checks count where
                                          // checks are asked for
};
// Reads the hints and the logs: what they say counts, not where they lie.
std::string DigestOf(const FolderOptions& options);

// The ledger's key of a face: the options' digest, its record (by the picture's size; 0: unknown,
// then any of them), drawing, plane and identity. Errors: those of Benches::For.
Result<std::string> FaceKey(const std::string& options_digest, const Benches& benches,
                            const PlannedFace& face, int width_px, int height_px);

// What is noted of a face whose result was written. Errors: those of ReadFile.
Result<FaceDone> DoneWith(const SectionResult& result, const std::string& result_path);

// Planes of its drawing that a picture may show; notes its size. Errors: those of ReadMicrograph
// and Benches::For.
Result<std::vector<std::string>> ProposePlanes(const PlannedFace& face, const Benches& benches,
                                               const ReadOptions& reading, FaceDone& about,
                                               const Stages& stages = {});

// The records that faces were measured with.
std::vector<RosterFile> RecordsUsed(const Benches& benches, const std::vector<FaceEntry>& faces);

// The run that stands in a folder of results; nothing where there is none. Errors: kUsage: run.json
// is somebody else's file.
Result<std::optional<Roster>> RunBefore(const std::string& results);
// Writes run.json, unless nothing but the times would change: it may be signed, and then stays as
// it is. Errors: kFileUnwritable.
Status KeepRun(const std::string& results, const Roster& roster, std::optional<Roster>& before);

}  // namespace cutface
