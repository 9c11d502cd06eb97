// Fits the drawing's outline to a traced one: a damped affine map that the visible places decide.
#pragma once

#include <span>

#include "cutface/design.h"
#include "identify/warp.h"

namespace cutface {

struct OutlineFitPriors {
  double scale = 0.03;       // standard deviations of what a part and a cut do to the nominal
  double stretch = 0.05;
  double rotation_rad = 0.05;
  double place_share = 0.01;  // residual of a traced place, share of the part's size
};

// `start` is improved; returns the root mean square distance in px over visible places.
double FitOutline(const ContourUm& nominal, std::span<const PointPx> traced,
                  std::span<const char> visible, const OutlineFitPriors& priors, Warp& start);

}  // namespace cutface
