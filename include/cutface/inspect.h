// The pipeline as one function: picture + scale + drawing -> SectionResult; and survey without one.
// Keywords: inspect, measure, survey, draft design.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "cutface/analyse.h"
#include "cutface/correction.h"
#include "cutface/design.h"
#include "cutface/measure.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

struct InspectOptions {
  MeasureOptions measure;
  SampleIdentity sample;
  std::string inspector;
  std::vector<std::string> overrules;  // recorded in the result
  std::vector<std::string> warnings;   // carried into the result
  bool correct_oblique = false;        // where an oblique cut is shown; said in the result's edits
  std::optional<HintBook> hints;       // a site's own; the built-in ones where none is given
  Progress progress;                   // may be empty
};

// Errors: kNoSection, kTwoParts, kOutOfFocus, kDesignMismatch, kCancelled.
Result<SectionResult> Inspect(const Micrograph& micrograph, const CalibrationRecord& calibration,
                              const Scale& scale, const Design& design, const SectionDesign& plane,
                              const InspectOptions& options = {});

// The result `found` (of Inspect, untouched) with these corrections made in their order: everything
// is measured, analysed and judged again, and `edits` of the result say what was done
// (CorrectionsOf). No correction gives `found` again. Options as they were for `found`.
//
// A redrawn, added or split edge is settled on the picture like any other and its vertices count as
// edited; where there is no edge to settle on, the stretch is bridged and not measured.
// Errors: kUsage: no `why` or no `who`, an edge choice under a locked method (IsEdgeChoice), a line
// too far from what it is to change; kNotFound: no such feature, region or finding;
// kInvalidContour; kCancelled.
Result<SectionResult> Remeasure(const SectionResult& found, std::span<const Correction> corrections,
                                const Micrograph& micrograph, const CalibrationRecord& calibration,
                                const Scale& scale, const Design& design,
                                const SectionDesign& plane, const InspectOptions& options = {});
// Where an edge runs: redraw, leave out, split, join. A drawing with a locked method refuses them.
// Adding what was missed and saying what a region is are always allowed.
bool IsEdgeChoice(Correction::Kind kind);

struct Survey {
  SectionResult result;
  Design draft;  // shapes fitted and rounded; one section named "draft"
};
// No drawing: measures what is there. Lumens are named l1, l2 ... by clock.
Result<Survey> SurveySection(const Micrograph& micrograph, const CalibrationRecord& calibration,
                             const Scale& scale, const InspectOptions& options = {});

}  // namespace cutface
