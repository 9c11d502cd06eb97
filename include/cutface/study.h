// The gauge itself: how much of what results differ by is the measuring, at three levels.
//
//   same image   one picture evaluated again: only corrections by hand can differ, the software
//                gives the same digits otherwise
//   same block   one cut face mounted, focused, lit and pictured again: pieces x persons x trials
//   recut        the same place ground or cut again, or a neighbour: repeats within cuts within
//                pieces; the part changes along its length too, so it is an upper bound
//
// Two methods side by side, because they may disagree: analysis of variance with random effects
// (cutface/anova.h; interaction pooled into the repeats when its p is above `pool_above`), and
// averages and ranges (AIAG, "Measurement Systems Analysis", 4th ed. 2010, chapter III: 1/d2 for
// ranges of trials, 1/d2* with one sample for ranges of means, both integrated here). Negative
// components are 0. Shares are of the study's own spread, and of the tolerance: 6 standard
// deviations against max - min; with one limit 3 against |mean - limit|, said so, since half of the
// six face it.
// Standard deviations and shares of the analysis of variance carry 95 % intervals.
// Bias, linearity (bias over reference, straight line) and stability (deviation over time) with
// Student's t. Verdicts: Cohen's kappa of two persons, Fleiss' of all, categories as they come with
// "not proven" as one of them.
// Keywords: gauge, repeatability, reproducibility, GRR, distinct categories, bias, linearity,
// stability, kappa, recut, preparation_u.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/roster.h"
#include "cutface/section.h"
#include "cutface/stats_run.h"

namespace cutface {

enum class StudyLevel { kSameImage, kSameBlock, kRecut };
std::string_view StudyLevelName(StudyLevel level);  // "same-image", "same-block", "recut"
std::optional<StudyLevel> ParseStudyLevel(std::string_view word);

// One value of one characteristic.
struct StudyReading {
  std::string piece;                // what is measured again
  std::string cut;                  // level recut: which preparation of the piece
  std::string person, trial;        // "" where unknown
  std::string taken;                // ISO 8601, for stability
  std::optional<double> value;      // in the subject's unit
  std::string reason;               // why there is none
  std::optional<double> reference;  // known value of the piece
  std::string verdict;              // in words; "" none
  std::string true_verdict;         // of the piece, where known
  bool edited = false;              // a person corrected something
};

struct StudySubject {
  std::string no, title;              // number and words of the row
  std::string quantity, unit;         // word of the table or "", unit of values and limits
  std::optional<double> um_per_unit;  // lengths only
  std::optional<double> min, max;
  std::vector<StudyReading> readings;
};

struct StudyInput {
  StudyLevel level = StudyLevel::kSameBlock;
  std::string name;  // of the study, as preparation_u names it
  std::string part, section;
  std::vector<StudySubject> subjects;
  std::vector<std::string> warnings;
};

struct StudyOptions {
  double pool_above = 0.25;   // AIAG's choice
  double good_percent = 10;   // gauge against tolerance (or study): common practice
  double limit_percent = 30;  // above it the gauge is not good enough: common practice
};

// A result with who made it. REQUIRES: `entry` belongs to `result`.
struct StudyFace {
  SectionResult result;
  FaceEntry entry;
};
// One subject for every row of the drawing on a quantity. Errors: kUsage: no result, a result or
// (same block, recut) a picture twice, faces that cannot be told apart (no serial, no block);
// kDesignMismatch: results of several drawings or sections.
Result<StudyInput> StudyOfResults(std::span<const StudyFace> faces, StudyLevel level);

// Rows of a table, first the names of columns: piece (or part, serial), value, and as far as known
// operator, trial, cut, characteristic, unit, min, max, reference, taken, verdict, reference
// verdict. Errors: kJsonMissingKey, kJsonUnknownKey (names the nearest column), kJsonValue with the
// row; kUsage: no rows. An empty value is one that was not measured.
Result<StudyInput> StudyOfTable(std::span<const std::vector<std::string>> rows, StudyLevel level,
                                const std::string& name);

// --- figures
// --------------------------------------------------------------------------------------

struct VarianceRow {
  std::string source;
  double ss = 0;
  std::size_t df = 0;
  double ms = 0;
  std::optional<double> f, p;
};

// One part of the spread. Percentages: of the sum of variances, of the total standard deviation, of
// the tolerance.
struct SpreadPart {
  std::string source;  // "repeats", "persons", "persons x pieces", "cuts", "gauge", "pieces" ...
  double variance = 0, sd = 0;
  double percent_variance = 0, percent_sd = 0;
  std::optional<double> percent_tolerance;
  // 95 % of sd and of percent_sd by GeneralisedIntervals (cutface/anova.h); of the analysis of
  // variance with equal numbers only. Few persons leave a wide one: that is what is known.
  std::optional<Interval> sd_interval, percent_interval;
  // The same of percent_tolerance, limits and mean taken as known.
  std::optional<Interval> ToleranceInterval() const;
};

struct SpreadTable {
  bool told = false;
  std::string reason;  // why not, or what it leaves out
  std::vector<SpreadPart> parts;
  std::optional<double> distinct;  // 1.41 pieces / gauge before rounding down; AIAG
  std::optional<int> categories;   // number of distinct categories, at least 1 as AIAG has it
  const SpreadPart* Find(std::string_view source) const;
};

// Of averages and ranges.
struct RangeDetail {
  std::vector<std::string> persons;
  std::vector<double> mean_range, mean;  // by person
  double all_ranges = 0;                 // mean of the mean ranges
  double person_difference = 0, piece_range = 0;
  double range_limit = 0;           // upper control limit of a range
  std::vector<std::string> beyond;  // "piece 4, B: 1.02"
};

struct LineFigure {  // value = intercept + slope x
  std::size_t n = 0;
  double slope = 0, intercept = 0, slope_lo = 0, slope_hi = 0, p = 1, r_squared = 0;
};
struct BiasFigure {
  std::size_t n = 0;
  double mean = 0, sd = 0, lo = 0, hi = 0, p = 1;  // lo, hi: 95 % of the mean
  std::optional<LineFigure> linearity;             // of bias over reference
  std::string linearity_reason;
};

// Agreement of verdicts. kappa is not set where chance alone explains all (one category only).
struct KappaFigure {
  std::string between;  // "A, B", "A with itself", "all persons", "A with the reference"
  std::size_t n = 0;    // pairs, or pieces
  double agreement = 0, by_chance = 0;
  std::optional<double> kappa;
};

struct SubjectStudy {
  StudySubject subject;
  std::size_t pieces = 0, persons = 0, trials = 0;  // of the complete table
  std::vector<std::string> left_out;                // readings or pieces, and why
  double mean = 0;
  bool identical = false;  // every repeat of every piece gave the same digits
  std::size_t edited = 0;
  std::vector<VarianceRow> anova;
  bool pooled = false;
  SpreadTable by_anova, by_ranges;
  std::optional<SpreadTable> other_anova;  // interaction kept where pooled, and the other way round
  std::optional<RangeDetail> ranges;
  std::string tolerance_kind;       // "tolerance", "distance of the mean from the only limit", ""
  std::optional<double> tolerance;  // in the subject's unit
  std::optional<BiasFigure> bias;
  std::optional<LineFigure> stability;  // per day
  std::string stability_reason;
  std::vector<KappaFigure> kappas;
  std::optional<double> preparation_u;  // level recut: sd between cuts, in the subject's unit
  std::string preparation_note;
  std::string grade;  // "good", "usable with care", "not good enough", "not told"
  // Grades that the ends of the interval would get, "" where it is told by neither.
  std::string grade_least, grade_most;
  std::string answer;  // a sentence
};

struct Study {
  StudyLevel level = StudyLevel::kSameBlock;
  std::string name, part, section;
  StudyOptions options;
  std::vector<SubjectStudy> subjects;
  std::vector<std::string> warnings;
  std::vector<std::string> can_show, cannot_show;
};
std::string StudyAnswer(const Study& study);  // all subjects in one sentence

// Never fails for a subject that tells nothing: its grade is "not told", with the reason. Errors:
// kUsage: no subject.
Result<Study> RunStudy(const StudyInput& input, const StudyOptions& options = {});

// src/data/study.schema.json.
std::string StudyToJson(const Study& study);
// Notes on one subject: categories, bias, agreement, what was left out; a line each.
std::vector<std::string> StudyNotes(const SubjectStudy& subject);
// What the level repeats, in words.
std::string StudyLevelWords(StudyLevel level);
// A value with five significant digits at most, and its unit.
std::string StudyFigure(double value, const std::string& unit = "");
// For the terminal, lines up to about 110 characters.
std::string StudyText(const Study& study);
// The piece of a design file that a recut study gives, the largest of each word; nullopt when it
// gives none.
std::optional<std::string> PreparationJson(const Study& study);

// --- pieces that are useful alone
// -----------------------------------------------------------------

// Mean and standard deviation of the range of `size` normal values. REQUIRES: 2 <= size <= 1000.
struct RangeFactors {
  double d2 = 0, d3 = 0;
  double d2_star() const;  // sqrt(d2^2 + d3^2): of one sample
};
RangeFactors RangeFactorsOf(std::size_t size);

// Cohen, Educ. Psychol. Meas. 20 (1960): two lists of verdicts of the same pieces.
KappaFigure CohenKappa(std::span<const std::string> first, std::span<const std::string> second);
// Fleiss, Psychol. Bull. 76 (1971): per piece how many chose each category; equal numbers for all.
// REQUIRES: equal sums of at least 2.
KappaFigure FleissKappa(std::span<const std::vector<int>> counts);
LineFigure FitLine(std::span<const double> x, std::span<const double> y);  // REQUIRES: 3 or more

}  // namespace cutface
