// Pooled edge profiles in linear light, and their fit under given optics.
#pragma once

#include <cmath>
#include <vector>

#include "cutface/edge.h"
#include "edge/shape.h"

namespace cutface {

// Variance of one pixel's linear tone against that tone, relative to the body (level 1): light has
// read and shot noise, and `scale` covers what comes on top (texture). A sensor ends at black, so
// that the mean of dark noisy pixels is too high; Seen says by how much.
struct NoiseLaw {
  double read = 1e-4, shot = 0, scale = 1;
  // Texture is the same over several pixels: a mean of n of them varies like one of n / clump.
  double void_clump = 1, polymer_clump = 1;
  double Sensor(double level) const { return std::max(1e-9, read + shot * std::max(0.0, level)); }
  double Variance(double level) const { return scale * Sensor(level); }
  // Mean of max(0, level + noise): the rectified normal distribution.
  double Seen(double level) const;
  double Unseen(double mean) const;  // the level that is seen as `mean`
};

// Linear tone against signed distance, pooled in bins, for one or more camera gammas.
struct ProfileBins {
  static constexpr double kFrom = -12, kStep = 0.25;
  static constexpr std::size_t kCount = 96;
  std::vector<double> weight = std::vector<double>(kCount, 0);  // pixels in the bin; 0 = empty
  std::vector<std::vector<double>> linear;                      // [gamma][bin], mean
  static double Centre(std::size_t k) { return kFrom + (static_cast<double>(k) + 0.5) * kStep; }
};

// One gamma's profile, empty bins dropped, far bins taken in pairs, weights from the noise.
struct LinearProfile {
  std::vector<double> s, y, w;
  double square = 0;       // sum of w y^2
  double blur_factor = 1;  // of the picture's blur, here
};
struct ProfileOptions {
  NoiseLaw noise;
  double misfit_floor = 0.004;  // of the contrast: no real edge follows a model closer
  double from = -9, to = 10;    // range of s that is fitted
};
LinearProfile Weighted(const ProfileBins& bins, std::size_t gamma, const ProfileOptions& options);

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
