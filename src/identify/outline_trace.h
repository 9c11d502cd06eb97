// The outline of a registered face, traced with what the drawing says lies on either side of it.
//
// A wall that is thin beside a lumen of the potting's tone shows two alike edges; only the order of
// tones along the normal (potting, wall, lumen) tells which one is the outline.
#pragma once

#include <vector>

#include "identify/label_score.h"

namespace cutface {

struct OutlineTrace {
  ContourPx points;  // px of the picture it was traced in
  std::vector<char> visible;
  std::vector<char> as_expected;  // visible, with the tones that the drawing expects on both sides
  double contrast = 0;            // potting minus body, full scale
  double unlike = 0;  // share of the visible places whose tones are not those expected there
};

OutlineTrace TraceOutline(const cv::Mat1f& image, const Warp& warp, const SectionDesign& plane,
                          const LabelScore& score, double reach_share);

}  // namespace cutface
