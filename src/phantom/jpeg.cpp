// A picture through libjpeg and back: what a camera's program does to edges when it saves small
// files.
// jpeglib.h needs size_t and FILE before it.
// clang-format off
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <jpeglib.h>
// clang-format on

#include "phantom/surface.h"

namespace cutface::phantom {

cv::Mat Recompressed(const cv::Mat& stored, int quality) {
  CF_CHECK(stored.type() == CV_8UC1);
  // Memory to memory with pixels of our own making: the default handler's exit is out of reach.
  jpeg_error_mgr errors;
  jpeg_compress_struct writer;
  writer.err = jpeg_std_error(&errors);
  jpeg_create_compress(&writer);
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&writer, &bytes, &size);
  writer.image_width = static_cast<JDIMENSION>(stored.cols);
  writer.image_height = static_cast<JDIMENSION>(stored.rows);
  writer.input_components = 1;
  writer.in_color_space = JCS_GRAYSCALE;
  jpeg_set_defaults(&writer);
  writer.dct_method = JDCT_ISLOW;  // whole numbers: the same bytes on every machine
  jpeg_set_quality(&writer, quality, TRUE);
  jpeg_start_compress(&writer, TRUE);
  for (int y = 0; y < stored.rows; ++y) {
    JSAMPROW row = const_cast<JSAMPROW>(stored.ptr<std::uint8_t>(y));
    jpeg_write_scanlines(&writer, &row, 1);
  }
  jpeg_finish_compress(&writer);
  jpeg_destroy_compress(&writer);

  jpeg_decompress_struct reader;
  reader.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&reader);
  jpeg_mem_src(&reader, bytes, size);
  jpeg_read_header(&reader, TRUE);
  reader.dct_method = JDCT_ISLOW;
  jpeg_start_decompress(&reader);
  cv::Mat out(stored.rows, stored.cols, CV_8UC1);
  for (int y = 0; y < out.rows; ++y) {
    JSAMPROW row = out.ptr<std::uint8_t>(y);
    jpeg_read_scanlines(&reader, &row, 1);
  }
  jpeg_finish_decompress(&reader);
  jpeg_destroy_decompress(&reader);
  std::free(bytes);
  return out;
}

}  // namespace cutface::phantom
