// Image files: read once, one channel kept, with a reduced copy (mean, least, greatest per block).
//
// Never resamples or reorients: the measuring frame is the stored pixel grid, whatever EXIF says.
// Formats: PNG, JPEG, BMP, TIFF (8 and 16 bit, 12 in 16, 1 bit; grey, RGB, palette; strips, tiles,
// BigTIFF; none, LZW, deflate, PackBits, JPEG of 8 bits).
// Keywords: read, decode, PNG, TIFF, JPEG, BMP, reduced, pyramid, resolution tag.
#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface {

enum class Channel { kGreen, kLuminance, kRed, kBlue };

struct ReadOptions {
  Channel channel = Channel::kGreen;  // of colour images; green has least noise and colour error
  std::int64_t max_pixels = 500'000'000;
  // The reduced copy has at most about this many pixels: the least whole block edge r with
  // (width / r) * (height / r) <= reduced_pixels; blocks at the right and lower border may be cut.
  int reduced_pixels = 2'000'000;
};

// A scale that the file itself claims. Screen and print defaults (72, 96, 150, 300, 600, 1200 per
// inch), tags without a unit and one pixel a unit are no scale and are not reported here.
struct EmbeddedScale {
  double pitch_x_um = 0;
  double pitch_y_um = 0;
  std::string source;  // "TIFF resolution", "PNG pHYs", "JFIF density", "BMP resolution", "OME-XML"
};

struct Micrograph {
  cv::Mat tone;  // CV_8UC1 or CV_16UC1, rows x cols as stored; treat as const
  // Significant bits: full scale is 2^bits - 1. Samples of 1, 2, 4 bits are stretched to 8; 16-bit
  // samples count as fewer when the file says so (TIFF MaxSampleValue 2^n - 1, OME-XML) and no
  // pixel contradicts, or when no pixel leaves the scale of 10, 12 or 14 bits; inverted TIFF (0 is
  // white) is turned so that 0 is black.
  int bits = 8;
  cv::Mat reduced_mean;   // CV_32FC1, block means in units of full scale 0..1
  cv::Mat reduced_least;  // CV_32FC1
  cv::Mat reduced_greatest;
  int reduction = 1;  // block edge in pixels; reduced pixel (i, j) covers [i*r, i*r + r)
  bool colour = false;
  std::string sha256;     // of the file's bytes (of the pixels when there is no file)
  std::string file_name;  // without folder
  std::optional<EmbeddedScale> embedded;
  std::string taken;  // capture time (EXIF, TIFF DateTime) as ISO 8601 local time, or ""
  int exif_orientation = 1;

  int width() const { return tone.cols; }
  int height() const { return tone.rows; }
  double full_scale() const { return static_cast<double>((1u << bits) - 1u); }
  // 0..1; REQUIRES: inside.
  float At(int x, int y) const {
    return bits <= 8 ? static_cast<float>(tone.ptr<std::uint8_t>(y)[x]) / 255.0f
                     : static_cast<float>(tone.ptr<std::uint16_t>(y)[x]) /
                           static_cast<float>(full_scale());
  }
};

// Errors: kFileMissing, kFileUnreadable, kImageEmpty, kImageTruncated, kImageFormat,
// kImageTooLarge, kImageDamaged; one line with the file name each.
Result<Micrograph> ReadMicrograph(const std::string& path, const ReadOptions& options = {});
// The same from bytes in memory (fuzzing, tests); `name` appears in messages.
Result<Micrograph> DecodeMicrograph(std::span<const std::byte> bytes, const std::string& name,
                                    const ReadOptions& options = {});
// From pixels in memory (phantoms, tests): CV_8UC1 with bits = 8 or CV_16UC1 with bits = 9 to 16
// (REQUIRED). Shares the pixels of `tone` when they are contiguous.
Micrograph MicrographFromPixels(cv::Mat tone, int bits, const std::string& name,
                                const ReadOptions& options = {});

// PNG encoding of CV_8UC1, CV_16UC1, CV_8UC3 (RGB order) or CV_8UC4 (RGBA). Errors: kUsage for
// other types and empty pictures.
Result<std::vector<std::byte>> EncodePng(const cv::Mat& image);

}  // namespace cutface
