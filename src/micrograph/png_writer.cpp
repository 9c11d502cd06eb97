#include <fmt/format.h>
#include <spng.h>

#include <cstdlib>
#include <memory>

#include "cutface/micrograph.h"
#include "cutface/png_rows.h"

namespace cutface {

Result<std::vector<std::byte>> EncodePng(const cv::Mat& image) {
  return EncodePngRows(image.size(), image.type(), [&](int y) { return image.ptr(y); });
}

Result<std::vector<std::byte>> EncodePngRows(cv::Size size, int type, const PngRow& row) {
  std::uint8_t colour = 0;
  switch (type) {
    case CV_8UC1:
    case CV_16UC1:
      colour = SPNG_COLOR_TYPE_GRAYSCALE;
      break;
    case CV_8UC3:
      colour = SPNG_COLOR_TYPE_TRUECOLOR;
      break;
    case CV_8UC4:
      colour = SPNG_COLOR_TYPE_TRUECOLOR_ALPHA;
      break;
    default:
      return Fail(Code::kUsage, "PNG: only 8 and 16 bit grey, 8 bit RGB and RGBA are written");
  }
  if (size.empty()) return Fail(Code::kUsage, "PNG: a picture without pixels cannot be written");
  const std::unique_ptr<spng_ctx, void (*)(spng_ctx*)> png(spng_ctx_new(SPNG_CTX_ENCODER),
                                                           spng_ctx_free);
  if (!png) return Fail(Code::kInternal, "PNG: no memory for the encoder");
  spng_ihdr header{};
  header.width = static_cast<std::uint32_t>(size.width);
  header.height = static_cast<std::uint32_t>(size.height);
  header.bit_depth = CV_MAT_DEPTH(type) == CV_16U ? 16 : 8;
  header.color_type = colour;
  int error = spng_set_option(png.get(), SPNG_ENCODE_TO_BUFFER, 1);
  // Measured on annotated pictures: a sixth of the default level's time for a tenth more bytes.
  if (error == 0) error = spng_set_option(png.get(), SPNG_IMG_COMPRESSION_LEVEL, 2);
  if (error == 0) error = spng_set_option(png.get(), SPNG_FILTER_CHOICE, SPNG_FILTER_CHOICE_NONE);
  if (error == 0) error = spng_set_ihdr(png.get(), &header);
  // Row by row, because the rows of a view into a larger picture do not follow each other.
  if (error == 0) {
    error = spng_encode_image(png.get(), nullptr, 0, SPNG_FMT_PNG,
                              SPNG_ENCODE_PROGRESSIVE | SPNG_ENCODE_FINALIZE);
  }
  const std::size_t row_bytes = static_cast<std::size_t>(size.width) * CV_ELEM_SIZE(type);
  for (int y = 0; y < size.height && error == 0; ++y) {
    error = spng_encode_row(png.get(), row(y), row_bytes);
  }
  if (error == SPNG_EOI) error = 0;
  std::size_t bytes = 0;
  const std::unique_ptr<void, void (*)(void*)> buffer(
      error == 0 ? spng_get_png_buffer(png.get(), &bytes, &error) : nullptr, std::free);
  if (error != 0 || !buffer) {
    return Fail(Code::kInternal, fmt::format("PNG: the encoder failed: {}", spng_strerror(error)));
  }
  const auto* first = static_cast<const std::byte*>(buffer.get());
  return std::vector<std::byte>(first, first + bytes);
}

}  // namespace cutface
