// Averages and ranges.
#include <algorithm>
#include <cmath>

#include "study/internal.h"

namespace cutface {
namespace {

void NotePersons(const CrossedReadings& readings, double limit_factor, RangeDetail& detail) {
  const std::size_t n = readings.pieces.size(), k = readings.persons.size(), r = readings.trials;
  std::vector<std::pair<double, std::string>> all;
  for (std::size_t j = 0; j < k; ++j) {
    double ranges = 0, sum = 0;
    for (std::size_t i = 0; i < n; ++i) {
      const auto first = readings.values.begin() + static_cast<std::ptrdiff_t>((i * k + j) * r);
      const auto [least, greatest] =
          std::minmax_element(first, first + static_cast<std::ptrdiff_t>(r));
      ranges += *greatest - *least;
      std::string where = readings.pieces[i];
      if (k > 1) where += ", " + readings.persons[j];
      all.emplace_back(*greatest - *least, where + ": " + Figure(*greatest - *least));
      for (std::size_t t = 0; t < r; ++t) sum += readings.values[(i * k + j) * r + t];
    }
    detail.persons.push_back(readings.persons[j]);
    detail.mean_range.push_back(ranges / static_cast<double>(n));
    detail.mean.push_back(sum / static_cast<double>(n * r));
  }
  for (double range : detail.mean_range) detail.all_ranges += range / static_cast<double>(k);
  detail.range_limit = limit_factor * detail.all_ranges;
  for (const auto& [range, text] : all)
    if (range > detail.range_limit) detail.beyond.push_back(text);
}

double PieceRange(const CrossedReadings& readings) {
  const std::size_t each = readings.persons.size() * readings.trials;
  double least = 0, greatest = 0;
  for (std::size_t i = 0; i < readings.pieces.size(); ++i) {
    double mean = 0;
    for (std::size_t t = 0; t < each; ++t) mean += readings.values[i * each + t];
    mean /= static_cast<double>(each);
    least = i == 0 ? mean : std::min(least, mean);
    greatest = i == 0 ? mean : std::max(greatest, mean);
  }
  return greatest - least;
}

}  // namespace

void StudyRanges(const CrossedReadings& readings, SubjectStudy& out) {
  const std::size_t n = readings.pieces.size(), k = readings.persons.size(), r = readings.trials;
  SpreadTable& table = out.by_ranges;
  if (r < 2 || n < 2) {
    table.reason = r < 2 ? "one trial has no range" : "one piece has no range of pieces";
    return;
  }
  if (r > 25 || k > 100 || n > 1000) {
    table.reason = "ranges of so many values waste most of them: see the analysis of variance";
    return;
  }
  const RangeFactors trials = RangeFactorsOf(r);
  RangeDetail detail;
  NotePersons(readings, 1 + 3 * trials.d3 / trials.d2, detail);
  detail.piece_range = PieceRange(readings);
  const double repeats = detail.all_ranges / trials.d2;
  double persons = 0;
  if (k > 1) {
    const auto [least, greatest] = std::minmax_element(detail.mean.begin(), detail.mean.end());
    detail.person_difference = *greatest - *least;
    const double spread = detail.person_difference / RangeFactorsOf(k).d2_star();
    persons = std::max(0.0, spread * spread - repeats * repeats / static_cast<double>(n * r));
  }
  const double pieces = detail.piece_range / RangeFactorsOf(n).d2_star();
  const auto add = [&](std::string source, double variance) {
    SpreadPart part;
    part.source = std::move(source);
    part.variance = variance;
    table.parts.push_back(std::move(part));
  };
  const double gauge = repeats * repeats + persons;
  add("repeats", repeats * repeats);
  if (k > 1) add("persons", persons);
  add("gauge", gauge);
  add("pieces", pieces * pieces);
  add("all", gauge + pieces * pieces);
  table.told = true;
  if (k < 2) table.reason = "one person, or none named: what persons differ by is not in it";
  FinishSpread(table, out);
  out.ranges = std::move(detail);
}

}  // namespace cutface
