// What the panels say: the drawing's rows, all values of a feature, the findings, the head with the
// verdict. Plain texts and numbers from 0 to 1, made once for every change of the result or the
// choice; drawing code only sets them.
// Keywords: rows, number line, verdict, values, findings, head.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface::window {

// Requirement, interval and actual on one line, as shares of its length. What lies beyond the line
// is held at its end and told in `cut_left`, `cut_right`.
struct NumberLine {
  bool shown = false;
  std::optional<float> min, max, nominal, lo, hi, actual;
  bool cut_left = false, cut_right = false;
};
NumberLine NumberLineOf(const CharacteristicResult& row);

struct RowLine {
  std::string no, subject, requirement, actual, interval, verdict, probability, note;
  Verdict word = Verdict::kNotMeasured;
  NumberLine line;
  bool chosen = false, critical = false;
  std::string features;  // "scope and wash"
};
struct RowsPanel {
  std::vector<RowLine> rows;
  std::string empty;  // what to say when there are none
};
RowsPanel BuildRows(const SectionResult& result, const std::string& chosen_no);

struct ValueLine {
  std::string title, value, interval, grade;
  std::string definition, formula, source;
  std::vector<std::string> budget;
  bool chosen = false;
  int index = 0;  // of the result's measurements
};
// A measurement as a line; `open`: with definition, formula and budget.
ValueLine ValueLineOf(const Measurement& m, int index, bool open, LengthUnit units);
struct ValuesPanel {
  std::string feature;                // "" = nothing chosen
  std::vector<std::string> features;  // to choose from
  std::vector<ValueLine> lines;
};
// All measurements that speak of `feature`; `open` is the index of the one shown in full, or -1.
ValuesPanel BuildValues(const SectionResult& result, const std::string& feature, int open,
                        LengthUnit units);

struct FindingLine {
  std::string kind, where, severity, text;
  std::vector<std::string> evidence, causes;
  std::string disposition;  // "accepted by N: why", or ""
  bool chosen = false, placed = false, high = false;
  int index = 0;
};
struct FindingsPanel {
  std::vector<FindingLine> lines;
  std::string empty;
};
FindingsPanel BuildFindings(const SectionResult& result, int chosen);

struct HeadPanel {
  std::string part, section, sample, verdict, sentence;
  Verdict word = Verdict::kNotJudged;
  std::vector<std::string> cautions;    // overrules, no certificate, names not proven, edits
  std::vector<std::string> signatures;  // of the saved file, as the store of records says
  std::string bench, inspector, time;
};
HeadPanel BuildHead(const SectionResult& result);

// Evidence as a reader's line: "breach_um" 10.75 is "breach 10.75 um".
std::string EvidenceText(const std::string& key, double value, LengthUnit units);
std::string JoinWords(const std::vector<std::string>& words, const char* between);

}  // namespace cutface::window
