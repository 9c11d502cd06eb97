// JPEG files by libjpeg: photos for pages and screens, never for measuring.
#include <fmt/format.h>

#include <csetjmp>
#include <cstdio>
#include <cstdlib>
// jpeglib.h needs size_t and FILE before it.
#include <jpeglib.h>

#include "picture/canvas.h"

namespace cutface {
namespace {

struct Manager {
  jpeg_error_mgr base;
  std::jmp_buf back;
  char text[JMSG_LENGTH_MAX];
};

[[noreturn]] void Leave(j_common_ptr info) {
  auto* manager = reinterpret_cast<Manager*>(info->err);
  info->err->format_message(info, manager->text);
  std::longjmp(manager->back, 1);
}

// Nothing in here has a destructor: libjpeg leaves by longjmp.
bool Compress(const unsigned char* pixels, std::size_t stride, int width, int height, int channels,
              int quality, Manager& manager, unsigned char** file, unsigned long* size) {
  jpeg_compress_struct info;
  info.err = jpeg_std_error(&manager.base);
  manager.base.error_exit = Leave;
  jpeg_create_compress(&info);
  if (setjmp(manager.back)) {
    jpeg_destroy_compress(&info);
    return false;
  }
  jpeg_mem_dest(&info, file, size);
  info.image_width = static_cast<JDIMENSION>(width);
  info.image_height = static_cast<JDIMENSION>(height);
  info.input_components = channels;
  info.in_color_space = channels == 1 ? JCS_GRAYSCALE : JCS_RGB;
  jpeg_set_defaults(&info);
  jpeg_set_quality(&info, quality, TRUE);
  jpeg_start_compress(&info, TRUE);
  while (info.next_scanline < info.image_height) {
    JSAMPROW row = const_cast<unsigned char*>(pixels) + info.next_scanline * stride;
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  return true;
}

}  // namespace

Result<std::vector<std::byte>> EncodeJpeg(const cv::Mat& image, int quality) {
  CF_CHECK((image.type() == CV_8UC1 || image.type() == CV_8UC3) && quality >= 1 && quality <= 100);
  Manager manager;
  unsigned char* file = nullptr;
  unsigned long size = 0;
  const bool done = Compress(image.data, image.step, image.cols, image.rows, image.channels(),
                             quality, manager, &file, &size);
  std::vector<std::byte> bytes;
  if (done) {
    bytes.assign(reinterpret_cast<std::byte*>(file), reinterpret_cast<std::byte*>(file) + size);
  }
  std::free(file);
  if (!done)
    return Fail(Code::kInternal, fmt::format("JPEG: {}; nothing was written", manager.text));
  return bytes;
}

}  // namespace cutface
