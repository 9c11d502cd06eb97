// The one table of words that can be measured, and the one formatter of values.
//
// One row per word and kind of feature: the command line, tables, CSV, JSON, window and manual take
// names, units, definitions and formulas from here; the room measure registers exactly one function
// per row and a test demands it.
// Keywords: word, definition, formula, unit, decimals, Format.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "cutface/base.h"

namespace cutface {

// What a word applies to (design.md section 3, column "of").
enum class QuantityOf {
  kOutline,
  kLumen,
  kLumenPair,
  kRing,
  kWireLayer,
  kVoids,
  kBond,
  kAsked  // edges that a person pointed at (cutface/asked.h); no row of a drawing
};
std::string_view QuantityOfName(QuantityOf of);

// How the number behaves under noise: extremes are biased and their intervals one-sided.
enum class QuantityKind { kMean, kLeast, kGreatest, kCount };

struct QuantityRow {
  std::string_view word;  // "septum"
  QuantityOf of = QuantityOf::kOutline;
  std::string_view unit;  // in results: "um", "um2", "deg", "1", "%", "1/mm", "MPa"
  QuantityKind kind = QuantityKind::kMean;
  bool at_least_zero = false;   // natural bound: lo is never below 0
  bool circular = false;        // an angle that wraps: 0 and 360 deg are the same direction
  std::string_view title;       // "Least septum"
  std::string_view definition;  // one sentence
  std::string_view formula;     // plain text
  std::string_view source;      // standard, paper or "common practice"
};

std::span<const QuantityRow> QuantityTable();
// nullptr when the word does not exist for that kind of feature.
const QuantityRow* FindQuantity(std::string_view word, QuantityOf of);

// A value of a result (`unit` as in the table) in the display unit of the reader: "0.1124 mm".
// Lengths and areas follow `display`; digits: mm 4, in 5, um 1 decimals (one more than drawings);
// areas mm2 5, in2 8, um2 0; deg 1; 1 and 1/mm 3; % 1. Rounds halves away from zero, as the value
// reads in decimal (its shortest decimal form), and never prints "-0.0". A value without unit ("1")
// prints the bare number. REQUIRES: a finite value; "not measured" is a state, not a number.
std::string Format(double value, std::string_view unit, LengthUnit display, bool with_unit = true);
// The same for a row of the table; counts print without decimals: "16".
std::string Format(double value, const QuantityRow& row, LengthUnit display, bool with_unit = true);
// `unit` of results as the reader sees it: "um" is "mm" for millimetres, "um2" "in2", others as
// are.
std::string DisplayUnit(std::string_view unit, LengthUnit display);
// The number a reader in `display` units works with, unrounded: 112.4 um is 0.1124 for millimetres.
double ToDisplay(double value, std::string_view unit, LengthUnit display);
// Probability as printed in rows: "0.98", "0.948", "> 0.999", "< 0.001"; three decimals, of which a
// last zero is left out. REQUIRES: 0 <= p <= 1.
std::string FormatProbability(double p);
// Outside diameter as French size: 3 x mm, one decimal, "7.5 Fr".
std::string FormatFrench(double diameter_um);

}  // namespace cutface
