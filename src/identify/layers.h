// What is built of several materials: rings of other tones, liners around bores.
//
// Rings are traced as seams (seam.h) and their tones evened out, so that
// everything that looks for lumens and voids sees one body. A lined bore shows two edges; which of
// them a threshold follows depends on the tones, so both are traced as one pair: lumen, liner, body
// along the normal, whatever the order of their tones.
// Keywords: ring, jacket, liner, tube, pair of edges, guided tracing.
#pragma once

#include <string>
#include <vector>

#include "identify/regions.h"
#include "identify/seam.h"

namespace cutface {

struct RingPath {
  std::size_t ring = 0;  // of the drawing
  ContourPx drawn;       // its registered nominal edge, full-resolution px
  ContourPx contour;     // full-resolution px; empty when not found
  double step = 0;       // outer tone - inner tone, relative
  Seam seam;             // the same, settled
  std::string why;       // "" or why it was not found
};

struct LinerPath {
  std::size_t lumen = 0;  // of the drawing
  ContourPx bore, outer;  // full-resolution px; empty when not found
  double bore_step = 0;   // liner - lumen, relative
  double outer_step = 0;  // liner - body, relative
  std::string why;        // "" or why it was not found
};

// All layers of a face, as the edge room shall settle them: found liners, then found rings.
struct LayerPlan {
  std::vector<RingPath> rings;
  std::vector<LinerPath> liners;
  std::size_t first_input = 0;  // of theirs among all inputs

  const LinerPath* LinerOf(const CoarseLumen& lumen) const;  // nullptr: none was found
  void AddInputs(std::vector<EdgeInput>& inputs);
};

// Traces every ring's inner edge and evens the rings' tones out in `tones` (relative, fine; skin).
// Without rings nothing changes.
std::vector<RingPath> TraceRings(const Micrograph& micrograph, const Pose& pose,
                                 const SectionDesign& plane, double um_per_px, FaceTones& tones);

// For each lined lumen among `regions`, of which the contour may follow either edge.
std::vector<LinerPath> TraceLiners(const Micrograph& micrograph, const FaceTones& tones,
                                   const SectionDesign& plane, double um_per_px,
                                   const Regions& regions);

// Voids that are only what the tracing of layers left over: along a ring's edge or in a liner.
void DropLayerVoids(const std::vector<RingPath>& rings, const std::vector<LinerPath>& liners,
                    double near_px, Regions& regions);

// True for places that the drawing gives to the core: no outer ring, no liner.
cv::Mat1b CoreMask(cv::Size size, int reduction, const Pose& pose, const SectionDesign& plane);

// The closed line at `distance` outside (inside: negative) of a nominal contour.
ContourUm Offset(const ContourUm& contour, double distance_um);

}  // namespace cutface
