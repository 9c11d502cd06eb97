// Guided tracing at full resolution: coarse contours become right to a pixel.
#pragma once

#include "identify/regions.h"

namespace cutface {

// Re-traces a coarse contour within +-reach px along the edge whose tone changes outwards with
// `sign`.
ContourPx Retraced(const Micrograph& micrograph, const ContourPx& coarse, double reach_px,
                   int sign);

// A lumen that no region showed: the strongest closed edge near its nominal contour. nullopt when
// nothing stands out from the texture.
struct GuidedTrace {
  ContourPx contour;
  double step = 0;      // signed tone change inwards (lumen - body), relative to the body
  double strength = 0;  // mean step along the path / what the same search finds in plain body
};
std::optional<GuidedTrace> TraceByDrawing(const Micrograph& micrograph, const FaceTones& tones,
                                          const ContourPx& nominal);

}  // namespace cutface
