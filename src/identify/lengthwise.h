// Lengthwise sections: a cut along the axis shows the turns of a coil or braid as two rows of cut
// wires, one in each wall.
//
// The drawing lies along x: the bore and both walls run from left to right as drawn, the rows stand
// at half the layer's diameter on both sides of the middle line. Wires are found one by one
// (lengthwise_wires.h) and numbered row by row (lengthwise_rows.h): 1 .. turns in the first row (y
// above, as drawn) from left to right, then turns + 1 .. in the second. By how much metal looks
// larger than it is, is told for the layer from the wires' drawn size across the wall, and taken
// off every edge; a wire's own size is therefore not measured. In transmitted light a hole exactly
// as dark as the wires cannot be told from one. Keywords: lengthwise, coil, turn, pitch, cover,
// halo, missing, exposed.
#pragma once

#include <opencv2/core.hpp>

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/lengthwise_wires.h"
#include "identify/regions.h"

namespace cutface {

// A picture without specks as large as the drawn wires that differ most from what is around them,
// for a first look at where the part lies: metal differs so much more than body, bore and potting
// do from one another that it drowns them. `um_per_px` of this picture.
cv::Mat1f WithoutSpecks(const cv::Mat1f& work, double um_per_px, const SectionDesign& plane);

// The metal of every wire layer of the drawing, in its order, within outline and coarse bores.
std::vector<WallMetal> FindLengthwise(const Micrograph& micrograph, const Pose& pose,
                                      const FaceTones& tones, const Scale& scale,
                                      const SectionDesign& plane, const Regions& regions);

// Takes regions that are wires out of the voids, before edges are settled: metal is no void, and
// what its edge looks like says nothing of the polymer's edges.
void DropWires(const std::vector<WallMetal>& metal, Regions& regions);

// Fills section.wire_layers and section.wires of a lengthwise section, and names voids that wires
// left. REQUIRES: outline and lumens stand in `section`; `metal` as found above.
void TraceLengthwise(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                     const Scale& scale, const SectionDesign& plane, std::vector<WallMetal> metal,
                     Section& section);

}  // namespace cutface
