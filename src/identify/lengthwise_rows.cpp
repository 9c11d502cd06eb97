#include "identify/lengthwise_rows.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr std::size_t kLeastTurns = 3;  // of a row, to tell a pitch
constexpr double kMostScatter = 0.2;    // of the pitch
constexpr double kMostEmpty = 0.4;      // of the slots between the first and the last wire
constexpr double kRowsDiffer = 0.04;    // of the pitch: rows of one layer share it
constexpr double kKeep = 0.3;           // of the pitch: further off their place wires do not
                                        // steer the comb
constexpr double kReachOfSlot = 1.3;    // of the pitch: how far a wire may be off its own place
constexpr double kEndDiffers = 0.3;     // of the pitch: free room at one end beyond the other's

// Least squares of at = start_row + pitch * n over the wires near their places.
struct Comb {
  double pitch = 0;
  std::vector<double> start;
};

Comb FittedComb(const std::vector<TurnRow>& rows, const std::vector<std::vector<int>>& n,
                const Comb& before, bool keep_all) {
  Comb comb = before;
  double sxx = 0, sxy = 0;
  std::vector<double> mean_n(rows.size()), mean_at(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) {
    double count = 0;
    const auto used = [&](std::size_t i) {
      return keep_all || std::abs(rows[r].at[i] - before.start[r] - before.pitch * n[r][i]) <
                             kKeep * before.pitch;
    };
    for (std::size_t i = 0; i < rows[r].at.size(); ++i) {
      if (!used(i)) continue;
      mean_n[r] += n[r][i];
      mean_at[r] += rows[r].at[i];
      ++count;
    }
    if (count < 1) continue;
    mean_n[r] /= count;
    mean_at[r] /= count;
    for (std::size_t i = 0; i < rows[r].at.size(); ++i) {
      if (!used(i)) continue;
      sxx += (n[r][i] - mean_n[r]) * (n[r][i] - mean_n[r]);
      sxy += (n[r][i] - mean_n[r]) * (rows[r].at[i] - mean_at[r]);
    }
  }
  if (sxx > 0) comb.pitch = sxy / sxx;
  comb.start.resize(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) comb.start[r] = mean_at[r] - comb.pitch * mean_n[r];
  return comb;
}

double FirstPitch(const std::vector<TurnRow>& rows) {
  std::vector<double> gaps;
  for (const TurnRow& row : rows) {
    for (std::size_t i = 1; i < row.at.size(); ++i) gaps.push_back(row.at[i] - row.at[i - 1]);
  }
  return gaps.empty() ? 0 : Median(std::move(gaps));
}

std::vector<std::vector<int>> Rounded(const std::vector<TurnRow>& rows, const Comb& comb) {
  std::vector<std::vector<int>> n(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (double at : rows[r].at)
      n[r].push_back(static_cast<int>(std::lround((at - comb.start[r]) / comb.pitch)));
  }
  return n;
}

// Numbers step by step from wire to wire first, so that an error of the pitch does not add up.
Comb FirstComb(const std::vector<TurnRow>& rows, double pitch) {
  std::vector<std::vector<int>> n(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) {
    int now = 0;
    for (std::size_t i = 0; i < rows[r].at.size(); ++i) {
      if (i > 0)
        now +=
            std::max(0, static_cast<int>(std::lround((rows[r].at[i] - rows[r].at[i - 1]) / pitch)));
      n[r].push_back(now);
    }
  }
  Comb comb{pitch, std::vector<double>(rows.size(), 0)};
  comb = FittedComb(rows, n, comb, true);
  // A wire out of place shifted all numbers after it by a half step each way at most: settle.
  for (int round = 0; round < 4; ++round) {
    for (std::size_t r = 0; r < rows.size(); ++r) {
      std::vector<double> rest;
      for (double at : rows[r].at) {
        const double steps = (at - comb.start[r]) / comb.pitch;
        rest.push_back((steps - std::round(steps)) * comb.pitch);
      }
      if (!rest.empty()) comb.start[r] += Median(std::move(rest));
    }
    comb = FittedComb(rows, Rounded(rows, comb), comb, false);
  }
  return comb;
}

// Two wires on one place: the nearer keeps it, the other takes an empty neighbour or none.
void GiveSlots(const Comb& comb, std::size_t r, TurnRow& row, std::vector<int>& n) {
  std::vector<std::size_t> order(row.at.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  const auto off = [&](std::size_t i, int slot) {
    return std::abs(row.at[i] - comb.start[r] - comb.pitch * slot);
  };
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return off(a, n[a]) < off(b, n[b]); });
  std::vector<int> taken;
  constexpr int kNone = std::numeric_limits<int>::min();
  const auto is_taken = [&](int slot) {
    return std::find(taken.begin(), taken.end(), slot) != taken.end();
  };
  // Wires that stand at their place first, so that one out of place takes nobody's.
  std::vector<std::size_t> late;
  for (std::size_t i : order) {
    if (off(i, n[i]) < kKeep * comb.pitch && !is_taken(n[i])) {
      taken.push_back(n[i]);
    } else {
      late.push_back(i);
    }
  }
  const int first = taken.empty() ? 0 : *std::min_element(taken.begin(), taken.end());
  const int last = taken.empty() ? 0 : *std::max_element(taken.begin(), taken.end());
  for (std::size_t i : late) {
    int best = kNone;
    for (int slot = n[i] - 1; slot <= n[i] + 1; ++slot) {
      // Only places between others, or next to the last one: further out nothing says so.
      if (is_taken(slot) || slot < first - 1 || slot > last + 1) continue;
      if (off(i, slot) > kReachOfSlot * comb.pitch) continue;
      if (best == kNone || off(i, slot) < off(i, best)) best = slot;
    }
    n[i] = best;
    if (best != kNone) taken.push_back(best);
  }
}

// Where a row's slots begin, when fewer or more than drawn are filled.
void SetWindow(const Comb& comb, std::size_t r, int expected, TurnRow& row,
               const std::vector<int>& n, std::string& doubt) {
  constexpr int kNone = std::numeric_limits<int>::min();
  int first = std::numeric_limits<int>::max(), last = kNone;
  for (int slot : n) {
    if (slot == kNone) continue;
    first = std::min(first, slot);
    last = std::max(last, slot);
  }
  const int filled = last - first + 1;
  row.slots = expected > 0 ? expected : filled;
  if (filled < row.slots) {
    double before = comb.start[r] + comb.pitch * first - row.from;
    double after = row.to - comb.start[r] - comb.pitch * last;
    for (int left = row.slots - filled; left > 0; --left) {
      if (std::abs(before - after) < kEndDiffers * comb.pitch) {
        row.complete_window = false;
        doubt = "at which end of a row a turn is missing cannot be told";
      }
      if (before > after) {
        --first;
        before -= comb.pitch;
      } else {
        ++last;
        after -= comb.pitch;
      }
    }
  } else if (filled > row.slots) {
    row.complete_window = false;
    doubt = fmt::format("a row shows {} turns, {} are drawn", filled, row.slots);
  }
  row.start = comb.start[r] + comb.pitch * first;
  row.slot.clear();
  for (int slot : n) {
    const bool within = slot != kNone && slot - first < row.slots;
    row.slot.push_back(within ? slot - first : kNoSlot);
  }
}

double ScatterOf(const std::vector<TurnRow>& rows, const Comb& comb,
                 const std::vector<std::vector<int>>& n) {
  std::vector<double> rest;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (std::size_t i = 0; i < rows[r].at.size(); ++i)
      rest.push_back(rows[r].at[i] - comb.start[r] - comb.pitch * n[r][i]);
  }
  return RobustSigma(std::move(rest));
}

std::string RowsDiffer(const std::vector<TurnRow>& rows, const Comb& comb,
                       const std::vector<std::vector<int>>& n) {
  std::vector<double> pitches;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    const Comb own = FittedComb({rows[r]}, {n[r]}, {comb.pitch, {comb.start[r]}}, false);
    pitches.push_back(own.pitch);
  }
  for (double p : pitches) {
    if (std::abs(p - comb.pitch) < kRowsDiffer * comb.pitch) continue;
    return fmt::format("the two rows do not share one pitch: {:.1f} and {:.1f} um", pitches.front(),
                       pitches.back());
  }
  return "";
}

}  // namespace

void SetEnds(const TracedContour& outline, PointUm axis, double line, TurnRow& row) {
  row.from = std::numeric_limits<double>::max();
  row.to = -row.from;
  const std::vector<ContourVertex>& v = outline.vertices;
  for (std::size_t i = 0; i < v.size(); ++i) {
    const ContourVertex &a = v[i], &b = v[(i + 1) % v.size()];
    const double ta = Cross(axis, a.at) - line, tb = Cross(axis, b.at) - line;
    if ((ta > 0) == (tb > 0)) continue;
    const double s = Dot(axis, a.at + (ta / (ta - tb)) * (b.at - a.at));
    const bool seen = a.state != VertexState::kCutOff && b.state != VertexState::kCutOff;
    if (s < row.from) row.from = s, row.from_seen = seen;
    if (s > row.to) row.to = s, row.to_seen = seen;
  }
}

bool AnchorAtEnds(std::vector<TurnRow>& rows, double pitch, int turns, double length) {
  constexpr double kClear = 0.4;  // of the pitch: rows lie up to a quarter off the middle
  const double room = 0.5 * (length - (turns - 1) * pitch);
  std::vector<int> shifts;
  for (const TurnRow& row : rows) {
    if (!row.from_seen && !row.to_seen) return false;
    const double free =
        row.from_seen ? row.start - row.from : row.to - row.start - (row.slots - 1) * pitch;
    const double lacking = (free - room) / pitch;
    const int whole = static_cast<int>(std::lround(lacking));
    if (std::abs(lacking - whole) > kClear || whole < 0 || whole + row.slots > turns) return false;
    shifts.push_back(row.from_seen ? whole : turns - whole - row.slots);
  }
  for (std::size_t r = 0; r < rows.size(); ++r) {
    rows[r].start -= shifts[r] * pitch;
    rows[r].slots = turns;
    for (int& slot : rows[r].slot) slot = slot == kNoSlot ? kNoSlot : slot + shifts[r];
  }
  return true;
}

TurnComb NumberTurns(std::vector<TurnRow>& rows, int expected, double width) {
  TurnComb out;
  for (const TurnRow& row : rows) {
    if (row.at.size() >= kLeastTurns) continue;
    out.why = fmt::format("a row shows {} wires: too few to tell their pitch", row.at.size());
    return out;
  }
  Comb comb = FirstComb(rows, FirstPitch(rows));
  if (!(comb.pitch > 0.8 * width)) {
    out.why = "the wires do not stand in even rows";
    return out;
  }
  std::vector<std::vector<int>> n = Rounded(rows, comb);
  out.pitch = comb.pitch;
  out.scatter = ScatterOf(rows, comb, n);
  if (out.scatter > kMostScatter * comb.pitch) {
    out.why = fmt::format(
        "the wires stand {:.1f} um off an even comb of {:.1f} um: too uneven to "
        "number them",
        out.scatter, comb.pitch);
    return out;
  }
  out.why = RowsDiffer(rows, comb, n);
  if (!out.why.empty()) return out;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    GiveSlots(comb, r, rows[r], n[r]);
    SetWindow(comb, r, expected, rows[r], n[r], out.doubt);
    int filled = 0;
    for (int slot : rows[r].slot) filled += slot != kNoSlot ? 1 : 0;
    if (filled < (1 - kMostEmpty) * rows[r].slots) {
      out.why = fmt::format("{} of {} places of a row are empty: too few wires to number them",
                            rows[r].slots - filled, rows[r].slots);
      return out;
    }
  }
  return out;
}

}  // namespace cutface
