// Mandrels left in a lumen: discs of metal, nearly as large as a lumen of the drawing.
//
// Beside metal the edge of a bore is a faint one: the drawing would be laid on the mandrel, and a
// thin liner be taken for what lies about it. So a mandrel is told first, by tone and shape alone
// (at the camera's limit, or as dark as anything; elliptic; of a size that fits into a lumen), and
// painted over with the tone that lies about it. What is then found is the bore. One that is not at
// the camera's limit (dark in transmitted light, dull metal) looks like an empty bore. Where the
// face is not read clean around such a disc, it is read once more without it; what is told of bore
// and liner then decides.
// Keywords: mandrel, core wire, saturation, inpainting.
#pragma once

#include <optional>
#include <vector>

#include "cutface/design.h"
#include "cutface/edge.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

struct Mandrel {
  PointPx centre;                // full-resolution px
  double along = 0, across = 0;  // half axes, px
  double axis_rad = 0;           // of the long one
};

std::vector<Mandrel> FindMandrels(const Micrograph& micrograph, double um_per_px,
                                  const SectionDesign& plane);

// Discs as dark as metal before a light ground: mandrels in transmitted light, or empty bores.
std::vector<Mandrel> FindOpaqueDiscs(const Micrograph& micrograph, double um_per_px,
                                     const SectionDesign& plane);

// The disc along a settled edge, if it can be a mandrel in the bore of `lumen`.
std::optional<Mandrel> MandrelAlong(const SettledContour& edge, double um_per_px,
                                    const LumenDesign& lumen);

LeftMandrel InUm(const Mandrel& mandrel, const Scale& scale);

// The picture with what lies about each mandrel in its place, its noise included.
Micrograph WithoutMandrels(const Micrograph& micrograph, const std::vector<Mandrel>& mandrels);

}  // namespace cutface
