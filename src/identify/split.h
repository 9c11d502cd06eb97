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

// For lumens that GroupByRidge left together: a picture in the same terms in which only a line
// about as wide as the blur counts, pooled along its course, so that a septum thinner than the blur
// shows against noise and stains. `noise` is that of a pixel of `ratio`; `least_contrast` becomes
// what noise alone may reach in it. Only looks where two of the lumens come within `reach_px` of
// each other as drawn.
cv::Mat1f SeptumLines(const cv::Mat1f& ratio, const cv::Mat1b& region, const cv::Mat1s& nominal,
                      const std::vector<int>& lumens, double reach_px, double noise,
                      double& least_contrast);

// Whether the border between the owners runs a stretch without a septum though the rest of it shows
// one and noise (of a pixel of `ratio`) would not hide it there: a breach that pooling has bridged.
bool HasBreach(const cv::Mat1f& ratio, const cv::Mat1s& owner, double noise);

// Groups that a channel joins: a narrow bore through the septum that blur has made paler than a
// lumen looks like a ridge along its axis, but has body on both sides. Such groups become one in
// `groups`, `owner` and `ridge_contrast` (0). Returns which groups came from several.
std::vector<bool> JoinChannels(const cv::Mat1f& ratio, cv::Mat1s& owner,
                               std::vector<std::vector<int>>& groups,
                               std::vector<double>& ridge_contrast);

}  // namespace cutface
