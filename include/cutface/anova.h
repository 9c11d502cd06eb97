// Analysis of variance: one way, two ways crossed with interaction, nested.
//
// Sums of squares are those of deviations from a value of the data, with compensated sums (Neumaier
// 1974), so that many constant leading digits cost nothing: as good as the data's own rounding
// allows (held against NIST's Statistical Reference Datasets). p is the upper tail of F. With zero
// mean square in a denominator there is no F: `f` and `p` are then not set.
//
// Sources: Montgomery, "Design and Analysis of Experiments", chapters 3, 5, 14; Searle, Casella &
// McCulloch, "Variance Components", chapter 3 (from memory).
// Keywords: interval, sum of squares, mean square, F, variance component, nested, crossed,
// interaction.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/stats_run.h"

namespace cutface {

// One source of variation.
struct AnovaLine {
  double ss = 0;  // in the data's unit squared
  std::size_t df = 0;
  double ms = 0;  // ss / df; 0 when df is 0
  std::optional<double> f, p;
};
// Upper tail of the F distribution. REQUIRES: f >= 0, degrees of freedom >= 1.
double FUpperTail(double f, std::size_t df_above, std::size_t df_below);

struct OneWayAnova {
  AnovaLine between, within;  // between has F against within
  double total_ss = 0;
  double r_squared = 0;  // between / total; 0 when nothing varies
  double residual_sd = 0;
  double mean = 0;  // of all values
};
// Groups may differ in size; an empty one is left out. Errors: kUsage: fewer than two groups with
// values, no group with two of them, a value that is not finite.
Result<OneWayAnova> OneWay(std::span<const std::vector<double>> groups);

// Every level of A with every level of B, `repeats` values each: value (a, b, r) stands at
// (a * levels_b + b) * repeats + r.
struct CrossedData {
  std::size_t levels_a = 0, levels_b = 0, repeats = 0;
  std::vector<double> values;
  double At(std::size_t a, std::size_t b, std::size_t r) const {
    return values[(a * levels_b + b) * repeats + r];
  }
};

struct TwoWayAnova {
  // Both factors random: A and B have F against the interaction; the interaction against the error.
  AnovaLine a, b, interaction, error;
  // Interaction and error as one line, and A and B against it.
  AnovaLine pooled;
  std::optional<double> f_a_pooled, p_a_pooled, f_b_pooled, p_b_pooled;
  double total_ss = 0;
  std::size_t total_df = 0;
  double mean = 0;
  std::vector<double> mean_a, mean_b;  // by level
  std::vector<double> mean_cell;       // a * levels_b + b
};
// With repeats = 1 there is no error line (df 0), and interaction has no F. Errors: kUsage: fewer
// than two levels of a factor, no repeat, a number of values that does not fit, one that is not
// finite.
Result<TwoWayAnova> TwoWay(const CrossedData& data);

// One value and the groups that hold it, from the outermost: {"batch 1", "part 3", "plane 2"}.
// Names count within their group: "plane 2" of another part is another plane.
struct NestedValue {
  std::vector<std::string> groups;
  double value = 0;
};
struct NestedLevel {
  AnovaLine line;  // F against the level below it, exact for equal numbers
  std::size_t groups = 0;
  // Method of moments for random groups, also of unequal sizes; may be negative. Not set where the
  // level has no degrees of freedom.
  std::optional<double> variance;
};
struct NestedAnova {
  std::vector<NestedLevel> levels;  // from the outermost; the last is that within the innermost
  double total_ss = 0;
  double mean = 0;       // of all values
  bool balanced = true;  // equal numbers everywhere; else F and p are approximate
};
// Errors: kUsage: no value, no group or different numbers of groups, a value that is not finite,
// one group only at the outermost level.
Result<NestedAnova> Nested(std::span<const NestedValue> values);

// A mean square as seen, of independent normal values with random groups.
struct MeanSquare {
  double ms = 0;
  double df = 0;
};
// Intervals of figures that are computed from the expected mean squares, variance components and
// their ratios: generalised confidence intervals (Tsui & Weerahandi 1989; for gauges Hamada &
// Weerahandi, J. Quality Technology 32, 2000; Burdick, Borror & Montgomery, "Design and Analysis of
// Gauge R&R Studies", 2005). Each expected mean square is drawn as df ms / chi-squared(df), and the
// interval of a figure is that of its draws. They hold the true value in about `confidence` of all
// studies, often a little more. The draws have a fixed seed; 20,000 leave about 1 % at the ends.
// `figures` is called with one expected mean square for each of `seen` and returns finite numbers,
// always as many. REQUIRES: df >= 1, ms >= 0.
std::vector<Interval> GeneralisedIntervals(
    std::span<const MeanSquare> seen,
    const std::function<std::vector<double>(std::span<const double>)>& figures,
    double confidence = 0.95);

}  // namespace cutface
