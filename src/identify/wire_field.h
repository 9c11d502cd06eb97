// Where in the picture metal is: the surroundings of one wire layer as a share of metal.
//
// The share is told from tone alone: what the body shows at each radius is 0, what most metal shows
// is 1, on either side of the body's tone. It is what the fits of wires work on. Places are given
// in the layer's frame: the drawing's frame in pixels of the picture's mean pitch, so that a tilted
// cut or a mirror has no part in the fits.
// Keywords: wire, braid, saturation, background, annulus.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "cutface/section.h"
#include "identify/tones.h"

namespace cutface {

// Between the picture and the layer's frame.
class LayerFrame {
 public:
  LayerFrame() = default;
  LayerFrame(const Warp& warp, double um_per_px);
  PointPx ToPicture(PointPx q) const {
    return {forward_[0] * q.x + forward_[1] * q.y + shift_.x,
            forward_[2] * q.x + forward_[3] * q.y + shift_.y};
  }
  PointPx FromPicture(PointPx p) const {
    const PointPx d = p - shift_;
    return {backward_[0] * d.x + backward_[1] * d.y, backward_[2] * d.x + backward_[3] * d.y};
  }

 private:
  double forward_[4] = {1, 0, 0, 1}, backward_[4] = {1, 0, 0, 1};
  PointPx shift_;
};

struct WireField {
  LayerFrame frame;
  cv::Rect roi;     // of the picture
  cv::Mat1f metal;  // share of metal, 0..1, roi
  cv::Mat1f tone;   // relative tone / what the surroundings show there; roi
  cv::Mat1f body;   // relative tone of the surroundings; roi
  cv::Mat1b known;  // 1 where the picture shows the layer's surroundings
  bool bright = true;
  double level = 1;     // of the metal, relative tone / body
  double contrast = 0;  // |metal - body|, relative
  double rival = 0;     // of the other side's tones / contrast: near 1 the side is in doubt
  double noise = 0.01;  // of `tone`
  bool blind = false;   // some of what surrounds the body is as bright or dark as metal
  std::string why;      // "" or why no metal can be told

  float MetalAt(PointPx p) const;  // of the picture; outside: 0
};

// `inner`, `outer`: radii that are looked at, px of the layer's frame; `metal_from`, `metal_to`:
// where metal is expected, `share`: of it there. Contours in px of the picture.
// `side`: +1 metal brighter than the body, -1 darker, 0 whichever stands out more.
struct FieldRequest {
  int side = 0;
  double inner = 0, outer = 0, metal_from = 0, metal_to = 0, share = 0.2;
  double thickest = 1e9;  // radius, px: metal that holds a larger disc is no wire but a mandrel
  const ContourPx* outline = nullptr;
  std::vector<const ContourPx*> bores;
  std::vector<const ContourPx*> liners;  // their outer edges: each has a tone of its own
  std::vector<const ContourPx*> rings;   // where one solid ends and the next begins
};
WireField MakeWireField(const Micrograph& micrograph, const FaceTones& tones,
                        const LayerFrame& frame, const FieldRequest& request);

}  // namespace cutface
