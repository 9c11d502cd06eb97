// A contour's surroundings unrolled: rows are places along the contour, columns offsets along its
// outward normal. Edges are traced in it as a cheapest closed path.
// Keywords: unwrap, normals, band, guided tracing.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/geometry.h"
#include "cutface/micrograph.h"

namespace cutface {

struct Ribbon {
  ContourPx base;     // places, equal arc length
  ContourPx normal;   // outward unit normals
  double from = 0;    // offset of column 0, px (negative = inwards)
  double step = 1;    // px per column
  cv::Mat1f tone;     // places x columns
  cv::Mat1b visible;  // 1 inside the frame

  PointPx At(int place, double offset) const { return base[place] + offset * normal[place]; }
  double Offset(double column) const { return from + step * column; }
};

Ribbon Unroll(const cv::Mat1f& image, std::span<const PointPx> contour, int places, double inward,
              double outward, double step);

// The same from the picture at full resolution (0..1).
Ribbon Unroll(const Micrograph& micrograph, std::span<const PointPx> contour, int places,
              double inward, double outward, double step);

struct RibbonTraceOptions {
  int sign = 0;         // +1: tone rises outwards; -1: falls; 0: either, the stronger as a whole
  double reach_px = 2;  // half length of the derivative
  int along = 2;        // places averaged to either side
  double prior_px = 0;  // offsets off the middle cost (offset / prior)^2; 0 = no prior
  double prior_weight = 0.3;
  int max_step = 1;
  float step_cost = 0.03f;
};

struct RibbonTrace {
  std::vector<double> offset;  // px along the normal, per place
  std::vector<char> visible;   // the traced place lies inside the frame
  int sign = 1;
  double mean_step = 0;    // mean signed tone step along the visible path
  double share_clear = 0;  // share of visible places whose step is over half the mean
  double cost = 0;         // per place
};

RibbonTrace TraceEdge(const Ribbon& ribbon, const RibbonTraceOptions& options);

// The traced places as a contour.
ContourPx TracedPoints(const Ribbon& ribbon, const RibbonTrace& trace);

}  // namespace cutface
