// Oblique or squashed? The stretch that the outline, rings, lumens and their pattern have in
// common.
//
// Model of the face, as logarithms of lengths: every feature k has size s + m + own and a stretch
// e + own, a tilted pattern is displaced by the same map; s is the size of this part against its
// drawing, e the common stretch as a deviator (m cos 2 axis, m sin 2 axis). A tilt by t lengthens
// along the axis and keeps the short axis at size: m = ln(1 / cos t) / 2. A squash keeps areas: the
// same without m in the sizes. What features have on their own is given spreads that are usual for
// extrusions (common practice); robust least squares (soft L1), so that one collapsed lumen does
// not speak for the cut. Keywords: tilt, squash, ovality, deviator, robust fit.
#pragma once

#include <span>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface {

struct CommonStretch {
  StretchKind kind = StretchKind::kNone;
  double tilt_rad = 0;    // 0 unless oblique, or either
  double u_tilt_rad = 0;  // standard uncertainty, 0 with it
  double most_rad = 0;    // one-sided 95 % upper bound of a tilt; 0 where nothing can be said
  double axis_rad = 0;    // direction of the stretch in the picture
  double stretch = 1;     // long against short
  int features = 0;
};

// kWires: the oval through a wire layer's middles, which is not held as a tube's edge is.
// kPartOutline: an outline that the frame cuts off, continued as an ellipse.
enum class FeatureKind { kOutline, kPartOutline, kRing, kLumen, kWires };
struct FeaturePair {
  FeatureKind kind = FeatureKind::kLumen;
  ContourUm measured;  // in the picture's frame
  ContourUm nominal;   // in the drawing's
};

// `features`: the outline first; fewer than two tell nothing (one round feature alone cannot tell a
// tilt from an oval part). `pitch_um` sets what the pixels leave unsure, `part_size` is the spread
// (standard deviation) of the part's size against its drawing: a squash is only told from a tilt
// where sizes are held better than the stretch.
constexpr double kUsualPartSize = 0.015;
CommonStretch FindCommonStretch(double rotation_rad, bool mirrored, double pitch_um,
                                std::span<const FeaturePair> features,
                                double part_size = kUsualPartSize);
// The spread that the drawing's limits on the outside diameter allow, 1.5 % without such limits.
double PartSizeOf(const SectionDesign& plane);

}  // namespace cutface
