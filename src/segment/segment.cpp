#include "cutface/segment.h"

#include <fmt/format.h>

#include <cmath>

#include "segment/body.h"
#include "segment/grid.h"
#include "segment/holes.h"
#include "segment/outline.h"

namespace cutface {
namespace {

constexpr std::size_t kMostTried = 5;
constexpr double kMostNoise = 0.25;   // in the body, of the step at the outline
constexpr double kSaturated = 0.985;  // full scale: nothing can be told of such a body

}  // namespace

Result<FaceProposal> ProposeFace(const Micrograph& micrograph) {
  const cv::Mat1f work = micrograph.reduced_mean;
  if (work.cols < 24 || work.rows < 24) {
    return Fail(Code::kNoSection, "the picture is too small to show a cut face");
  }
  const auto outlines = segment::FindOutlines(work);
  if (!outlines) return tl::unexpected(outlines.error());
  // A body is of one tone. What is not (lumens with the outline between them and the wall left out,
  // cells of a tissue) was proposed by its edges alone.
  const segment::OutlineFound* outline = nullptr;
  segment::Body body;
  for (std::size_t k = 0; k < std::min<std::size_t>(kMostTried, outlines->size()); ++k) {
    body = segment::FindBody(work, (*outlines)[k]);
    if (body.noise > kMostNoise * std::abs(body.outside - 1)) continue;
    if (body.light.At(body.light.middle.x, body.light.middle.y) > kSaturated) continue;
    outline = &(*outlines)[k];
    break;
  }
  if (outline == nullptr) {
    return Fail(
        Code::kNoSection,
        "outlines are seen, but nothing in them is of one tone as a body is; show one whole "
        "cut face, not overexposed");
  }
  if (const int beside = segment::OutlinesBeside(*outline, *outlines); beside > 0) {
    return Fail(
        Code::kTwoParts,
        fmt::format("{} outlines of like size and clearness; show one cut face alone", 1 + beside));
  }

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
