// Settled edges with their names become a Section in micrometres.
#pragma once

#include <string_view>

#include "cutface/edge.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/layers.h"
#include "identify/regions.h"

namespace cutface {

// The doubt of a bore that runs along the end of a tube cut lengthwise: its place along the tube is
// not known.
inline constexpr std::string_view kEndNotKnown =
    "it runs along the outline, so where the tube ends is not known";

// `settled` holds outline, then lumens, then voids, in the order of the vectors.
Section AssembleSection(const SettledFace& settled, const std::vector<CoarseLumen>& lumens,
                        const std::vector<CoarseVoid>& voids, const std::vector<int>& missing,
                        const Pose& pose, const FaceTones& tones, const Scale& scale,
                        const Micrograph& micrograph, const SectionDesign& plane);

// Rings and liners, whose inputs came last; bores whose liner could not be told get a doubt.
void AssembleLayers(const SettledFace& settled, const LayerPlan& layers, const Scale& scale,
                    const SectionDesign& plane, Section& section);

}  // namespace cutface
