#include "cutface/segment.h"

#include "segment/body.h"
#include "segment/grid.h"
#include "segment/holes.h"
#include "segment/outline.h"

namespace cutface {

Result<FaceProposal> ProposeFace(const Micrograph& micrograph) {
  const cv::Mat1f work = micrograph.reduced_mean;
  if (work.cols < 24 || work.rows < 24) {
    return Fail(Code::kNoSection, "the picture is too small to show a cut face");
  }
  auto outline = segment::FindOutline(work);
  if (!outline) return tl::unexpected(outline.error());
  const segment::Body body = segment::FindBody(work, *outline);

  FaceProposal face;
  const int r = micrograph.reduction;
  face.outline = segment::Enlarged(outline->contour, r);
  face.outline_step = body.outside - 1;
  face.cut_by_frame = outline->cut_by_frame;
  face.holes = segment::FindHoles(body, r, face.main_step);
  face.light = body.light;
  face.light.middle = {r * body.light.middle.x + 0.5 * (r - 1),
                       r * body.light.middle.y + 0.5 * (r - 1)};
  face.light.size = r * body.light.size;
  face.body_tone = body.light.At(body.light.middle.x, body.light.middle.y);
  face.noise = body.noise;
  face.confidence = outline->score;
  return face;
}

}  // namespace cutface
