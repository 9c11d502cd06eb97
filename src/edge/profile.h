// A pooled edge profile and the models fitted to it.
#pragma once

#include <vector>

#include "cutface/edge.h"

namespace cutface {

// Tone against signed distance, pooled in bins. `tone` is as pictured (encoded), relative to the body.
struct ProfileBins {
  double from = -12;
  double step = 0.25;
  std::vector<double> tone;
  std::vector<double> weight;  // pixels in the bin; 0 = empty
  double Centre(std::size_t k) const { return from + (static_cast<double>(k) + 0.5) * step; }
};

struct ProfileFit {
  EdgeModel model = EdgeModel::kStep;
  double x0 = 0;       // px, where the polymer ends
  double blur = 1;     // px
  double width = 0;    // px, of rim, band or gap
  double v = 0, p = 1, a = 0;  // linear levels: void, polymer, amplitude of the extra term
  double gamma = 1;
  double chi2 = 0;     // misfit in units of the expected error of the bins
  double rms = 0;      // of encoded residuals, weighted
  double score = 0;    // Bayesian information criterion with the priors of the models

  double Linear(double s) const;
  double Encoded(double s) const;
  double Slope(double s) const;  // d Encoded / ds
};

struct ProfileFitOptions {
  double noise = 0.01;          // per pixel, relative tone
  double misfit_floor = 0.004;  // of the contrast: no real edge follows a model closer
  double blur_prior = 0;        // px; 0 = none
  double blur_prior_share = 0.15;
  double from = -10, to = 10;   // range of s that is fitted
  bool transmitted = false;     // void brighter than the polymer: a band is likelier
};

// Best fit of one model at a given gamma.
ProfileFit FitProfile(const ProfileBins& bins, EdgeModel model, double gamma,
                      const ProfileFitOptions& options);

// All models, best score first.
std::vector<ProfileFit> FitProfiles(const ProfileBins& bins, double gamma, const ProfileFitOptions& options);

}  // namespace cutface
