// The cheapest closed path around a band of samples: one column per place along the contour, one
// offset per place, neighbouring offsets at most `max_step` apart, last place next to the first.
// Dynamic programming; the closing constraint is met by fixing the start where a first, open pass
// over one and a half laps settles.
// Keywords: dynamic programming, minimal path, snake, ribbon.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

namespace cutface {

struct ClosedPathOptions {
  int max_step = 1;
  float step_cost = 0.02f;  // per unit of |step|, in units of `cost`
};

// `cost` is CV_32F, rows = places along the contour, columns = offsets. Returns an offset index per
// place. REQUIRES: at least 3 rows and 1 column, finite costs.
std::vector<int> CheapestClosedPath(const cv::Mat1f& cost, const ClosedPathOptions& options);

}  // namespace cutface
