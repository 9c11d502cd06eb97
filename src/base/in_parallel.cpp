#include "cutface/in_parallel.h"

#include <opencv2/core/utility.hpp>

namespace cutface {

void InParallel(std::size_t count, const std::function<void(std::size_t)>& work) {
  if (count == 1) return work(0);
  cv::parallel_for_(
      cv::Range(0, static_cast<int>(count)),
      [&](const cv::Range& range) {
        for (int i = range.start; i < range.end; ++i) work(static_cast<std::size_t>(i));
      },
      static_cast<double>(count));
}

}  // namespace cutface
