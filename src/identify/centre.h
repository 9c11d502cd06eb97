// Candidates for the place of a nominal outline in a picture, by edge directions alone.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "cutface/geometry.h"

namespace cutface {

struct CentreCandidate {
  PointPx centre;        // of the design origin, px of `work`
  double angle_rad = 0;  // of the outline template
  bool mirrored = false;
  double scale = 1;  // of the template against nominal
  double score = 0;  // mean double-angle agreement along the template, -1..1
};

struct CentreSearch {
  // One angle, or an even number all around in equal steps from 0: half turns come at no cost.
  std::vector<double> angles_rad{0.0};
  std::vector<double> scales{0.98, 1.02, 1.07};
  bool with_mirror = false;
  int most = 4;
};

// `outline` is the nominal outline about the design origin in px of `work`.
std::vector<CentreCandidate> FindCentres(const cv::Mat1f& work, const ContourPx& outline,
                                         const CentreSearch& search);

}  // namespace cutface
