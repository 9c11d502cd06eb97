// Shared by the files of the room.
#pragma once

#include <string>
#include <vector>

#include "cutface/study.h"

namespace cutface {

// A complete table of pieces, persons and trials: what both methods need.
struct CrossedReadings {
  std::vector<std::string> pieces, persons;
  std::size_t trials = 0;
  std::vector<double> values;  // (piece * persons + person) * trials + trial
};

// Fills in sd and percentages of the parts from their variances; the last part is the total.
void FinishSpread(SpreadTable& table, const SubjectStudy& subject);
void FillTolerance(SubjectStudy& out);

void StudyCrossed(const CrossedReadings& readings, const StudyOptions& options, SubjectStudy& out);
void StudyRanges(const CrossedReadings& readings, SubjectStudy& out);
void StudyRecut(SubjectStudy& out);
void StudyBias(SubjectStudy& out);
void StudyStability(SubjectStudy& out);
void StudyVerdicts(SubjectStudy& out);

// Notes, distinct categories, bias, agreement, what was left out: a line each.
std::vector<std::string> NoteLines(const SubjectStudy& study);

// Five significant digits, or fewer.
std::string Figure(double value);
std::string WithUnit(double value, const std::string& unit);

// Two sides of Student's t. REQUIRES: df > 0.
double TwoTails(double t, double df);
double TQuantile(double p, double df);

}  // namespace cutface
