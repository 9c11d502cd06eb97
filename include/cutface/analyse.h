// Findings: what is at risk on this face and the evidence. Reads measurements, computes no number.
// And hints: what usually causes such a finding and what to check, from a data file.
// Keywords: collapsed lumen, thin septum, crosstalk, oblique cut, wrong part, poor image, hints.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface {

std::vector<Finding> Analyse(const Section& section, const Design* design,
                             const SectionDesign* plane, std::span<const Measurement> measurements);

// Every word that Finding::kind can be.
std::span<const std::string_view> FindingKinds();

// A finding's kind and conditions on its evidence, with the causes that such a pattern usually has.
struct HintPattern {
  struct Condition {
    std::string evidence;  // key of Finding::evidence; a key that is not there meets no condition
    std::optional<double> at_least, below;
  };
  std::string finding;
  std::vector<Condition> when;  // all must hold
  std::vector<Hint> causes;     // most usual first
};
struct HintBook {
  std::string basis;  // "common practice": marks every hint
  std::vector<HintPattern> patterns;
};

// src/data/hints.json as it was when the program was built: common practice in the trade.
HintBook BuiltInHints();
// A site's own file in the same form (src/data/hints.schema.json). Errors: kFileMissing,
// kFileUnreadable, kJsonSyntax, kJsonUnknownKey, kJsonMissingKey, kJsonValue, each with its place.
Result<HintBook> ReadHints(const std::string& path);
Result<HintBook> ParseHints(std::string_view text, const std::string& name);

// Fills Finding::hints: patterns that fit, those with more conditions first, no cause twice, at
// most five causes. Suggestions to check, never a diagnosis: nothing else of a finding changes.
void AttachHints(const HintBook& book, std::span<Finding> findings);

}  // namespace cutface
