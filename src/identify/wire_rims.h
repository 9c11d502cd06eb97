// What surrounds the wires along the edges of lumens and liners, by the distance from the edge.
//
// A rim, a refracting band and the blur of the edge itself follow the edge and not the layer's
// circle: what a radius shows on the whole is not what it shows there, and a bright rim or a dark
// lumen's soft edge would pass for metal. The tone that most of an edge shows at each distance is
// what a wire must stand out from.
// Keywords: background, rim, band, distance transform.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/geometry.h"

namespace cutface {

class RimTones {
 public:
  // `known`: pixels that count; `edges`: closed contours, px of that picture. Of several edges the
  // nearest rules a pixel, of like ones the last.
  RimTones(const cv::Mat1b& known, const std::vector<ContourPx>& edges);

  // `tone`: relative tone; `body`: what the surroundings show there by themselves, which what lies
  // outside the edges is told in parts of; `quantile`: of what an edge shows at one distance, the
  // share that is taken for no metal.
  void Tell(const cv::Mat1f& tone, const cv::Mat1f& body, double quantile);

  // The tone without metal; `body` where no edge is near or too little of one is seen.
  float At(int y, int x, float body) const;

 private:
  std::size_t BinAt(float away) const;

  cv::Mat1f away_;   // signed distance to the nearest edge, negative inside it
  cv::Mat1s which_;  // the edge, -1: none near
  // Of each edge by distance: inside absolute, outside in parts of the body's; -1: not told.
  std::vector<std::vector<float>> rings_;
};

}  // namespace cutface
