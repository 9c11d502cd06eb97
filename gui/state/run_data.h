// A run of faces as the window looks at it: what run.json and the result files of a folder say, and
// a folder measured in the background with the batch's own queue.
// Keywords: run, folder, queue, roster, overlay.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/design.h"
#include "cutface/roster.h"
#include "cutface/section.h"
#include "gui/state/run_statistics.h"

namespace cutface::window {

// Of one face: its rows and, thinned, its edges in the drawing's frame.
struct RunFace {
  FaceEntry entry;
  std::string path;     // of the result; "" without one
  std::string trouble;  // "" or why there is none, or it cannot be read
  std::vector<CharacteristicResult> rows;
  std::vector<ContourUm>
      edges;  // outline and bores, from the datum's centre, in the drawing's frame
  int findings = 0;

  std::string Name() const;  // serial, else the picture's name
};

struct RunData {
  std::string folder;
  bool has_roster = false;  // else: only the result files of the folder
  Roster roster;
  std::vector<RunFace> faces;
  std::vector<Design> designs;
  std::string counts;        // of the roster, one line
  RunStatistics statistics;  // empty while the run is being measured

  const SectionDesign* Plane(const std::string& part, const std::string& plane) const;
};
// `statistics`: told of the face as well; nullptr: nobody is.
RunFace ReadRunFace(const FaceEntry& entry, const std::string& folder,
                    const std::vector<Design>& designs, StatisticsMaker* statistics = nullptr);
// `place`: a folder of results, or its run.json. `design`: a drawing to use besides those that the
// run names. Errors: kFileMissing (no result there), those of ReadRoster; kCancelled.
Result<RunData> LoadRun(const std::string& place, const std::string& design,
                        const Progress& progress = {});

struct RunOrder {
  std::string pictures;  // folder
  std::string results;   // folder
  std::string manifest;  // "": manifest.csv or manifest.xlsx of the folder, where there is one
  std::string design, section, calibration, inspector;
  bool accept_overdue = false, accept_scale_mismatch = false;

  std::string Missing() const;  // "" or what is missing, in words
};
// Measures what is new or changed, as `cutface batch` does with the same words, one face after the
// other, and writes run.json. `done`: a face is finished. Errors: those of the room batch and of
// Benches and ReadDesign; a stopped run is none: what was measured stays, run.json says so.
struct RunEnd {
  int measured = 0, of = 0;
  bool stopped = false;
  std::vector<std::string> warnings;
};
Result<RunEnd> MeasureRun(const RunOrder& order, const std::function<void(const FaceEntry&)>& done,
                          const Progress& progress = {});

}  // namespace cutface::window
