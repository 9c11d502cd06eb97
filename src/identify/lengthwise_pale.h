// A turn that is much duller than its neighbours: smeared over, badly polished or a little below
// the face. No ray finds its edge in the noise, so the other turns' edge is laid where it parts the
// picture best, near the place that the row leaves empty; only its place is its own.
// Lengths in px of the full picture.
#pragma once

#include <optional>

#include "cutface/edge.h"
#include "cutface/micrograph.h"
#include "identify/lengthwise_wires.h"

namespace cutface {

// `shape`: the others' edge about its own middle, even in angle. `brighter`: what the others differ
// by from the body, relative tone, positive. `noise`: of single pixels, relative. Nothing where no
// disc of this shape stands out evenly.
std::optional<CutWire> FindPaleWire(const Micrograph& micrograph, const LightField& light,
                                    PointPx place, double reach_px, const ContourPx& shape,
                                    double brighter, double noise);

// The usual edge of wires, about its middle; empty for none.
ContourPx UsualEdge(const std::vector<const CutWire*>& wires);

}  // namespace cutface
