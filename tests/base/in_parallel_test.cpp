// Independent pieces on several cores.
#include "cutface/in_parallel.h"

#include <gtest/gtest.h>

#include <atomic>
#include <opencv2/core/utility.hpp>
#include <stdexcept>
#include <vector>

namespace cutface {
namespace {

// With as many threads as asked for while it lives; then as before.
class InParallelWith : public testing::TestWithParam<int> {
 protected:
  void SetUp() override { cv::setNumThreads(GetParam()); }
  void TearDown() override { cv::setNumThreads(before_); }

 private:
  const int before_ = cv::getNumThreads();
};

TEST_P(InParallelWith, EveryPieceIsDoneOnce) {
  for (const std::size_t count : {0, 1, 2, 3, 7, 1000}) {
    std::vector<std::atomic<int>> done(count);
    InParallel(count, [&](std::size_t i) { ++done.at(i); });
    for (std::size_t i = 0; i < count; ++i) EXPECT_EQ(done[i], 1) << i << " of " << count;
  }
}

TEST_P(InParallelWith, APieceWritesWhatIsItsOwnAndTheCallerReadsIt) {
  std::vector<double> squares(500, -1);
  InParallel(squares.size(),
             [&](std::size_t i) { squares[i] = static_cast<double>(i) * static_cast<double>(i); });
  for (std::size_t i = 0; i < squares.size(); ++i)
    EXPECT_EQ(squares[i], static_cast<double>(i) * static_cast<double>(i));
}

TEST_P(InParallelWith, ALoopInsideALoopIsDoneToo) {
  std::vector<std::atomic<int>> done(60);
  InParallel(6, [&](std::size_t i) { InParallel(10, [&](std::size_t j) { ++done[10 * i + j]; }); });
  for (const auto& one : done) EXPECT_EQ(one, 1);
}

TEST_P(InParallelWith, WhatAPieceThrowsComesOut) {
  for (const std::size_t count : {1, 40}) {
    EXPECT_THROW(InParallel(count,
                            [&](std::size_t i) {
                              if (i == count / 2) throw std::out_of_range("piece");
                            }),
                 std::out_of_range);
    std::atomic<int> done = 0;  // and the next loop is whole again
    InParallel(count, [&](std::size_t) { ++done; });
    EXPECT_EQ(done, static_cast<int>(count));
  }
}

INSTANTIATE_TEST_SUITE_P(Threads, InParallelWith, testing::Values(1, 2, 3));

}  // namespace
}  // namespace cutface
