// A run against nominal: what the results of many faces say together of each row of the drawing.
//
// Results come in one by one and leave only their values behind (RunGatherer), so that ten thousand
// fit in memory; CompareRun then computes every figure. n counts parts: planes, re-images and
// recuts of one part are nested in it, and each part enters a row with one value (towards the
// limit: the least where there is only a lower one, the greatest where there is only an upper one,
// else the mean). A part without a value is counted and named, never dropped, and no row is called
// shown while one is missing.
//
// One limit only (a septum's minimum): a one-sided tolerance bound of the normal distribution
// against the limit leads, the percentile method follows, and there is no Cp: a second limit is
// never invented. Two limits: Pp and Ppk with intervals; Cp and Cpk only with rational subgroups
// and 25 parts or more.
// Keywords: compare, run, lot, capability, tolerance bound, Ppk, trend, equivalence.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/design.h"
#include "cutface/plot.h"
#include "cutface/roster.h"
#include "cutface/section.h"
#include "cutface/stats_run.h"

namespace cutface {

// --- gathering -----------------------------------------------------------------------------------

// A row of the drawing, the same on every face of its plane.
struct RunRow {
  std::string plane, no, subject, requirement;
  std::vector<std::string> of;
  std::string quantity, finding;  // one of them; rows of text are left out
  std::string unit, criticality;  // "mm" ...; "critical", "major", "minor"
  std::optional<double> min, max, nominal;
  bool count = false;          // whole numbers: no normal statistics
  bool circular = false;       // an angle that wraps at 360
  bool at_least_zero = false;  // cannot be negative
};

// What a row reads on one face.
struct RunCell {
  std::optional<double> value, lo, hi;
  Verdict verdict = Verdict::kNotMeasured;
  std::string reason;  // why there is no value
};

// How one face's contours lie against the drawing's, in the datum frame.
struct FaceShape {
  // Per feature of the NominalFace and station: along the nominal's outward normal, um; NaN where
  // the contour was not seen; no stations where the feature was not found.
  std::vector<std::vector<float>> off_um;
  std::vector<std::optional<PointUm>> shift;  // of the centroid, per feature
};

struct RunFace {
  std::size_t entry = 0;       // into Run::roster.faces
  std::vector<RunCell> cells;  // as the rows of its plane, in their order
  bool names_proven = true;
  std::optional<FaceShape> shape;
  bool shape_wanted = false;  // it was asked for; without one the face could not be laid
};

struct Run {
  Roster roster;  // one entry a face, measured or not
  Counts counts;
  std::string part, revision, design_sha256;
  LengthUnit units = LengthUnit::kMillimetre;
  std::vector<RunRow> rows;                                 // plane by plane as they came
  std::map<std::string, std::vector<std::size_t>> rows_of;  // plane -> into rows
  std::vector<RunFace> faces;                               // measured ones
};

class RunGatherer {
 public:
  // A measured face. Errors: kDesignMismatch (another part, revision, drawing or unit than the
  // first face; a row that is missing or has other limits), kUsage (this picture's plane stands in
  // the run already).
  // `shape`: of faces that take part in the mean face; outer nothing: not asked for.
  Status Add(const FaceEntry& entry, const SectionResult& result,
             std::optional<std::optional<FaceShape>> shape = {});
  // A face without a result.
  void AddUnmeasured(const FaceEntry& entry);
  // REQUIRES: called once, last.
  Run Finish();

 private:
  Run run_;
  std::map<std::string, std::string> seen_;  // picture and plane -> result file
};

// --- laying a face over the drawing --------------------------------------------------------------

// A plane's drawing, ready to have contours laid over it: every contour at about 144 stations.
struct NominalFeature {
  std::string name;   // "outline", a ring, a lumen, "scope/liner"
  std::string lumen;  // where it is a lumen's bore
  ContourUm stations;
  std::vector<PointUm> normals;  // outwards
  PointUm centroid;
  double limit_um = 0;  // farther off is another edge
};
struct NominalFace {
  std::string plane;
  std::vector<NominalFeature> features;
  std::string datum_lumen, clock_lumen;  // "" outline; "" the pose
  PointUm centre;                        // of the datum
  double clock_direction = 0;            // of the clock lumen seen from it
};
NominalFace PrepareNominalFace(const SectionDesign& design);
// Not set when the datum is not on this face (outline cut off by the frame, lumens merged).
std::optional<FaceShape> ShapeOf(const SectionResult& result, const NominalFace& nominal);

// --- options -------------------------------------------------------------------------------------

struct BoundWish {
  double confidence = 0.95, coverage = 0.95;
};

// How far two runs may differ and be called equivalent; a choice of the site's, so none by default.
struct MarginWish {
  struct Size {
    double um = 0;                // for rows on lengths
    std::optional<double> share;  // of the tolerance, or of the way from the other run's mean to
                                  // the only limit
  };
  std::optional<Size> all;
  std::map<std::string, Size> of_row;  // by the drawing's number
};

struct CompareOptions {
  std::map<std::string, BoundWish> bounds = {
      {"critical", {0.95, 0.99}}, {"major", {0.95, 0.95}}, {"minor", {0.95, 0.95}}};
  // What makes parts one rational subgroup, as the caller knows the process: "lot", "block", "day",
  // "operator" or the name of a factor; "" there are none, and then no Cp and Cpk.
  std::string subgroup;
  MarginWish margin;  // of equivalence with another run
  std::vector<std::string> factors;
};

// --- one row -------------------------------------------------------------------------------------

// One part's value of a row.
struct PartValue {
  std::string label;  // serial number, with the lot where there are several
  double value = 0;
  std::optional<double> lo, hi;  // of the face the value comes from; widest where it is a mean
  int faces = 1;                 // with a value
  bool wide = false;             // its own interval is wide, see RowStudy::wide
  bool outside = false;          // beyond a limit
  std::string subgroup;
  std::map<std::string, std::string> factors;
};

struct MissingValue {
  std::string label, reason;
};

enum class RowAnswer {
  kShown,     // the bound lies inside the limit, or the interval within the limits
  kNotShown,  // it does not, or too little is known
  kBroken,    // a part does not conform or lies beyond a limit
  kNoLimits,  // nothing was asked
};
std::string_view RowAnswerName(RowAnswer answer);  // "shown", "not shown", "broken", "no limits"

// Tolerance bound or interval of the parts, against the limits.
struct ToleranceBound {
  BoundWish wish;
  double factor = 0;
  std::optional<double> lower, upper;  // both where both limits are asked
};

struct Capability {
  std::optional<IndexValue> pp, ppk;  // overall spread; pp for two limits only
  std::optional<IndexValue> cp, cpk;  // within subgroups; never with one limit
  std::optional<WithinSpread> within;
  std::string no_cpk;  // why there is none
  std::optional<PercentileIndex> percentile;
  std::string curve;  // of the far percentile: "normal", "extreme value (least)" ...
};

struct RowStudy {
  RunRow row;
  // In run order: by the time the part's first picture was taken, else as the run lists them.
  std::vector<PartValue> parts;
  bool timed = false;                 // the order is by time
  std::vector<MissingValue> missing;  // parts with a face of the plane and no value
  std::optional<int> n;               // parts with a value; not set: parts cannot be counted
  std::string n_unknown;              // why
  int values = 0;                     // faces with a value
  int wide = 0;     // parts whose interval is wider than a quarter of the tolerance (two limits) or
                    // reaches half of the way to the limit and more (one limit)
  int outside = 0;  // parts beyond a limit
  int failing = 0;  // parts with a face that does not conform
  int unproven = 0;  // parts with a face that is not proven
  std::optional<SampleSummary> summary;
  std::optional<Interval> mean_interval;  // 95 %
  // Share of the variance that the measurements' own uncertainty explains, 0 to 1.
  std::optional<double> measuring_share;
  std::optional<NormalityTest> normality;
  std::vector<ProbabilityPoint> plot;
  std::optional<IndividualsChart> chart;
  std::optional<ToleranceBound> bound;
  std::optional<Capability> capability;
  std::optional<std::size_t> size_needed;  // parts for the bound to clear the limits, as it stands
  std::optional<CircularSummary> circular;
  RowAnswer answer = RowAnswer::kNoLimits;
  std::string sentence;             // the answer in words
  std::vector<std::string> advice;  // how many parts would tell
  std::vector<std::string> doubts;  // what the reader must know: missing, wide, not normal ...
};

// The same quantity of the same feature at several stations along the part.
struct StationPoint {
  std::size_t part = 0;  // into StationTrend::labels
  double station_mm = 0, value = 0;
};
struct StationTrend {
  std::vector<std::string> of;
  std::string quantity, subject, unit;
  std::vector<std::string> labels;   // parts
  std::vector<double> stations_mm;   // ascending; between two of them nothing is known
  std::vector<StationPoint> points;  // by part, then station; a part's missing station is a gap
  std::vector<std::pair<std::size_t, double>> gaps;  // part, station without a value
  std::vector<SampleSummary> at;                     // per station
  // Slope per mm, one per part with two stations or more; their mean with its 95 % interval.
  std::optional<SampleSummary> slopes;
  std::optional<Interval> slope_interval;
  std::string sentence;
};

// --- the mean face -------------------------------------------------------------------------------

struct MeanPlace {
  int n = 0;           // parts that show this place
  double mean_um = 0;  // along the nominal's outward normal
  // Where a further part would lie with 95 % at this place (normal, place by place); from 3 parts.
  std::optional<Interval> band;
};
struct MeanFeature {
  std::string name;
  ContourUm nominal;  // design frame
  std::vector<PointUm> normals;
  std::vector<MeanPlace> places;
  int parts = 0;  // most of any place
};
struct WorstPlace {  // of a feature: greatest mean deviation
  std::size_t feature = 0, place = 0;
  double mean_um = 0;
  std::optional<Interval> band;
  double clock_deg = 0;  // seen from the datum, clockwise from 12
};
// Towards which side a lumen's centroid lies off its place, part by part.
struct FeatureDirections {
  std::string name;
  int n = 0;        // parts
  int without = 0;  // of them nearer than 2 um: no direction
  double mean_shift_um = 0;
  std::optional<CircularSummary> circular;  // clockwise from 12 o'clock
  std::string sentence;
};
struct MeanFace {
  std::string plane;
  std::optional<double> station_mm;
  int parts = 0, parts_of_run = 0;  // laid; of the plane
  int not_laid = 0;                 // faces without the drawing's datum
  std::vector<MeanFeature> features;
  std::vector<WorstPlace> worst;  // one a feature, farthest first
  std::vector<FeatureDirections> directions;
  std::string sentence;
};

// One a plane and station.
std::vector<MeanFace> MeanFaces(const Run& run, const std::vector<NominalFace>& nominals);

// --- another run, factors ------------------------------------------------------------------------

// This run minus the other one.
struct RowDifference {
  RunRow row;
  std::vector<double> run, reference;  // one value a part
  std::optional<MeanShift> shift;
  double p_all = 1;  // Holm's p: all rows taken together
  std::optional<Equivalence> equivalence;
  std::optional<IndexValue> spread_ratio;
  std::string sentence;
  std::vector<std::string> doubts;
};
struct RunDifference {
  std::string reference_counts;
  std::vector<RowDifference> rows;
  std::vector<std::string> unmatched;
  std::vector<MeanFace> mean_faces;  // of the other run
};
// Rows are matched by plane and subject. Errors: kDesignMismatch (another part).
Result<RunDifference> CompareAgainst(const Run& run, const Run& reference,
                                     const CompareOptions& options);

struct FactorLevel {
  std::string name;
  std::vector<double> values;  // one a part: the mean of its faces
  double mean = 0;
  std::optional<Interval> interval;  // 95 %, spread within levels taken as one
};
// Analysis of variance of a row by a factor. Faces (planes, recuts) are nested in parts: the levels
// are tested against the parts within them. Rows that ask the same of the same feature at several
// planes are taken together.
struct FactorEffect {
  std::string factor;
  RunRow row;
  std::vector<std::string> planes;
  std::vector<FactorLevel> levels;
  int parts = 0, faces = 0, without = 0;  // without: faces of parts without a level
  std::optional<double> f, p;
  double p_all = 1;  // Holm's, all rows of the factor together
  double share = 0;  // of the variance between parts
  bool nested = false;
  std::optional<double> variance_parts, variance_within;  // where parts have several faces
  std::string sentence;
};
std::vector<FactorEffect> FactorEffects(const Run& run, const std::string& factor);

struct RunComparison {
  std::string part, revision;
  std::string counts_line;
  Counts counts;
  LengthUnit units = LengthUnit::kMillimetre;
  CompareOptions options;
  std::vector<RowStudy> rows;
  std::vector<StationTrend> trends;
  std::vector<MeanFace> mean_faces;
  std::vector<FactorEffect> effects;
  std::optional<RunDifference> against;  // set by the caller from CompareAgainst
  std::vector<std::string> can_show, cannot_show, notes;
};

// Everything above from one run. Errors: kUsage (no measured face, a subgroup that no face has).
// `nominals`: planes of the drawing for the mean face; none: there is no mean face.
Result<RunComparison> CompareRun(const Run& run, const CompareOptions& options = {},
                                 const std::vector<NominalFace>& nominals = {});

// A row's plots: against the limits, in run order, from part to part, and whether the values look
// normal. Rows without a spread have none.
std::vector<Graph> RowGraphs(const RowStudy& study);
// Values against the station, true to scale, a part's line broken where it has no value.
Graph TrendGraph(const StationTrend& trend);
// The drawing with the parts' mean contours, deviations overdone, and whiskers at the worst places.
// Another run: all rows in one, then a strip for each that differs.
std::vector<Graph> DifferenceGraphs(const RunDifference& difference);
Graph FactorGraph(const FactorEffect& effect);
Graph MeanFaceGraph(const MeanFace& face, LengthUnit units);

// "cutface/comparison", src/data/comparison.schema.json.
std::string ComparisonToJson(const RunComparison& comparison);

}  // namespace cutface
