#include "cutface/in_parallel.h"

#include <opencv2/core/utility.hpp>

#if defined(__has_feature)
#if __has_feature(thread_sanitizer)
#define CUTFACE_THREADS_OF_ITS_OWN
#endif
#endif

#ifdef CUTFACE_THREADS_OF_ITS_OWN
#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>
#endif

namespace cutface {

#ifdef CUTFACE_THREADS_OF_ITS_OWN

// ThreadSanitizer does not see how OpenCV's pool hands pieces from thread to thread, and takes each
// handing-over for a race. With threads that it sees it judges what the pieces do.
void InParallel(std::size_t count, const std::function<void(std::size_t)>& work) {
  thread_local bool inside = false;
  if (inside || count <= 1) {
    for (std::size_t i = 0; i < count; ++i) work(i);
    return;
  }
  std::atomic<std::size_t> next = 0;
  std::exception_ptr thrown;
  std::mutex mutex;
  const auto pieces = [&] {
    inside = true;
    try {
      for (std::size_t i = next++; i < count; i = next++) work(i);
    } catch (...) {
      const std::lock_guard<std::mutex> guard(mutex);
      thrown = std::current_exception();
    }
    inside = false;
  };
  const auto most = static_cast<std::size_t>(std::max(1, cv::getNumThreads()));
  std::vector<std::thread> helpers;
  while (helpers.size() + 1 < std::min(most, count)) helpers.emplace_back(pieces);
  pieces();
  for (std::thread& helper : helpers) helper.join();
  if (thrown) std::rethrow_exception(thrown);
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
