// What the command line says, checked as far as that goes without opening a file.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "cli/records_options.h"
#include "cutface/base.h"
#include "cutface/compare.h"
#include "cutface/micrograph.h"
#include "cutface/report.h"
#include "cutface/section.h"

namespace cutface {

// A target in a picture and its certificate, as calibrate and check are told of it.
struct TargetCall {
  std::string target;    // kind in the picture; "": by the artefact
  std::string artefact;  // stage micrometer, dot grid, check standard
  std::string serial, certificate, certificate_due;
  double division_um = 0, diameter_um = 0;
  std::optional<double> u_um, temperature_c;
};

struct CalibrateCall {
  std::string id, supersedes, objective, microscope, zoom_stop, binning, by, made, due;
  std::optional<double> nominal_pitch_um, square_pixels_u;
  std::string blank;
  std::vector<std::string> exposure_pair;  // two pictures
  double exposure_ratio = 2;
  bool copy_evidence = false;
};

struct CheckCall {
  std::string by, results;
  std::optional<double> limit_um;
};

struct QualifyCall {
  std::string image, smallest_void, smallest_septum, check_log;
  std::vector<std::string> limits;
  int faces = 60, jobs = 0;  // jobs 0: one a core
  std::uint64_t seed = 1;
  double reliability = 0.9, tilt_deg = 2;
};

struct PlanesCall {
  double spacing_um = 0;  // 0: stations of the results
  double u_station_um = 10, align_um = 10;
  int carriers = 0;
  std::vector<double> void_sizes_um;
  std::string out;  // a new file, or ""
};

struct ReportCall {
  std::string dispositions, draft, images, part, lot;
  std::string records;  // store that holds the results; "": none
  ReportFormats formats{false, false, false, false, false};  // none: the default ones
};

struct StudyCall {
  std::string table, level, name;
  double pool_above = 0.25, good_percent = 10, limit_percent = 30;
};

struct CompareCall {
  std::string part, against;
  std::vector<std::string> bounds, margins;  // as typed
  CompareOptions options;
};

struct BatchCall {
  std::string folder, manifest, pattern;
  std::vector<std::string> designs, calibrations;
  std::string records;  // store that takes every result; "": none
  bool recursive = false, watch = false, no_pictures = false;
  int jobs = 0;       // 0: one a core
  int memory_mb = 0;  // 0: as much as the jobs take
};

struct Call {
  enum class Command {
    kNone,
    kMeasure,
    kSurvey,
    kCalibrate,
    kCheck,
    kQualify,
    kPlanes,
    kOpening,
    kReport,
    kRecords,
    kStudy,
    kCompare,
    kBatch
  };
  Command command = Command::kNone;
  std::string answer;  // of --help and --version; there is nothing else to do then

  std::vector<std::string> images;
  std::string design, section, calibration;
  std::string bench, objective;           // choose in a folder of records
  std::optional<double> require_check_h;  // a passed check of the bench within so many hours
  TargetCall target;
  CalibrateCall calibrate;
  CheckCall check;
  QualifyCall qualify;
  std::string sleeve, stiffness;  // of opening; the result stands in `images`
  PlanesCall planes;              // the results stand in `images`
  StudyCall study;                // a run, results or a table
  ReportCall report;              // the run or the results stand in `images`
  RecordsCall records;
  CompareCall compare;  // the run or the results stand in `images`
  BatchCall batch;
  std::string out = ".";
  std::map<std::string, double> pressures_mpa;  // by lumen
  bool wires_free = false;
  std::string draft_design;
  std::string hints;       // a site's own file; "" = the built-in ones
  std::string image_kind;  // "" = what the drawing says, else single
  bool json = false;
  bool svg = false;
  bool edge_map = false;
  bool correct_oblique = false;
  Channel channel = Channel::kGreen;
  double u_floor_um = 0.5;
  SampleIdentity sample;
  std::string inspector;
  bool accept_overdue = false;
  bool accept_scale_mismatch = false;
};

// "10um", "0.1mm", "0.001in" in micrometres. Errors: kUsage.
Result<double> ParseLength(const std::string& text);

// "scope=3bar,wash=20psi": pressures by lumen in MPa, added to `out`. Errors: kUsage.
Status ParsePressures(const std::string& text, std::map<std::string, double>& out);

// Errors: kUsage.
Result<Call> ParseCall(const std::vector<std::string>& words);

}  // namespace cutface
