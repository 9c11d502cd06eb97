// Camera gamma, blur and rim of one picture, told from the profiles of all its contours together.
#pragma once

#include <vector>

#include "edge/profile.h"

namespace cutface {

// The profile of a stretch of one contour.
struct OpticsProfile {
  ProfileBins bins;             // for every gamma that is tried
  std::vector<NoiseLaw> noise;  // likewise
  int contour = 0;
  double trust = 1;        // 0..1
  double blur_factor = 1;  // of the picture's blur, here
  double u_blur = 0.25;    // of its logarithm
  bool bore = true;        // the void side is inside
};

struct GammaChoice {
  std::vector<double> gammas;  // one when the calibration record knows it well
  std::vector<double> costs;   // -2 log likelihood of each from the camera's noise, or the record's
  bool recorded = false;       // they stand around what the calibration record says
};

struct Optics {
  OpticsState state;
  double gamma = 1;
  double u_gamma = 0.1;
  double score = 0;
  // Doubt about the place of each contour that the choice of optics leaves, px, by contour.
  std::vector<double> u_contour;
  // Where the weighted mean over all optics puts each contour, against the best one's place, px.
  std::vector<double> offset;
};

// Never fails; no profiles give a plain step. Stretches that bear a line of their own (a gap, a
// lip) under the optics that explain most are left out. `through`: how much speaks for light that
// comes through the part, 0..1; only there polymer bends it into a band beside its edge.
Optics FindOptics(const std::vector<OpticsProfile>& profiles, int contours,
                  const GammaChoice& gamma, double through);

}  // namespace cutface
