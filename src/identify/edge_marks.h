// What cutting and potting leave along the part's own edges and around it.
//
// Along every settled edge the tones are laid out by arc and by signed distance, and held against
// what is usual along that edge. What differs beside it is told by side, sign and length: resin
// that shrank off the wall (potting gap), material drawn over a bore (smear), a bite out of the
// polymer (chip). Around the part, dark rings and round blots are bubbles of the potting, ragged
// ones debris. Every region carries the numbers it went by; none of them is a void of the part.
// Keywords: artefact, blade drag, lip, chip-out, shrink gap, bubble, debris.
#pragma once

#include "cutface/design.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/tones.h"

namespace cutface {

// Adds what it finds to the section's voids, numbered on. Lengthwise sections are left out.
void FindEdgeMarks(const Micrograph& micrograph, const FaceTones& tones, const Scale& scale,
                   const SectionDesign& plane, Section& section);

// Where a bright potting shows gaps of the body's own tone, one around a bore that holds the same
// potting would pass for body: such bores are doubted, by as much as the gaps are wide. After
// FindEdgeMarks.
void DoubtHiddenGaps(const FaceTones& tones, const SectionDesign& plane, Section& section);

// Bubbles and debris in the potting, on the work picture.
void FindOutside(const FaceTones& tones, int reduction, const Scale& scale, Section& section);

}  // namespace cutface
