#include "cutface/in_parallel.h"

#include <opencv2/core/utility.hpp>

#if defined(__has_feature)
#if __has_feature(thread_sanitizer)
#define CUTFACE_THREADS_OF_ITS_OWN
#endif
#endif

#ifdef CUTFACE_THREADS_OF_ITS_OWN
#include <algorithm>
#include <exception>
#include <thread>
#include <vector>
#endif

namespace cutface {

#ifdef CUTFACE_THREADS_OF_ITS_OWN

// ThreadSanitizer does not see how OpenCV's pool hands pieces from thread to thread, and takes each
// handing-over for a race. With threads that it sees it judges what the pieces do. Dealt out in
// turn: nothing orders the pieces of two threads, so that a race between any of them is told,
// whichever runs first.
void InParallel(std::size_t count, const std::function<void(std::size_t)>& work) {
  thread_local bool inside = false;
  const auto most = static_cast<std::size_t>(std::max(1, cv::getNumThreads()));
  const std::size_t threads = inside ? 1 : std::min(most, count);
  if (threads <= 1) {
    for (std::size_t i = 0; i < count; ++i) work(i);
    return;
  }
  std::vector<std::exception_ptr> thrown(threads);
  const auto pieces = [&](std::size_t thread) {
    inside = true;
    try {
      for (std::size_t i = thread; i < count; i += threads) work(i);
    } catch (...) {
      thrown[thread] = std::current_exception();
    }
    inside = false;
  };
  std::vector<std::thread> helpers;
  while (helpers.size() + 1 < threads) helpers.emplace_back(pieces, helpers.size() + 1);
  pieces(0);
  for (std::thread& helper : helpers) helper.join();
  for (const std::exception_ptr& one : thrown) {
    if (one) std::rethrow_exception(one);
  }
}

#else

void InParallel(std::size_t count, const std::function<void(std::size_t)>& work) {
  if (count == 1) return work(0);
  cv::parallel_for_(
      cv::Range(0, static_cast<int>(count)),
      [&](const cv::Range& range) {
        for (int i = range.start; i < range.end; ++i) work(static_cast<std::size_t>(i));
      },
      static_cast<double>(count));
}

#endif

}  // namespace cutface
