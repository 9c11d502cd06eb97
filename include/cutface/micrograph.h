// Image files: read once, one channel kept, with a reduced copy (mean, least, greatest per block).
//
// Never resamples or reorients: the measuring frame is the stored pixel grid, whatever EXIF says.
// Formats: PNG, JPEG, BMP, TIFF (8 and 16 bit, 12 in 16, 1 bit; grey, RGB, palette; strips, tiles,
// BigTIFF; none, LZW, deflate, PackBits).
// Keywords: read, decode, PNG, TIFF, JPEG, BMP, reduced, pyramid, resolution tag.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <opencv2/core/mat.hpp>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface {

enum class Channel { kGreen, kLuminance, kRed, kBlue };

struct ReadOptions {
  Channel channel = Channel::kGreen;  // of colour images; green has least noise and colour error
  std::int64_t max_pixels = 500'000'000;
  int reduced_pixels = 1'500'000;     // the reduced copy has at most about this many pixels
};

// A scale that the file itself claims. Screen and print defaults (72, 96, 150, 300, 600, 1200 per
// inch) and tags without a unit are no scale and are not reported here.
struct EmbeddedScale {
  double pitch_x_um = 0;
  double pitch_y_um = 0;
  std::string source;  // "TIFF resolution", "PNG pHYs", "JFIF density", "OME-XML" ...
};

struct Micrograph {
  cv::Mat tone;           // CV_8UC1 or CV_16UC1, rows x cols as stored; treat as const
  int bits = 8;           // significant bits: full scale is 2^bits - 1 (12-bit data in 16 says 12)
  cv::Mat reduced_mean;   // CV_32FC1, block means in units of full scale 0..1
  cv::Mat reduced_least;  // CV_32FC1
  cv::Mat reduced_greatest;
  int reduction = 1;      // block edge in pixels; reduced pixel (i, j) covers [i*r, i*r + r)
  bool colour = false;
  std::string sha256;     // of the file's bytes
  std::string file_name;  // without folder
  std::optional<EmbeddedScale> embedded;
  std::string taken;      // EXIF capture time as ISO 8601, or ""
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
// From pixels in memory (phantoms, tests): CV_8UC1 or CV_16UC1.
Micrograph MicrographFromPixels(cv::Mat tone, int bits, const std::string& name,
                                const ReadOptions& options = {});

// PNG encoding of CV_8UC1, CV_16UC1, CV_8UC3 (RGB order) or CV_8UC4 (RGBA).
Result<std::vector<std::byte>> EncodePng(const cv::Mat& image);

}  // namespace cutface
