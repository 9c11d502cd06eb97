// A pooled edge profile of one arc, and its fit under given optics.
#pragma once

#include <vector>

#include "cutface/edge.h"
#include "edge/shape.h"

namespace cutface {

// Tone against signed distance, pooled in bins. `tone` is as pictured (encoded), relative to the
// body.
struct ProfileBins {
  static constexpr double kFrom = -12, kStep = 0.25;
  std::vector<double> tone;
  std::vector<double> weight;  // pixels in the bin; 0 = empty
  static double Centre(std::size_t k) { return kFrom + (static_cast<double>(k) + 0.5) * kStep; }
};

// The same in linear light for one gamma, empty bins dropped.
struct LinearProfile {
  std::vector<double> s, y, w;
  double square = 0;  // sum of w y^2
};
struct ProfileOptions {
  double noise = 0.01;          // per pixel, relative tone
  double misfit_floor = 0.006;  // of the contrast: no real edge follows a model closer
  double from = -9, to = 10;    // range of s that is fitted
};
LinearProfile Linearised(const ProfileBins& bins, double gamma, const ProfileOptions& options);

struct ArcFit {
  double x0 = 0;          // px, where the polymer ends
  double v = 0, p = 1;    // linear levels of void side and polymer
  double line = 0;        // level added just outside the polymer (gap or lip), 0 = none
  double line_width = 0;  // px
  double chi2 = 0;        // in units of the bins' expected errors
  std::size_t bins = 0;

  double Linear(const EdgeShape& shape, double s) const {
    const double t = s - x0;
    const double step = shape.Step(t);
    double value = v * (1 - step) + p * shape.Polymer(t);
    if (line != 0) value += line * (shape.Step(t + line_width) - step);
    return value;
  }
};

// Place and levels by least squares; `start` is the first guess of x0, `step` how far it may be
// off.
ArcFit FitArc(const LinearProfile& profile, const EdgeShape& shape, double start, double step = 0.5,
              int rounds = 9);
// With a line of free level and width just outside the polymer: resin drawn back or a smear lip.
ArcFit FitArcWithLine(const LinearProfile& profile, const EdgeShape& shape, double start);

}  // namespace cutface
