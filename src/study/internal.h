// Shared by the files of the room.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "cutface/anova.h"
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

// A part of the spread and its variance, from mean squares.
struct NamedVariance {
  const char* source;
  double variance;
};
using PartsOf = std::function<std::vector<NamedVariance>(std::span<const double>)>;
// A table of what `parts` says of the mean squares as seen; the last part is the total.
SpreadTable SpreadOfSquares(const std::vector<MeanSquare>& seen, const PartsOf& parts,
                            const SubjectStudy& subject, bool intervals = true);

// Five significant digits, or fewer.
std::string Figure(double value);
std::string WithUnit(double value, const std::string& unit);

// Two sides of Student's t. REQUIRES: df > 0.
double TwoTails(double t, double df);
double TQuantile(double p, double df);

}  // namespace cutface
