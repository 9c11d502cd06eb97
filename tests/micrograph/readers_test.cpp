// Every kind of file that is read, pixel by pixel against what another writer put in.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstring>
#include <opencv2/core.hpp>
#include <sstream>

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
  // What was gathered while decoding is what the finished picture gives.
  const Micrograph again = MicrographFromPixels(m.tone, m.bits, "again");
  EXPECT_EQ(cv::norm(again.reduced_mean, m.reduced_mean, cv::NORM_INF), 0);
  EXPECT_EQ(cv::norm(again.reduced_least, m.reduced_least, cv::NORM_INF), 0);
  EXPECT_EQ(cv::norm(again.reduced_greatest, m.reduced_greatest, cv::NORM_INF), 0);
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

TEST(Read, HashIsThatOfTheFilesBytes) {
  const auto m = ReadMicrograph(PICTURES "grey8.png");
  ASSERT_THAT(m, IsOk());
  EXPECT_EQ(m->sha256, Sha256Hex(*ReadFile(PICTURES "grey8.png")));
}

}  // namespace
}  // namespace cutface
