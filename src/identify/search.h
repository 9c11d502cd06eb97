// Hypotheses of where the drawing lies, scanned over all turns and climbed uphill, on copies of the
// picture just large enough for the drawing's raster.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "identify/centre.h"
#include "identify/label_score.h"
#include "identify/symmetry.h"

namespace cutface {

struct Hypothesis {
  Warp warp;  // design um -> px of work
  double explained = 0;
};

// A smaller copy of the work picture, averaged by area.
struct Level {
  cv::Mat1f image;
  double shrink = 1;  // px of the copy per px of work
};
Level MakeLevel(const cv::Mat1f& work, double shrink, double blur_px);
Level Coarser(const Level& level, double shrink, double blur_px);

// The same map in px of a copy `shrink` times the size (pixel centres kept: half a pixel moves).
Warp Rescaled(const Warp& warp, double shrink);

struct SearchPlane {
  const LabelScore& score;
  PointUm about;         // the outline's centroid
  double px_per_um = 1;  // of work, as calibrated
  double radius_px = 1;  // of the nominal outline, work
  // Half the length of a drawing that is much longer (along x) than wide, um; else 0.
  double half_length_um = 0;
};

struct Climb {
  double first_step = 0.03;  // of the radius, or rad
  int rounds = 5;            // each with 0.6 of the step before
  int stride = 1;            // samples skipped
};

// Hill climb on the explained share: turn, shift, size, stretch; of a long drawing each end too.
// `explained` becomes that of all
// samples, less what an unlikely size or stretch costs.
void Refine(const Level& level, const SearchPlane& plane, const Climb& climb, Hypothesis& h);

// The best turns of a start: local maxima of the explained share over `turns`.
void ScanTurns(const Level& level, const SearchPlane& plane, const Warp& start,
               const std::vector<Turn>& turns, int stride, std::vector<Hypothesis>& out);

// Tones squeezed about the body's, light taken off: lumens that differ much no longer drown the
// outline, which may differ little.
Level Squeezed(const Level& level, const LabelScore& score, const Warp& warp);

Warp Turned(const Warp& warp, const Turn& turn, PointUm about);
Warp StartWarp(const CentreCandidate& candidate, double px_per_um);

}  // namespace cutface
