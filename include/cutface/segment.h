// Proposals without a drawing: where the part is, which holes it has, what its body looks like.
//
// Nothing is asked about the light: the part may be darker or brighter than what it lies in, its
// holes darker, brighter, or filled with the same potting. Method: many grey levels, both
// polarities, propose closed outlines; each is scored by its edge (share of places with a clear
// step, contrast against noise), its compactness and how little of it lies on the frame; of nested
// credible ones the outermost is the part. Inside it a quadratic light field is fitted to the
// material that sits just within the outline everywhere; holes are compact regions that differ from
// it. Contours are right to about a pixel of the reduced picture; SettleEdges (cutface/edge.h)
// finishes them. Ignored: what lies at the frame's edge (holders, data bars), and specks and
// bubbles outside the part.
// Keywords: segment, survey, outline, hole, polarity, threshold, light field.
#pragma once

#include <vector>

#include "cutface/edge.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

struct ProposedHole {
  ContourPx contour;       // pixels of the full picture, positive area, simple
  double step = 0;         // signed, hole - body, in units of the body's tone
  double clear_share = 0;  // share of places along it with an edge of their own, 0..1
  double area_px2 = 0;     // of `contour`
  bool main_tone = true;   // differs from the body in the direction that most hole area does
  bool cut_by_frame = false;
};

struct FaceProposal {
  ContourPx outline;        // as above; where the frame cuts the part it runs outside the picture
  double outline_step = 0;  // signed, outside - body, in units of the body's tone
  bool cut_by_frame = false;
  std::vector<ProposedHole> holes;  // largest first
  LightField light;                 // of the body, pixels of the full picture
  double body_tone = 0.5;           // full scale, at the middle of the part
  double noise = 0.01;              // standard deviation in the smoothed body, relative
  double main_step = 0;             // typical step of the holes of the main tone; 0: no holes
  double confidence = 0;            // 0..1: of the outline; below 0.33 nothing is proposed
};

// Errors: kNoSection (nothing credible), kTwoParts (several of like size).
Result<FaceProposal> ProposeFace(const Micrograph& micrograph);

// A settled contour as part of a Section: micrometres, states, and a doubt when a quarter of it had
// no edge of its own or its profile fits no model.
TracedContour TracedFrom(const SettledContour& settled, const Scale& scale);

}  // namespace cutface
