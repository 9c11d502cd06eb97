#include "identify/closed_path.h"

#include <algorithm>
#include <limits>

#include "cutface/base.h"

namespace cutface {
namespace {

constexpr float kFar = std::numeric_limits<float>::max() / 4;

// Best offsets for `rows` consecutive places from `first` (cyclic). `start` < 0 leaves the start
// free; otherwise the path starts and ends at that offset.
std::vector<int> Run(const cv::Mat1f& cost, int first, int rows, int start,
                     const ClosedPathOptions& options) {
  const int columns = cost.cols;
  std::vector<float> total(columns, start < 0 ? 0.0f : kFar), next(columns);
  const auto row_at = [&](int k) { return cost.ptr<float>((first + k) % cost.rows); };
  for (int j = 0; j < columns; ++j) {
    if (start < 0 || j == start) total[j] = row_at(0)[j];
  }
  std::vector<signed char> back(static_cast<std::size_t>(rows) * columns, 0);
  for (int k = 1; k < rows; ++k) {
    const float* here = row_at(k);
    for (int j = 0; j < columns; ++j) {
      float best = kFar;
      int best_step = 0;
      for (int step = -options.max_step; step <= options.max_step; ++step) {
        const int from = j + step;
        if (from < 0 || from >= columns) continue;
        const float value = total[from] + options.step_cost * static_cast<float>(std::abs(step));
        if (value < best) {
          best = value;
          best_step = step;
        }
      }
      next[j] = std::min(best + here[j], kFar);
      back[static_cast<std::size_t>(k) * columns + j] = static_cast<signed char>(best_step);
    }
    std::swap(total, next);
  }
  int at = start;
  if (start < 0) {
    at = static_cast<int>(std::min_element(total.begin(), total.end()) - total.begin());
  } else {
    // The step that closes the ring must be allowed too.
    float best = kFar;
    for (int j = std::max(0, start - options.max_step);
         j <= std::min(columns - 1, start + options.max_step); ++j) {
      if (total[j] < best) {
        best = total[j];
        at = j;
      }
    }
  }
  std::vector<int> path(rows);
  for (int k = rows - 1; k >= 0; --k) {
    path[k] = at;
    at += back[static_cast<std::size_t>(k) * columns + at];
  }
  return path;
}

}  // namespace

std::vector<int> CheapestClosedPath(const cv::Mat1f& cost, const ClosedPathOptions& options) {
  CF_CHECK(cost.rows >= 3 && cost.cols >= 1);
  const int half = cost.rows / 2;
  const std::vector<int> open = Run(cost, 0, cost.rows + half, -1, options);
  // Half a lap in, the path no longer depends on where it was free to begin.
  const int start = open[half];
  const std::vector<int> closed = Run(cost, half, cost.rows, start, options);
  std::vector<int> path(cost.rows);
  for (int k = 0; k < cost.rows; ++k) path[(half + k) % cost.rows] = closed[k];
  return path;
}

}  // namespace cutface
