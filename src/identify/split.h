// Parts a region that covers several lumens along the ridge of the septum between them.
#pragma once

#include <opencv2/core.hpp>
#include <vector>

namespace cutface {

// `ratio` is 1 in a lumen and 0 in the body; `region` marks the pixels of the region; `nominal` the
// drawing's raster (1 + index). Lumens that part at no level stay together: `groups` lists what
// belongs together.
std::vector<std::vector<int>> GroupByRidge(const cv::Mat1f& ratio, const cv::Mat1b& region,
                                           const cv::Mat1s& nominal, const std::vector<int>& lumens,
                                           double least_contrast, cv::Mat1s& owner,
                                           std::vector<double>& ridge_contrast);

}  // namespace cutface
