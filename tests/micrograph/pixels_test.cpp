// Pictures from memory, the reduced copy and PNG encoding.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <random>

#include "cutface/micrograph.h"
#include "support/matchers.h"

namespace cutface {
namespace {

cv::Mat Noise(int width, int height, int type, int greatest, unsigned seed) {
  std::mt19937 random(seed);
  cv::Mat mat(height, width, type);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      const auto value = static_cast<unsigned>(random() % (greatest + 1ul));
      if (type == CV_8UC1)
        mat.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(value);
      else
        mat.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(value);
    }
  }
  return mat;
}

// The slow twin: every block from its definition in the header.
void ExpectReducedByDefinition(const Micrograph& m) {
  const int r = m.reduction;
  ASSERT_EQ(m.reduced_mean.cols, (m.width() + r - 1) / r);
  ASSERT_EQ(m.reduced_mean.rows, (m.height() + r - 1) / r);
  for (int by = 0; by < m.reduced_mean.rows; ++by) {
    for (int bx = 0; bx < m.reduced_mean.cols; ++bx) {
      double sum = 0;
      int count = 0;
      float least = 2, greatest = -1;
      for (int y = by * r; y < std::min((by + 1) * r, m.height()); ++y) {
        for (int x = bx * r; x < std::min((bx + 1) * r, m.width()); ++x, ++count) {
          const float at = m.At(x, y);
          sum += at;
          least = std::min(least, at);
          greatest = std::max(greatest, at);
        }
      }
      ASSERT_NEAR(m.reduced_mean.at<float>(by, bx), sum / count, 1e-6) << bx << ' ' << by;
      ASSERT_FLOAT_EQ(m.reduced_least.at<float>(by, bx), least) << bx << ' ' << by;
      ASSERT_FLOAT_EQ(m.reduced_greatest.at<float>(by, bx), greatest) << bx << ' ' << by;
    }
  }
}

TEST(Reduced, CopyIsBlockMeanLeastAndGreatestInEightBit) {
  for (int pixels : {1, 7, 50, 400, 1'000'000}) {
    SCOPED_TRACE(pixels);
    ExpectReducedByDefinition(
        MicrographFromPixels(Noise(61, 47, CV_8UC1, 255, 1), 8, "n", {.reduced_pixels = pixels}));
  }
}

TEST(Reduced, CopyIsBlockMeanLeastAndGreatestInSixteenAndTwelveBit) {
  for (int bits : {16, 12}) {
    for (int pixels : {1, 50, 1'000'000}) {
      SCOPED_TRACE(testing::Message() << bits << " bit, " << pixels);
      ExpectReducedByDefinition(MicrographFromPixels(Noise(45, 52, CV_16UC1, (1 << bits) - 1, 2),
                                                     bits, "n", {.reduced_pixels = pixels}));
    }
  }
}

// 255 * 300 rows does not fit 16 bits: the wide sums must take over.
TEST(Reduced, BlocksOfMoreThan257RowsDoNotOverflow) {
  const cv::Mat white(600, 300, CV_8UC1, cv::Scalar(255));
  const Micrograph m = MicrographFromPixels(white, 8, "white", {.reduced_pixels = 2});
  EXPECT_EQ(m.reduction, 300);
  EXPECT_FLOAT_EQ(m.reduced_mean.at<float>(0, 0), 1.0f);
}

TEST(Reduced, ReductionIsTheLeastThatMeetsTheWish) {
  const double wish = ReadOptions{}.reduced_pixels;
  for (auto [w, h] : {std::pair{6000, 4000}, {1224, 1226}, {1600, 1200}, {100, 1}, {4096, 4096}}) {
    const Micrograph m = MicrographFromPixels(cv::Mat(h, w, CV_8UC1, cv::Scalar(0)), 8, "n");
    const double r = m.reduction;
    EXPECT_LE(w * h / (r * r), wish);
    EXPECT_TRUE(r == 1 || w * h / ((r - 1) * (r - 1)) > wish);
  }
}

TEST(Pixels, MoreBitsThanPromisedAreBelieved) {
  cv::Mat tone(4, 4, CV_16UC1, cv::Scalar(1000));
  tone.at<std::uint16_t>(2, 2) = 5000;
  const Micrograph m = MicrographFromPixels(tone, 12, "n");
  EXPECT_EQ(m.bits, 16);
  EXPECT_FLOAT_EQ(m.reduced_greatest.at<float>(2, 2), 5000.0f / 65535.0f);
}

// 12-bit tones in 16-bit samples, as cameras write them without a word about it.
TEST(Pixels, FewerBitsThanTheFileHasRoomForAreToldFromTheTones) {
  for (const auto& [greatest, bits] : {std::pair{900, 10},
                                       {1024, 12},
                                       {4095, 12},
                                       {4096, 14},
                                       {16383, 14},
                                       {16384, 16},
                                       {65535, 16}}) {
    SCOPED_TRACE(greatest);
    cv::Mat tone(5, 4, CV_16UC1, cv::Scalar(100));
    tone.at<std::uint16_t>(2, 3) = static_cast<std::uint16_t>(greatest);
    const Micrograph m = MicrographFromPixels(tone, 16, "n");
    EXPECT_EQ(m.bits, bits);
    const double full = (1 << bits) - 1;
    EXPECT_NEAR(m.At(3, 2), greatest / full, 1e-6);
    EXPECT_NEAR(m.reduced_greatest.at<float>(2, 3), greatest / full, 1e-6);
    EXPECT_NEAR(m.reduced_mean.at<float>(0, 0), 100 / full, 1e-6);
  }
  EXPECT_EQ(MicrographFromPixels(cv::Mat(4, 4, CV_16UC1, cv::Scalar(0)), 16, "n").bits, 16);
}

TEST(EncodePng, RefusesWhatItDoesNotWrite) {
  EXPECT_THAT(EncodePng(cv::Mat()), FailsWith(Code::kUsage));
  EXPECT_THAT(EncodePng(cv::Mat(4, 4, CV_32FC1, cv::Scalar(0))), FailsWith(Code::kUsage));
}

}  // namespace
}  // namespace cutface
