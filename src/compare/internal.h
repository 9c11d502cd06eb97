// What the files of this room share.
#pragma once

#include <string>
#include <vector>

#include "cutface/compare.h"

namespace cutface {

// "3 parts", "1 part".
std::string CountedWord(std::size_t count, std::string_view one, std::string_view many);
// A value in the row's unit as faces print it; counts as whole numbers. With the unit.
std::string RowFigure(double value, const RunRow& row);
// "0.123", "< 0.001".
std::string ProbabilityText(double p);
// Where the value of an angle that wraps is taken: within half a turn of `about`.
double Unwrapped(double value, double about);

// Parts of a row in run order, their values, what is missing. parts.cpp
struct PartOrder {
  std::vector<std::vector<std::size_t>> faces;  // per part, into Run::faces
  std::vector<std::string> labels;
  bool timed = false;
};
PartOrder OrderParts(const Run& run, const std::string& plane);
void CollectParts(const Run& run, std::size_t row, const CompareOptions& options, RowStudy& study);
// Values by subgroup; empty when no part has one.
std::vector<std::vector<double>> SubgroupsOf(const RowStudy& study);

// Figures of a row from its parts. study.cpp
void StudyRow(const CompareOptions& options, RowStudy& study);
// The answer in words, advice and doubts. words.cpp
void AnswerRow(const CompareOptions& options, RowStudy& study);

// "3:10 o'clock".
std::string ClockText(double degrees);

std::vector<StationTrend> TrendsOf(const Run& run);
// What these sections can and cannot show. prose.cpp
void WriteLimits(const Run& run, RunComparison& comparison);

}  // namespace cutface
