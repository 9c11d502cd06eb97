// The pipeline as one function: picture + scale + drawing -> SectionResult; and survey without one.
// Keywords: inspect, measure, survey, draft design.
#pragma once

#include <optional>
#include <string>

#include "cutface/analyse.h"
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

struct Survey {
  SectionResult result;
  Design draft;  // shapes fitted and rounded; one section named "draft"
};
// No drawing: measures what is there. Lumens are named l1, l2 ... by clock.
Result<Survey> SurveySection(const Micrograph& micrograph, const CalibrationRecord& calibration,
                             const Scale& scale, const InspectOptions& options = {});

}  // namespace cutface
