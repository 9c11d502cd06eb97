// A PNG file (ISO/IEC 15948) from rows that are made one after another, so that a large picture
// need not stand in memory once more in the file's order of colours. For a picture at hand:
// EncodePng of cutface/micrograph.h.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "cutface/base.h"

namespace cutface {

// The bytes of row y, which last until the next row is asked for.
using PngRow = std::function<const std::uint8_t*(int y)>;

// Of type CV_8UC1, CV_16UC1, CV_8UC3 (RGB order) or CV_8UC4 (RGBA). Errors: kUsage for other types
// and sizes without a pixel, kInternal (no memory).
Result<std::vector<std::byte>> EncodePngRows(cv::Size size, int type, const PngRow& row);

}  // namespace cutface
