// Files that cannot be read: each with its own code, none with a crash.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <chrono>
#include <cstring>
#include <filesystem>
#include <opencv2/core.hpp>

#include "cutface/micrograph.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Data = std::vector<std::byte>;

Data Picture(const std::string& name) { return ReadFile(PICTURES + name).value_or(Data{}); }

// An exactly sized copy, so that a sanitizer sees each byte read too far.
Result<Micrograph> Decode(std::span<const std::byte> bytes, const ReadOptions& options = {}) {
  const Data copy(bytes.begin(), bytes.end());
  return DecodeMicrograph(copy, "test file", options);
}

Data FromText(std::string_view text) {
  const auto bytes = std::as_bytes(std::span(text.data(), text.size()));
  return {bytes.begin(), bytes.end()};
}

void PutBig(Data& bytes, std::size_t at, std::uint32_t value) {
  for (int i = 0; i < 4; ++i) bytes[at + i] = static_cast<std::byte>(value >> (24 - 8 * i));
}

TEST(Faults, MissingFileFolderAndEmptyFileAreTold) {
  EXPECT_THAT(ReadMicrograph(PICTURES "no-such.png"), FailsWith(Code::kFileMissing));
  EXPECT_THAT(ReadMicrograph(PICTURES), FailsWith(Code::kFileMissing));
  EXPECT_THAT(Decode({}), FailsWith(Code::kImageEmpty));
}

// Opening a pipe that nobody writes to would wait for ever.
TEST(Faults, APipeIsToldAtOnce) {
  const std::string path = testing::TempDir() + "pipe.png";
  std::filesystem::remove(path);
  ASSERT_EQ(::mkfifo(path.c_str(), 0600), 0);
  EXPECT_THAT(ReadMicrograph(path), FailsWith(Code::kFileUnreadable));
  EXPECT_THAT(ReadMicrograph("/dev/zero"), FailsWith(Code::kFileUnreadable));
  std::filesystem::remove(path);
}

TEST(Faults, TextIsNoPictureWhateverItsName) {
  const auto failed = DecodeMicrograph(FromText("serial,lot,block\n1,2,3\n"), "face.png");
  ASSERT_THAT(failed, FailsWith(Code::kImageFormat));
  EXPECT_THAT(failed.error().message, testing::StartsWith("face.png: is no picture"));
  EXPECT_THAT(failed.error().message, testing::Not(testing::HasSubstr("\n")));
}

// A few bytes of a header claim 3.6 thousand million pixels: refused before memory is asked for.
TEST(Faults, HugePicturesInAFewBytesAreRefusedAtOnce) {
  const auto start = std::chrono::steady_clock::now();
  Data png = Picture("grey8.png");
  PutBig(png, 16, 60000);
  PutBig(png, 20, 60000);
  // CRC-32 of this IHDR (PNG specification, annex D), computed bit by bit.
  std::uint32_t crc = 0xffffffff;
  for (std::size_t i = 12; i < 29; ++i) {
    crc ^= static_cast<std::uint8_t>(png[i]);
    for (int bit = 0; bit < 8; ++bit) crc = crc & 1 ? 0xedb88320u ^ (crc >> 1) : crc >> 1;
  }
  PutBig(png, 29, ~crc);
  EXPECT_THAT(Decode(png), FailsWith(Code::kImageTooLarge));

  Data jpeg = Picture("grey.jpg");
  for (std::size_t i = 2; i + 9 < jpeg.size(); ++i) {
    if (jpeg[i] == std::byte{0xff} && jpeg[i + 1] == std::byte{0xc0}) {
      for (std::size_t at : {i + 5, i + 7})
        jpeg[at] = std::byte{60000 >> 8}, jpeg[at + 1] = std::byte{60000 & 255};
      break;
    }
  }
  EXPECT_THAT(Decode(jpeg), FailsWith(Code::kImageTooLarge));

  Data bmp = Picture("grey8.bmp");
  for (std::size_t at : {18, 22})
    bmp[at] = std::byte{60000 & 255}, bmp[at + 1] = std::byte{60000 >> 8};
  EXPECT_THAT(Decode(bmp), FailsWith(Code::kImageTooLarge));

  EXPECT_THAT(ReadMicrograph(PICTURES "bomb.tif.tag"), FailsWith(Code::kImageTooLarge));
  const std::chrono::duration<double> seconds = std::chrono::steady_clock::now() - start;
  EXPECT_LT(seconds.count(), 1.0);
}

TEST(Faults, PixelLimitIsTheCallers) {
  for (const char* name : {"filters.png", "grey.jpg", "grey8.bmp", "grey8-tiles.tif"}) {
    EXPECT_THAT(Decode(Picture(name), {.max_pixels = 1000}), FailsWith(Code::kImageTooLarge))
        << name;
  }
}

// A true 20 000 x 20 000 px PNG header on a few hundred bytes cannot hold its pixels.
TEST(Faults, MorePixelsThanDeflateCouldPackIsTruncated) {
  Data png = Picture("tiny9x1.png");
  PutBig(png, 16, 20000);
  PutBig(png, 20, 20000);
  std::uint32_t crc = 0xffffffff;
  for (std::size_t i = 12; i < 29; ++i) {
    crc ^= static_cast<std::uint8_t>(png[i]);
    for (int bit = 0; bit < 8; ++bit) crc = crc & 1 ? 0xedb88320u ^ (crc >> 1) : crc >> 1;
  }
  PutBig(png, 29, ~crc);
  EXPECT_THAT(Decode(png), FailsWith(Code::kImageTruncated));
}

// Cut anywhere: an error, and never a picture; of the codes only those that fit a cut.
void ExpectCutIsTold(const std::string& name, bool pixels_last) {
  const Data whole = Picture(name);
  ASSERT_GT(whole.size(), 100u) << name;
  ASSERT_THAT(Decode(whole), IsOk());
  std::size_t truncated = 0, tried = 0;
  for (std::size_t size = 1; size < whole.size(); size += 1 + size / 60) {
    SCOPED_TRACE(testing::Message() << name << " cut to " << size);
    const auto result = Decode(std::span(whole).first(size));
    ASSERT_FALSE(result.has_value());
    ++tried;
    if (result.error().code == Code::kImageTruncated)
      ++truncated;
    else
      EXPECT_THAT(result, FailsWith(Code::kImageDamaged));
  }
  EXPECT_GT(tried, 50u);
  // Where pixels or directory stand last, each cut can be told from damage.
  if (pixels_last)
    EXPECT_EQ(truncated, tried);
  else
    EXPECT_GT(truncated, tried * 9 / 10);
}

TEST(Faults, CutPngIsTruncated) {
  for (const char* name : {"filters.png", "rgb16-adam7.png", "palette4.png", "exif.png.tag"}) {
    ExpectCutIsTold(name, true);
  }
}
TEST(Faults, CutJpegIsTruncated) {
  for (const char* name : {"grey.jpg", "rgb-420.jpg", "rgb-progressive.jpg", "exif.jpg.tag"}) {
    ExpectCutIsTold(name, true);
  }
}
TEST(Faults, CutBmpIsTruncated) {
  for (const char* name : {"grey8.bmp", "rgb555.bmp", "palette.bmp"}) ExpectCutIsTold(name, true);
}
TEST(Faults, CutTiffIsTruncated) {
  for (const char* name :
       {"grey-tiff_lzw.tif", "grey8-strips.tif", "rgb16-tiles-big.tif",
        "rgb8-strips-zlib-motorola.tif", "twelve-packed.tif", "ycbcr-jpeg.tif"}) {
    ExpectCutIsTold(name, false);
  }
}

TEST(Faults, ChangedBytesInsidePixelDataAreDamage) {
  Data png = Picture("filters.png");
  for (std::size_t i = png.size() / 2; i < png.size() / 2 + 40; ++i) png[i] ^= std::byte{0x5a};
  EXPECT_THAT(Decode(png), FailsWith(Code::kImageDamaged));
  Data jpeg = Picture("grey.jpg");
  for (std::size_t i = jpeg.size() / 2; i < jpeg.size() / 2 + 40; ++i) jpeg[i] = std::byte{0xff};
  EXPECT_THAT(Decode(jpeg), FailsWith(Code::kImageDamaged));
  Data tiff = Picture("grey8-strips-zlib.tif");
  const std::size_t middle = tiff.size() / 2;
  for (std::size_t i = middle; i < middle + 200; ++i) tiff[i] ^= std::byte{0x5a};
  EXPECT_THAT(Decode(tiff), FailsWith(Code::kImageDamaged));
  for (const char* name : {"grey-jpeg.tif", "rgb-jpeg.tif", "ycbcr-jpeg.tif"}) {
    Data packed = Picture(name);
    for (std::size_t i = packed.size() / 2; i < packed.size() / 2 + 40; ++i)
      packed[i] = std::byte{0xff};
    EXPECT_THAT(Decode(packed), FailsWith(Code::kImageDamaged)) << name;
  }
  Data bmp = Picture("grey8.bmp");
  bmp[28] = std::byte{7};  // bits a pixel
  EXPECT_THAT(Decode(bmp), FailsWith(Code::kImageDamaged));
}

TEST(Faults, KindsThatAreNotReadAreNamed) {
  for (const char* name :
       {"float.tif.tag", "signed.tif.tag", "cmyk.jpg.tag", "cmyk.tif.tag", "run-lengths.bmp.tag"}) {
    const auto result = ReadMicrograph(PICTURES + std::string(name));
    EXPECT_THAT(result, FailsWith(Code::kImageFormat)) << name;
  }
  EXPECT_THAT(Decode(FromText("GIF89a..........................")), FailsWith(Code::kImageFormat));
}

// 1 % of the bytes changed, fixed seeds: any outcome but a crash or an error without words.
TEST(Faults, RandomDamageNeverCrashes) {
  std::uint32_t state = 1;
  const auto next = [&] { return state = state * 1664525u + 1013904223u, state >> 8; };
  int failed = 0;
  for (const char* name : {"rgb8.png", "palette2-adam7.png", "rgb-progressive.jpg", "exif.jpg.tag",
                           "palette.bmp", "grey-packbits.tif", "rgb8-tiles-zlib-big.tif",
                           "planar16-tiles.tif", "twelve-said-by-ome.tif"}) {
    const Data whole = Picture(name);
    for (int round = 0; round < 100; ++round) {
      SCOPED_TRACE(testing::Message() << name << " round " << round);
      Data bytes = whole;
      for (std::size_t i = 0; i < 1 + bytes.size() / 100; ++i) {
        // Half of the changes near the start, where the headers are.
        const std::size_t range =
            i % 2 == 0 ? std::min<std::size_t>(bytes.size(), 200) : bytes.size();
        bytes[next() % range] = static_cast<std::byte>(next());
      }
      const auto result = Decode(bytes, {.max_pixels = 4'000'000});
      if (!result) {
        ++failed;
        EXPECT_FALSE(result.error().message.empty());
        EXPECT_EQ(result.error().message.find('\n'), std::string::npos);
      }
    }
  }
  EXPECT_GT(failed, 400);
}

}  // namespace
}  // namespace cutface
