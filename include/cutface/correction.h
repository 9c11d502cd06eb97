// What a person changed in what was found: made again from its parts, read by people as a line of
// SectionResult::edits. The line holds everything, so that no reader of a result loses it.
// Keywords: correction, edit, redraw, reason, who, when, old, new, why.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/section.h"

namespace cutface {

struct Correction {
  enum class Kind {
    kSayWhat,   // region `of` ("void 3") is `to` (a word of VoidClassName)
    kRename,    // lumen `of` is `to`, which takes the name of `of`
    kRedraw,    // stretch of the edge `of` along `points`, settled on the edge that is there
    kLeaveOut,  // stretch of the edge `of` between the ends of `points`: damaged, not measured
    kAdd,       // a region or lumen that was missed: `points` around it, `to`: class or lumen
    kSplit,     // merged lumens `of` ("scope+wash") parted along `points`
    kJoin,      // region `of` belongs to region `to`: one void
    kDispose    // finding `of` ("crosstalk, scope and wash") is disposed of as `to`
  };
  Kind kind = Kind::kSayWhat;
  std::string of, to;
  ContourUm points;  // as drawn, in the result's frame
  std::string who, when, why;
  std::string before, after;  // what it was and became, in words
};
std::string_view CorrectionName(Correction::Kind kind);  // "say what", "rename", "redraw" ...
std::optional<Correction::Kind> ParseCorrectionName(std::string_view name);

// "redraw of cuff; to ; was area 0.0707 mm2; now area 0.0709 mm2; along 2650 1500, 2600 1550.5; by
// N; on 2026-03-02T09:20:00Z; because dust on the edge". Semicolons and line ends within parts
// become commas and spaces (not in the reason); coordinates have 1e-3 um.
std::string CorrectionText(const Correction& correction);
// The parts of such a line; nullopt for every other text.
std::optional<Correction> ParseCorrection(std::string_view text);
std::vector<Correction> CorrectionsOf(const SectionResult& result);

}  // namespace cutface
