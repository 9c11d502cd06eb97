// Raw pixels around a contour, each once, with place along it and signed distance from it.
#pragma once

#include <vector>

#include "cutface/edge.h"

namespace cutface {

// A contour while it is being settled: equal spacing, outward normals, smoothed curvature.
struct Track {
  ContourPx at;
  ContourPx normal;
  std::vector<double> curvature;  // 1 / px, positive where convex
  double spacing = 1;
  double side = 1;  // +1: polymer outside the contour
};

Track MakeTrack(const ContourPx& contour, bool polymer_outside, double spacing);

struct BandPixel {
  float s = 0;       // px, positive on the polymer's side
  float tone = 0;    // relative to the light field, as stored; not a number: speaks of a neighbour
  float less = 0;    // linear tone that a neighbour's edge takes from this pixel
  float linear = 0;  // of the pixel without the neighbour, under the gamma at hand
  int x = 0, y = 0;
};

struct Band {
  std::vector<BandPixel> pixels;    // ordered by place
  std::vector<std::size_t> first;   // first[i] .. first[i + 1] belong to place i; size places + 1
  std::vector<char> outside_frame;  // per place
};

Band CollectBand(const Micrograph& micrograph, const LightField& light, const Track& track,
                 double void_reach, double polymer_reach);

}  // namespace cutface
