// Independent pieces of work on several cores.
//
// Keywords: threads, cores, loop.
#pragma once

#include <cstddef>
#include <functional>

namespace cutface {

// Calls work(0) ... work(count - 1), each once, in any order, on as many threads as OpenCV was
// given (cv::setNumThreads; a worker of `batch` has one). Inside another such loop the calls come
// one after the other. Results must not depend on the order: a piece writes only what is its own.
// What a piece throws comes out here.
void InParallel(std::size_t count, const std::function<void(std::size_t)>& work);

}  // namespace cutface
