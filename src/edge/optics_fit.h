// Least squares of one kind of optics to all profiles of a picture at once.
#pragma once

#include <vector>

#include "edge/optics.h"

namespace cutface {

struct OpticsFit {
  OpticsState state;
  std::size_t gamma = 0;         // which of those tried
  double score = 0;              // -2 log posterior but for a constant
  double apart = 0;              // of it: what other things than the profiles say of the gamma
  std::vector<ArcFit> contours;  // one a profile
  // Of each profile's place, from what is left open of the shared terms, kind and gamma given.
  std::vector<double> u_shared;
};

// `start` holds the kind and the first guess; `places` first guesses of x0, one a profile.
OpticsFit FitOptics(const std::vector<LinearProfile>& profiles, const std::vector<double>& trust,
                    const OpticsState& start, const std::vector<double>& places, int rounds);

}  // namespace cutface
