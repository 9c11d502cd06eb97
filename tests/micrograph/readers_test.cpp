// Every kind of file that is read, pixel by pixel against what another writer put in.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstring>
#include <opencv2/core.hpp>
#include <sstream>

#define STB_IMAGE_STATIC
#define STB_IMAGE_IMPLEMENTATION
#define STBI_ONLY_BMP
#include <stb/stb_image.h>

#include "cutface/micrograph.h"
#include "support/matchers.h"

namespace cutface {
namespace {

struct Case {
  std::string name;
  int width = 0, height = 0, bits = 0;
  bool colour = false;
};

std::vector<Case> CasesEndingIn(const std::string& ending) {
  std::vector<Case> cases;
  std::istringstream list(ReadTextFile(PICTURES "cases.txt").value_or(""));
  Case one;
  while (list >> one.name >> one.width >> one.height >> one.bits >> one.colour) {
    if (one.name.ends_with(ending)) cases.push_back(one);
  }
  return cases;
}

void ExpectTones(const Micrograph& m, const Case& want) {
  const auto raw = ReadFile(PICTURES + want.name + ".green.raw");
  ASSERT_THAT(raw, IsOk());
  ASSERT_EQ(m.width(), want.width);
  ASSERT_EQ(m.height(), want.height);
  EXPECT_EQ(m.bits, want.bits);
  EXPECT_EQ(m.colour, want.colour);
  ASSERT_EQ(m.tone.type(), want.bits <= 8 ? CV_8UC1 : CV_16UC1);
  const std::size_t row_bytes = want.width * m.tone.elemSize();
  ASSERT_EQ(raw->size(), row_bytes * want.height);
  for (int y = 0; y < want.height; ++y) {
    ASSERT_EQ(std::memcmp(m.tone.ptr(y), raw->data() + y * row_bytes, row_bytes), 0) << "row " << y;
  }
  // What was gathered while decoding is what the finished picture gives. Half a unit in the last
  // place of 1.0f: the sums are divided by another full scale where a tag promised too few bits.
  constexpr double kFloatStep = 6e-8;
  const Micrograph again = MicrographFromPixels(m.tone, m.bits, "again");
  EXPECT_LE(cv::norm(again.reduced_mean, m.reduced_mean, cv::NORM_INF), kFloatStep);
  EXPECT_LE(cv::norm(again.reduced_least, m.reduced_least, cv::NORM_INF), kFloatStep);
  EXPECT_LE(cv::norm(again.reduced_greatest, m.reduced_greatest, cv::NORM_INF), kFloatStep);
}

void ExpectAllRead(const std::string& ending, std::size_t at_least) {
  const std::vector<Case> cases = CasesEndingIn(ending);
  ASSERT_GE(cases.size(), at_least);
  for (const Case& want : cases) {
    SCOPED_TRACE(want.name);
    const auto m = ReadMicrograph(PICTURES + want.name);
    ASSERT_THAT(m, IsOk());
    ExpectTones(*m, want);
    EXPECT_EQ(m->file_name, want.name);
  }
}

TEST(Read, PngOfEveryDepthAndColourTypePlainAndInterlaced) { ExpectAllRead(".png", 40); }

TEST(Read, JpegGreyAndColourBaselineAndProgressive) { ExpectAllRead(".jpg", 5); }
TEST(Read, BmpPlainPaletteAndTopDown) { ExpectAllRead(".bmp", 7); }
TEST(Read, TiffStripsTilesPlanesPackingsAndByteOrders) { ExpectAllRead(".tif", 98); }

// stb_image is the third opinion on bitmaps, because our reader of them is our own.
TEST(Read, BmpAgreesWithStb) {
  for (const Case& want : CasesEndingIn(".bmp")) {
    SCOPED_TRACE(want.name);
    const auto m = ReadMicrograph(PICTURES + want.name);
    ASSERT_THAT(m, IsOk());
    int width = 0, height = 0, samples = 0;
    const std::unique_ptr<stbi_uc, void (*)(void*)> pixels(
        stbi_load((PICTURES + want.name).c_str(), &width, &height, &samples, 3), stbi_image_free);
    ASSERT_TRUE(pixels != nullptr);
    ASSERT_EQ(width, want.width);
    ASSERT_EQ(height, want.height);
    for (int y = 0; y < height; ++y) {
      for (int x = 0; x < width; ++x) {
        // 5-bit colours: stb repeats bits, we round the division; they may differ by one step.
        ASSERT_NEAR(m->tone.at<std::uint8_t>(y, x), pixels.get()[3 * (y * width + x) + 1],
                    want.name == "rgb555.bmp" ? 1 : 0);
      }
    }
  }
}

TEST(Read, ChannelsAreRedGreenBlueOrLuminance) {
  const std::pair<Channel, const char*> channels[] = {{Channel::kRed, ".red.raw"},
                                                      {Channel::kBlue, ".blue.raw"},
                                                      {Channel::kGreen, ".green.raw"},
                                                      {Channel::kLuminance, ".luminance.raw"}};
  for (const char* ending : {".png", ".tif", "-planar.tif", "-planar-tiles.tif"}) {
    for (const char* stem : {"luminance8", "luminance16"}) {
      for (const auto& [channel, suffix] : channels) {
        const std::string name = std::string(stem) + ending;
        SCOPED_TRACE(name + suffix);
        const auto m = ReadMicrograph(PICTURES + name, {.channel = channel});
        ASSERT_THAT(m, IsOk());
        const auto raw = ReadFile(PICTURES + name + suffix);
        ASSERT_THAT(raw, IsOk());
        const cv::Mat want(m->tone.size(), m->tone.type(), const_cast<std::byte*>(raw->data()));
        ASSERT_EQ(raw->size(), want.total() * want.elemSize());
        // The weights are rounded to 1/65536: half a step at most beside rounding.
        EXPECT_LE(cv::norm(want, m->tone, cv::NORM_INF), channel == Channel::kLuminance ? 1 : 0);
      }
    }
  }
}

TEST(Read, JpegLuminanceIsNearTheWeightedSumOfItsColours) {
  const std::string name = PICTURES "rgb-444.jpg";
  const auto y = ReadMicrograph(name, {.channel = Channel::kLuminance});
  const auto red = ReadMicrograph(name, {.channel = Channel::kRed});
  const auto green = ReadMicrograph(name);
  const auto blue = ReadMicrograph(name, {.channel = Channel::kBlue});
  ASSERT_THAT(y, IsOk());
  cv::Mat sum;
  cv::addWeighted(red->tone, 0.299, green->tone, 0.587, 0, sum, CV_32F);
  cv::scaleAdd(cv::Mat_<float>(blue->tone), 0.114, sum, sum);
  // Colours are clipped to 0..255 where Y is not, so only the middle of the picture's pixels agree.
  cv::Mat difference = cv::abs(sum - cv::Mat_<float>(y->tone));
  EXPECT_LT(cv::mean(difference)[0], 3.0);
  EXPECT_TRUE(y->colour);
}

TEST(Read, HashIsThatOfTheFilesBytes) {
  const auto m = ReadMicrograph(PICTURES "grey8.png");
  ASSERT_THAT(m, IsOk());
  EXPECT_EQ(m->sha256, Sha256Hex(*ReadFile(PICTURES "grey8.png")));
}

}  // namespace
}  // namespace cutface
