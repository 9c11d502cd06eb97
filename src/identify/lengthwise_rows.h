// The two rows of turns in a lengthwise section: one pitch, a number for every turn.
//
// Positions come as lengths along the axis. A turn's number is its place in an even comb: the pitch
// is common to both rows, each row has its own start. A wire that stands far off its place keeps
// its number when the place is otherwise empty and is an extra one when it is taken. Nothing is
// numbered where the places are too uneven to tell one slot from the next.
// Keywords: pitch, comb, slot, missing turn, extra wire, numbering.
#pragma once

#include <string>
#include <vector>

#include "cutface/section.h"

namespace cutface {

inline constexpr int kNoSlot = -1;

struct TurnRow {
  std::vector<double> at;                 // along the axis, ascending
  double from = 0, to = 0;                // the part's ends on this row
  bool from_seen = true, to_seen = true;  // false: that one lies outside the picture
  // Results: slot of each wire, 0 .. slots - 1, kNoSlot for an extra one.
  std::vector<int> slot;
  double start = 0;  // where slot 0 belongs
  int slots = 0;
  bool complete_window = true;  // where the row begins and ends is certain
};

struct TurnComb {
  double pitch = 0;
  double scatter = 0;  // robust standard deviation of wires about their places
  std::string why;     // "" or why the turns cannot be numbered
  std::string doubt;   // "" or what of the numbers is doubtful
};

// `expected`: turns of a row as drawn, 0 unknown. `width`: of a wire along the axis.
TurnComb NumberTurns(std::vector<TurnRow>& rows, int expected, double width);

// Sets where the outline begins and ends on the line with this direction, `line` off the origin,
// and whether the picture shows it.
void SetEnds(const TracedContour& outline, PointUm axis, double line, TurnRow& row);

// Numbers the turns of rows that the frame cuts from the ends that are seen: `turns` of a row lie
// about the middle of a part of this length. False, and nothing changed, where that leaves a
// number open.
bool AnchorAtEnds(std::vector<TurnRow>& rows, double pitch, int turns, double length);

}  // namespace cutface
