// From results to what an engineer signs: PDF, XLSX, HTML, CSV and QIF of one run of faces.
//
// One table model, the Sheet, is computed once; every file shows its rows and computes none. The
// faces are drawn by the room picture. Nothing here reads run.json or a result file, and nothing
// judges: verdicts come from the results, decisions from named people.
// Keywords: report, first article, sheet, sub-number, disposition, ready to sign, PDF, QIF.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cutface/base.h"
#include "cutface/compare.h"
#include "cutface/design.h"
#include "cutface/qualify.h"
#include "cutface/roster.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "cutface/study.h"
#include "cutface/texts.h"

namespace cutface {

struct ReportFace {
  SectionResult result;
  std::string result_file, result_sha256;  // name without folder; hash of the file's bytes
  std::vector<std::string> image_paths;  // where the picture may lie; the first with its hash is it
};

// What a store of records says of the faces (room archive); the caller reads it, and has verified
// chain and seals. Dispositions and signatures stand in ReportInput::decisions.
struct ReportRecords {
  struct Open {
    std::string row;             // the drawing's number, or ""
    std::optional<int> finding;  // index in the result's findings, from 0
    std::string text;
    bool approval_only = false;  // does not hinder other signatures
  };
  struct Face {
    std::int64_t entry = 0;        // of the result; 0: the store does not hold it
    std::int64_t replaced_by = 0;  // entry of a later result of the same picture; 0: none
    std::vector<Open> open;
  };
  std::string store;  // its place
  std::int64_t entries = 0;
  std::string head;         // hash of the last entry
  std::vector<Face> faces;  // as ReportInput::faces
};

struct ReportInput {
  Roster roster;                  // one entry a face, measured or not
  std::string run_sha256;         // of run.json; "" where result files were named
  std::vector<ReportFace> faces;  // in the roster's order; measured ones only
  std::optional<Design> design;
  std::vector<CalibrationRecord> calibrations;
  Decisions decisions;
  std::optional<ReportRecords> records;  // not set: decisions are as typed in a file
  std::string software, program_sha256;  // of this program
  std::string made;                      // UTC
};

// --- the one table -------------------------------------------------------------------------------

// One row of the drawing on one face.
struct SheetCell {
  std::size_t face = 0;  // into Sheet::faces
  Verdict verdict = Verdict::kNotMeasured;
  std::string actual, interval;  // as printed, without unit; "" when not measured
  std::optional<double> value, lo, hi, u, p;
  std::string reason;       // why not measured or not proven
  std::string disposition;  // "concession C-12, A. Person, 2026-03-04: why"; "" without one
  bool settled = true;      // false: needs a disposition before sign-off
};

struct SheetRow {
  std::string no;  // with its sub-number: "7", or "7.2" for the drawing's second plane with a 7
  std::string drawing_no, plane;
  std::string subject, requirement;
  std::optional<double> min, max, nominal;
  std::string unit, criticality, u_scope;
  std::string method, gauge;
  std::string quantity;  // word of the table, "" for findings and texts
  bool count = false;    // whole numbers
  std::vector<SheetCell> cells;
  Verdict verdict = Verdict::kNotMeasured;  // the worst of the cells
  // Over parts, one value each: the least of a part's least, the greatest of its greatest, the mean
  // of its means. n is not set where parts cannot be counted; the figures are then over faces.
  std::optional<int> n;
  std::optional<double> least, mean, greatest;
  int measured = 0;    // faces with a value
  std::string remark;  // reasons and dispositions in one line
};

struct SheetFinding {
  std::string kind, where, text, severity;
  std::vector<Hint> hints;
  std::string disposition;
  bool settled = true;
};

struct SheetFace {
  std::string label;  // "F1"
  std::string name;   // what tells it from the others: serial, plane, repeat
  std::string serial, lot, block, station, side, plane, part_key;
  std::string image, image_sha256, taken, operator_name, trial, repeat, factors;
  std::string result_file, result_sha256, calibration, inspector, time, software;
  Verdict verdict = Verdict::kNotJudged;
  std::vector<std::size_t> rows;  // into Sheet::rows
  std::vector<SheetFinding> findings;
  std::vector<std::string> remarks;  // overrules, edits, warnings, picture quality
  std::size_t input = 0;             // into ReportInput::faces
  std::int64_t record = 0;           // entry in the store of records; 0: none
  // Meaning, who and when; those of the whole run too.
  std::vector<std::pair<std::string, std::string>> signatures;
};

struct SheetBench {  // a calibration as printed
  std::string id, certificate, certificate_due, due, made, by, pitch, artefact, sha256, remark;
};

struct SheetLine {
  std::string label, text;
  // Of an open item that a disposition can settle: what that would name.
  std::string result_sha256 = {}, drawing_no = {};
  std::optional<int> finding = {};
  bool approval_only = false;  // hinders approval, no other signature
};

struct Sheet {
  std::string part, revision, title, lots, design_file, design_sha256, unit;
  std::string software, program_sha256, run_sha256, made, decision_rule, u_scope, inspectors;
  std::vector<SheetFace> faces;
  std::vector<SheetRow> rows;  // plane by plane in the drawing's order
  std::vector<std::string> planes, planes_missing;
  std::vector<SheetBench> benches;
  Counts counts;
  std::string counts_line;
  std::vector<SheetLine> unmeasured;   // rejected and waiting entries: image, why
  std::vector<SheetLine> open;         // what stands against signing: where, what
  std::vector<SheetLine> settled;      // what a disposition settled: where, what and by whom
  std::vector<SheetLine> signatures;   // meaning; who, when and of which faces
  std::vector<std::string> signed_as;  // meanings that stand for every face
  std::string records;                 // the store that decisions come from, or ""
  std::vector<std::string> notes;      // of the whole report
  std::vector<std::string> can_show, cannot_show, cautions;
  Verdict verdict = Verdict::kNotJudged;
  bool ready() const { return open.empty(); }
  // "not ready to sign: 3 open", "not ready to be approved: 2 open; signed as measured", "ready to
  // sign", "signed as measured, reviewed, approved": alike in every file.
  std::string Standing() const;
};

// Errors (each one line): kDesignMismatch: another part, revision or drawing than the rest, units
// mixed, a row missing or with other limits; kDesignInvalid: a number twice; kUsage: no face.
Result<Sheet> BuildSheet(const ReportInput& input);

// --- files ---------------------------------------------------------------------------------------

struct ReportFormats {
  bool pdf = true, xlsx = true, html = true, csv = true, qif = false;
  bool any() const { return pdf || xlsx || html || csv || qif; }
};
struct ReportFile {
  std::string name;  // "report.pdf"
  std::vector<std::byte> bytes;
};
// All files in memory, so that they are written together or not at all. `scratch` is a folder for
// what a library can only write to disk; nothing is left in it. A picture that is missing or is not
// the one that was measured is replaced by the marks alone, and the page says so. Errors:
// kFileUnwritable (scratch), kInternal, kCancelled.
Result<std::vector<ReportFile>> RenderReport(const ReportInput& input, const Sheet& sheet,
                                             const ReportFormats& formats,
                                             const std::string& scratch,
                                             const Progress& progress = {});

// --- a run against nominal -----------------------------------------------------------------------

struct ComparisonHead {
  std::string software, made;  // version; UTC
};
// One page a row: its answer first, then one question a plot. Errors: kInternal.
Result<std::string> RenderComparisonHtml(const RunComparison& comparison,
                                         const ComparisonHead& head);
Result<std::vector<std::byte>> RenderComparisonPdf(const RunComparison& comparison,
                                                   const ComparisonHead& head);

// --- the gauge itself ----------------------------------------------------------------------------

// A study: an overview, then a section a row with its answer first, and what it can and cannot
// show. The plots of a row, for whoever draws them elsewhere. Errors: kInternal.
std::vector<Graph> StudyGraphs(const SubjectStudy& subject);
Result<std::string> RenderStudyHtml(const Study& study, const ComparisonHead& head);
Result<std::vector<std::byte>> RenderStudyPdf(const Study& study, const ComparisonHead& head);

// A qualification: evidence, figures, and the paragraphs that a software validation needs.
std::vector<Graph> QualificationGraphs(const Qualification& q);
Result<std::string> RenderQualificationHtml(const Qualification& q,
                                            const InstalledProgram& program);
Result<std::vector<std::byte>> RenderQualificationPdf(const Qualification& q,
                                                      const InstalledProgram& program);

// The sheet for a script ("cutface/report"): rows with verdicts, counts, what is open.
std::string SheetToJson(const Sheet& sheet);

// A list of dispositions ("cutface/dispositions") with a line for all that is open, to be filled
// in: what, reason, by and when are empty, and such a list is refused until they are not.
std::string DraftDispositions(const Sheet& sheet);

// A field of a CSV file (RFC 4180). Text that a spreadsheet would take for a formula (it begins
// with = + - @, a tab or a return, or is led by blanks to one of these) gets a ' in front.
std::string CsvText(const std::string& text);

}  // namespace cutface
